// Light or dark: as chosen last time, else as the browser prefers; a choice is kept for the next visit.
(() => {
  "use strict";
  const KEY = "datumray-theme";
  const kept = (() => { try { return localStorage.getItem(KEY); } catch { return null; } })();
  const dark = kept === null ? matchMedia("(prefers-color-scheme: dark)").matches : kept === "dark";
  document.documentElement.dataset.theme = dark ? "dark" : "light";
  const start = () => {
    const state = window.trame && window.trame.state;
    if (!state) { setTimeout(start, 10); return; }
    if (state.get("dark") !== dark) state.set("dark", dark);
    state.watch(["dark"], (now) => {
      document.documentElement.dataset.theme = now ? "dark" : "light";
      if (now === dark && kept === null) return;
      try { localStorage.setItem(KEY, now ? "dark" : "light"); } catch { /* not kept, then */ }
    });
  };
  start();
})();
