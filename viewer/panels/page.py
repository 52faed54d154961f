"""The frame of the page: head with tabs, picture, side panel, foot."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from trame.ui.vuetify3 import VAppLayout
from trame.widgets import client
from trame.widgets import vuetify3 as v3

from viewer import text
from viewer.colours import DARK, LIGHT, Theme
from viewer.panels.markup import el

__all__ = ["page"]

FILES = Path(__file__).parent.parent / "page"
MODULE = {
    "serve": {"__datumray": str(FILES)},
    "scripts": ["__datumray/theme.js"],
    "styles": ["__datumray/viewer.css", "__datumray/visits.css", "__datumray/live.css", "__datumray/moves.css"],
}


def _variables(theme: Theme) -> str:
    return "".join(f"--{name}: {colour};" for name, colour in theme.page.items())


def _vuetify_theme(theme: Theme) -> dict[str, Any]:
    page = theme.page
    return {
        "dark": theme is DARK,
        "colors": {
            "background": page["ground"], "surface": page["panel"], "primary": page["accent"],
            "on-surface": page["ink"], "on-background": page["ink"],
        },
    }  # fmt: skip


THEMES = {"theme": {"defaultTheme": "light", "themes": {"light": _vuetify_theme(LIGHT), "dark": _vuetify_theme(DARK)}}}
THEME_RULES = (
    f":root[data-theme='light'] {{ {_variables(LIGHT)} color-scheme: light; }} "
    f":root[data-theme='dark'] {{ {_variables(DARK)} color-scheme: dark; }}"
)


def page(server: Any, picture: Callable[[], None], panels: dict[str, Callable[[], None]]) -> None:
    """Build the page; ``picture`` and ``panels`` (by tab) put their widgets where they are called."""
    server.enable_module(MODULE)
    with VAppLayout(server, vuetify_config=THEMES, theme=("dark ? 'dark' : 'light'",)):
        client.Style(THEME_RULES)
        with el("div", {"class": "dr-page"}):
            _head()
            with el("main", {"class": "dr-body"}):
                with el("section", {"class": "dr-picture", "aria-label": "Picture of the machine"}):
                    picture()
                with el("section", {"class": "dr-panel", "id": "dr-tab-panel", "role": "tabpanel",
                                    ":aria-labelledby": "'dr-tab-' + tab"}):  # fmt: skip
                    for name, panel in panels.items():
                        with el("div", {"v-if": f"tab === '{name}'", "class": "dr-tab", "data-test": f"panel-{name}"}):
                            panel()
            with el("footer", {"class": "dr-foot"}):
                el("span", {"aria-hidden": "true"}, "⚠")
                el("span", {}, text.CAUTION_LIGHT)
        with v3.VSnackbar(v_model=("notice_shown", False), timeout=12000, location="bottom"):
            el("span", {"data-test": "notice", "role": "alert"}, "{{ notice }}")
            with v3.Template(v_slot_actions=True):
                v3.VBtn("Close", click="notice_shown = false", variant="text")


def _head() -> None:
    with el("header", {"class": "dr-head"}):
        el("h1", {"class": "dr-title", ":title": "title"}, "{{ title }}")
        with el("nav", {"class": "dr-tabs", "role": "tablist", "aria-label": "Views"}):
            el("button", {
                "v-for": "each in tabs", ":key": "each.value", "type": "button", "role": "tab",
                "@click": "tab = each.value", ":aria-selected": "tab === each.value", ":id": "'dr-tab-' + each.value",
                ":tabindex": "tab === each.value ? 0 : -1", "aria-controls": "dr-tab-panel",
                "@keydown.right": "$event.currentTarget.nextElementSibling?.click(); "
                                  "$event.currentTarget.nextElementSibling?.focus()",
                "@keydown.left": "$event.currentTarget.previousElementSibling?.click(); "
                                 "$event.currentTarget.previousElementSibling?.focus()",
                ":class": "{'dr-on': tab === each.value}", ":data-test": "'tab-' + each.value",
            }, "{{ each.title }}")  # fmt: skip
        with el("div", {"class": "dr-tools"}):
            el("span", {"class": "dr-busy", "v-show": "busy", "role": "status", "aria-label": "Working"})
            with el("label", {"class": "dr-pick"}):
                el("span", {}, "Picture")
                with el("select", {"v-model": "drawn_by", "data-test": "drawn-by"}):
                    el("option", {"value": "server"}, "server")
                    el("option", {"value": "browser"}, "browser")
            el("button", {
                "type": "button", "class": "dr-icon", "@click": "dark = !dark", "data-test": "theme",
                ":aria-label": "dark ? 'Light theme' : 'Dark theme'", ":title": "dark ? 'Light theme' : 'Dark theme'",
            }, "{{ dark ? '☀' : '☾' }}")  # fmt: skip
