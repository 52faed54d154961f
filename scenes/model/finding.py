"""Findings: what a check has to say."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

__all__ = ["Finding", "Severity"]


class Severity(StrEnum):
    """How bad a finding is: an error makes a plan or a result unusable, a warning makes it worse, a note informs."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that a check found, and what to do about it.

    Attributes
    ----------
    severity : Severity
    code : str
        Stable; listed with its meaning in ``scenes.checks.codes``.
    kind, name : str
        What it is about: ``station``, ``set-up``, ``task``, ``surface`` or ``device``, and its name in the layout.
    message, advice : str
        What was found, and what to do.
    setup : str
        Set-up from which it shows, or empty.
    line : int
        Line of the layout file, 0 if none.
    """

    severity: Severity
    code: str
    kind: str
    name: str
    message: str
    advice: str
    setup: str = ""
    line: int = 0
