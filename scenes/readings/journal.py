"""What a reading pass has to say about one file: problems that stop it and remarks that do not."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from ..errors import Problem

__all__ = ["Journal"]


@dataclass(slots=True)
class Journal:
    """Problems and remarks of one file; several journals may share the same two lists."""

    file: str
    problems: list[Problem] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)

    def problem(self, line: int, column: int, message: str, advice: str = "") -> None:
        """Note something that makes the file unusable as it is; 0 for the file or the row as a whole."""
        self.problems.append(Problem(self.file, line, column, message, advice))

    def remark(self, line: int, message: str) -> None:
        """Note something that a person should know, although the file can be used."""
        place = f"{self.file}, line {line}" if line else self.file
        self.remarks.append(f"{place}: {message}")

    def sorted_problems(self, files: Iterable[str] = ()) -> list[Problem]:
        """Problems file by file in the order of ``files``, each from top to bottom."""
        order = {name: k for k, name in enumerate(dict.fromkeys(files))}
        return sorted(self.problems, key=lambda found: (order.get(found.file, -1), found.line, found.column))

    def on(self, file: str) -> Journal:
        """Journal of another file that writes into the same lists."""
        return Journal(file, self.problems, self.remarks)
