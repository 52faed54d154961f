"""What a reading pass has to say about one file: problems that stop it and remarks that do not."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from ..errors import Problem

__all__ = ["CellProblem", "Journal", "cell_name"]


def cell_name(row: int, column: int) -> str:
    """Name of a cell of a spreadsheet, counted from 1: row 14 and column 3 are ``C14``."""
    letters = ""
    while column > 0:
        column, letter = divmod(column - 1, 26)
        letters = chr(ord("A") + letter) + letters
    return f"{letters}{row}"


@dataclass(frozen=True, slots=True)
class CellProblem(Problem):
    """One thing that is wrong in a spreadsheet; ``line`` is the row of its sheet."""

    sheet: str = ""

    def __str__(self) -> str:
        place = f"{self.file}, sheet {self.sheet}"
        if self.line:
            place += f", cell {cell_name(self.line, self.column)}" if self.column else f", row {self.line}"
        text = f"{place}: {self.message}"
        return f"{text}\n    {self.advice}" if self.advice else text


@dataclass(slots=True)
class Journal:
    """Problems and remarks of one file, or of one ``sheet`` of it; several journals may share the same two lists."""

    file: str
    problems: list[Problem] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    sheet: str = ""

    def problem(self, line: int, column: int, message: str, advice: str = "") -> None:
        """Note something that makes the file unusable as it is; 0 for the file or the row as a whole."""
        if self.sheet:
            self.problems.append(CellProblem(self.file, line, column, message, advice, self.sheet))
        else:
            self.problems.append(Problem(self.file, line, column, message, advice))

    def remark(self, line: int, message: str) -> None:
        """Note something that a person should know, although the file can be used."""
        place = f"{self.file}, sheet {self.sheet}" if self.sheet else self.file
        self.remarks.append(f"{place}, {self.at(line)}: {message}" if line else f"{place}: {message}")

    def at(self, line: int) -> str:
        """A line of the file, or a row of the sheet, in words."""
        return f"{'row' if self.sheet else 'line'} {line}"

    def place(self, line: int, column: int) -> str:
        """A place in the file in words: a line with its column, or a cell."""
        if not column:
            return self.at(line)
        return cell_name(line, column) if self.sheet else f"line {line}, column {column}"

    def sorted_problems(self, files: Iterable[str] = ()) -> list[Problem]:
        """Problems file by file in the order of ``files``, each from top to bottom."""
        order = {name: k for k, name in enumerate(dict.fromkeys(files))}
        return sorted(self.problems, key=lambda found: (order.get(found.file, -1), found.line, found.column))

    def on(self, file: str, sheet: str = "") -> Journal:
        """Journal of another file that writes into the same lists."""
        return Journal(file, self.problems, self.remarks, sheet)
