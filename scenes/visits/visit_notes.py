"""Visit notes: a small YAML file beside the readings of a visit, with what the file of readings cannot say."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from ..errors import LayoutError, Problem
from ..hints import did_you_mean
from ..layout.strict_yaml import Block, Items, parse
from ..layout.text_files import read_text

__all__ = ["KEYS", "VisitNotes", "date_of_text", "read_notes"]

KEYS = {
    "date": "day of the visit, 2026-03-14",
    "crew": "who read, in words",
    "note": "anything worth knowing, in words",
    "changed": "what was changed or certified anew since the visit before: mount, target, a name ...",
    "adjusted": "yes where the machine was moved on purpose since the visit before, else no",
    "layout": "layout of this visit where it is another one; the path counts from the folder of the machine",
}
"""Keys of the notes of a visit, and what they mean."""


@dataclass(frozen=True, slots=True)
class VisitNotes:
    """What the notes of a visit say; None and empty where they do not."""

    date: date | None = None
    crew: str = ""
    note: str = ""
    changed: tuple[str, ...] = ()
    adjusted: bool | None = None
    layout: str = ""


def date_of_text(text: str) -> date:
    """Date written as 2026-03-14; raises ``ValueError`` for anything else."""
    if len(text) != 10:
        raise ValueError(f"{text!r} is no date")
    return date.fromisoformat(text)


def read_notes(path: Path) -> VisitNotes:
    """Notes of a visit.

    Raises
    ------
    LayoutError
        With every problem of the file.
    """
    file = str(path)
    root, problems = parse(read_text(path, file), file)
    if root is None:
        return VisitNotes()
    if not isinstance(root, Block):
        raise LayoutError(
            [*problems, Problem(file, 1, 1, "notes of a visit are a mapping", f"keys: {', '.join(KEYS)}")]
        )
    made: dict[str, object] = {}
    for key, value in root.items():
        line, column = root.values_at.get(key, root.place) if key in KEYS else root.keys_at.get(key, root.place)
        try:
            made[key] = _value(key, value)
        except ValueError as error:
            problems.append(Problem(file, line, column, str(error), KEYS.get(key) or did_you_mean(key, KEYS)))
    if problems:
        raise LayoutError(problems)
    return VisitNotes(**made)  # type: ignore[arg-type]


def _value(key: str, value: object) -> object:
    """Value of a key; raises ``ValueError``."""
    if key not in KEYS:
        raise ValueError(f"{key!r} is no key of the notes of a visit")
    if key == "changed":
        words = value if isinstance(value, Items) else [value]
        if not all(isinstance(word, str) and word for word in words):
            raise ValueError("changed names words or devices: changed: [mount, t1]")
        return tuple(str(word) for word in words)
    if not isinstance(value, str):
        raise ValueError(f"{key} needs one value")
    if key == "adjusted":
        if value not in ("yes", "no"):
            raise ValueError(f"adjusted is yes or no, not {value!r}")
        return value == "yes"
    return date_of_text(value) if key == "date" else str(value)
