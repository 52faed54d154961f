"""Where results go: the terminal, a JSON file written in one step, or standard output."""

from __future__ import annotations

import json
import sys
from typing import Any

from rich.console import Console

from scenes.readings.write import replace_text

__all__ = ["FORMAT", "console", "write_json"]

FORMAT = 1
"""Version of every JSON document; it changes when a field changes its meaning."""


def console() -> Console:
    """Console on standard output; wide enough for the tables where output goes to a file."""
    plain = Console(file=sys.stdout, soft_wrap=False, highlight=False)
    return plain if plain.is_terminal else Console(file=sys.stdout, width=140, highlight=False)


def write_json(document: dict[str, Any], target: str) -> None:
    """Write ``document`` with its format number to the file ``target``, or to standard output for ``-``.

    Raises
    ------
    ReadingsError
        Where the file cannot be written; what stood there before is kept.
    """
    text = json.dumps({"format": FORMAT, **document}, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    if target == "-":
        sys.stdout.write(text)
        return
    replace_text(target, text)
