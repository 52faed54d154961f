"""Every error that datumray raises on purpose.

::

    DatumrayError
    ├── InputError            something a person wrote is wrong; carries problems with their places
    │   ├── LayoutError       a layout file
    │   └── ReadingsError     a readings or points file
    ├── GeometryError         degenerate geometry: the asked number does not exist
    └── PictureError          this machine cannot draw (graphics libraries missing)

A command turns ``InputError`` and ``GeometryError`` into a message on standard error and exit code 2.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = [
    "DatumrayError",
    "GeometryError",
    "InputError",
    "LayoutError",
    "PictureError",
    "Problem",
    "ReadingsError",
]


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong in a file: where it stands, what it is and what to do.

    ``line`` and ``column`` count from 1; 0 means that the place is the file as a whole.
    """

    file: str
    line: int
    column: int
    message: str
    advice: str = ""

    def __str__(self) -> str:
        place = self.file
        if self.line:
            place += f", line {self.line}"
            if self.column:
                place += f", column {self.column}"
        text = f"{place}: {self.message}"
        return f"{text}\n    {self.advice}" if self.advice else text


class DatumrayError(Exception):
    """Root of all errors that datumray raises on purpose."""


class InputError(DatumrayError):
    """Something a person wrote is wrong; ``problems`` holds every one found in the same pass."""

    def __init__(self, problems: list[Problem] | tuple[Problem, ...] | str) -> None:
        if isinstance(problems, str):
            problems = (Problem("input", 0, 0, problems),)
        self.problems: tuple[Problem, ...] = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


class LayoutError(InputError):
    """A layout file is wrong."""


class ReadingsError(InputError):
    """A readings or points file is wrong."""


class GeometryError(DatumrayError):
    """The geometry is degenerate, so the asked number does not exist; the message explains why.

    ``code`` is that of the finding which a check makes of it, if it has one of its own.
    """

    def __init__(self, message: str, code: str = "") -> None:
        self.code = code
        super().__init__(message)


class PictureError(DatumrayError):
    """This machine cannot draw; the message names what to install."""
