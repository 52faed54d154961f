"""Near names: what a person may have meant."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence

__all__ = ["did_you_mean", "listed", "near_names"]


def near_names(name: str, known: Iterable[str], most: int = 3) -> list[str]:
    """Names of ``known`` that look like ``name``, the nearest first."""
    by_lower = {entry.lower(): entry for entry in known}
    return [by_lower[hit] for hit in difflib.get_close_matches(name.lower(), by_lower, n=most, cutoff=0.6)]


def listed(names: Sequence[str], most: int = 8) -> str:
    """The first names as a list in words, and how many more there are."""
    more = len(names) - most
    return ", ".join(names[:most]) + (f" and {more} more" if more > 0 else "")


def did_you_mean(name: str, known: Iterable[str], most: int = 8) -> str:
    """Advice for an unknown ``name``: the near names if there are any, else the known ones."""
    names = list(known)
    near = near_names(name, names)
    if near:
        return f"did you mean {' or '.join(near)}?"
    if not names:
        return "nothing of this kind is named in the layout"
    listed = ", ".join(names[:most]) + (", ..." if len(names) > most else "")
    return f"known here: {listed}"
