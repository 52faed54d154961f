// Stands around the view: shows the pass when a view is asked for, and tells when the connection has closed.
(() => {
  "use strict";
  const CLOSED = "The connection to the program has closed.";
  const NEW_LINK = "The program was started anew. Open the new link that it printed in the terminal.";
  const NO_ANSWER = "The program does not answer. Start it again and open the link that it prints in the terminal.";
  const USE_LINK = "This page needs a key. Open the link that the program printed in the terminal.";
  const module = document.currentScript.dataset.module;
  const pass = localStorage.getItem("datumray-pass");
  let leaving = false;

  function notice(text, withButton) {
    const box = document.getElementById("shell-notice");
    if (!box || leaving) return;
    box.querySelector("p").textContent = text;
    box.querySelector("button").hidden = !withButton;
    box.hidden = false;
  }

  // Asks whether a reload would succeed, so that nobody ends on an error page of the browser.
  async function reload() {
    let answer = null;
    try {
      answer = await fetch("/pass?pass=" + encodeURIComponent(pass), { method: "POST", cache: "no-store" });
    } catch {
      notice(NO_ANSWER, true);
      return;
    }
    if (answer.ok) location.reload();
    else if (answer.status === 403) notice(NEW_LINK, false);
    else notice(NO_ANSWER, true);
  }

  // Chromium and Firefox keep a page that is left; its connection is gone when it is shown again.
  window.addEventListener("pagehide", () => { leaving = true; });
  window.addEventListener("pageshow", (event) => { if (event.persisted) location.reload(); });

  window.WebSocket = class extends WebSocket {
    constructor(...given) {
      super(...given);
      this.addEventListener("close", (event) => notice(event.reason || CLOSED, true));
    }
  };

  window.addEventListener("DOMContentLoaded", () => {
    document.querySelector("#shell-notice button").addEventListener("click", reload);
    if (!pass) {
      notice(USE_LINK, false);
      return;
    }
    document.documentElement.dataset.sessionManagerUrl = "/session?pass=" + encodeURIComponent(pass);
    const start = document.createElement("script");
    start.type = "module";
    start.src = module;
    document.head.append(start);
  });
})();
