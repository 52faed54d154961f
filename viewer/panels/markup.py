"""Elements of the page: their attributes are constants; text from a layout goes in by ``{{ }}`` of the state."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from trame_client.widgets.core import HTML_CTX, AbstractElement

__all__ = ["el", "say", "switch", "verdict_mark"]

Attributes = dict[str, str | bool]


class Element(AbstractElement):  # type: ignore[misc]
    """Element that is written out once, with the whole page, and not each time one around it is finished."""

    def __exit__(self, *_: object) -> None:
        """Leave the element; what follows stands beside it."""
        HTML_CTX.exit(self)


def el(tag: str, attributes: Attributes | None = None, text: str | None = None) -> Element:
    """An element with attributes as HTML and Vue write them; use it with ``with`` to put others into it."""
    raw = []
    for name, value in (attributes or {}).items():
        if value is True:
            raw.append(name)
        elif value is not False:
            if '"' in str(value):
                raise ValueError(f"the attribute {name} of a {tag} holds a quotation mark")
            raw.append(f'{name}="{value}"')
    return Element(tag, text, raw_attrs=raw)


def say(server: Any, call: Callable[..., Any], arguments: str = "[]") -> str:
    """Expression that calls ``call`` of the program with ``arguments``, a list as JavaScript writes it."""
    return f"trigger('{server.trigger_name(call)}', {arguments})"


def verdict_mark(head: str) -> None:
    """Shape and word of a verdict or forecast, with its sentence; ``head`` is the expression of its data."""
    with el("div", {"class": "dr-verdict", ":class": f"'dr-is-' + {head}.kind", "data-test": "verdict"}):
        with el("div", {"class": "dr-verdict-line"}):
            el("span", {"class": "dr-shape", "aria-hidden": "true"}, f"{{{{ {head}.shape }}}}")
            el("strong", {"class": "dr-word"}, f"{{{{ {head}.word }}}}")
        el("p", {}, f"{{{{ {head}.sentence }}}}")
        el("p", {"v-if": f"{head}.rule", "data-test": "rule"}, f"{{{{ {head}.rule }}}}")
        el("p", {"class": "dr-note", "v-if": f"{head}.about"}, f"{{{{ {head}.about }}}}")


def switch(label: str, model: str, test: str) -> None:
    """A box to tick, large enough for a finger."""
    with el("label", {"class": "dr-switch"}):
        el("input", {"type": "checkbox", "v-model": model, "data-test": test})
        el("span", {}, label)
