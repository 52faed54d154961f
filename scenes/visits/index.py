"""Index over many machines: it follows from their folders, and can be lost and built again at any time."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from ..errors import InputError, Problem
from .index_file import Indexed, check_place, read_index, write_index
from .index_rows import fingerprints_of, rows_of
from .machine import Machine, find_machines, read_machine
from .rows import MachineRows, ProblemRow, VisitRow

__all__ = ["build_index"]

Progress = Callable[[int, int], object]
"""Is told how many visits of how many are done."""


@dataclass(slots=True)
class _Counter:
    """Counts visits that are done."""

    total: int
    progress: Progress
    done: int = 0

    def __call__(self, count: int) -> None:
        self.done += count
        self.progress(self.done, self.total)


def build_index(
    roots: Sequence[Path], file: Path, version: str, rebuild: bool = False,
    progress: Progress = lambda _done, _total: None,
) -> Indexed:  # fmt: skip
    """The index of all machines below some folders, written to ``file``; only what changed is worked out anew.

    Parameters
    ----------
    version : str
        Of the program: another one may say something else of the same files.
    rebuild : bool
        Take nothing from the index that is there.

    Raises
    ------
    InputError
        Where there is no machine, or ``file`` is something else than an index.
    """
    found = _machines(roots)
    check_place(file)
    known, remarks = _known(file, rebuild)
    wanted = {name: _asked(name, folder, version) for name, folder in found.items()}
    count = _Counter(sum(len(each[1]) for each in wanted.values() if isinstance(each, tuple)), progress)
    made: dict[str, MachineRows] = {}
    computed = 0
    for name, each in wanted.items():
        if isinstance(each, ProblemRow):
            made[name] = MachineRows((), (), (), (), (each,))
            continue
        machine, visits = each
        before = known.get(name)
        if before is not None and before.visits == visits:
            made[name] = before
            count(len(visits))
            continue
        made[name] = rows_of(machine, visits, before, count)
        kept = set() if before is None else {(row.visit, row.inputs_hash) for row in before.visits}
        computed += sum((row.visit, row.inputs_hash) not in kept for row in visits)
    if made != known or not file.exists() or rebuild or remarks:
        write_index(file, made)
    return Indexed(made, computed, remarks)


def _known(file: Path, rebuild: bool) -> tuple[dict[str, MachineRows], tuple[str, ...]]:
    """Rows of the index that is there, and a remark where it is of no use."""
    if rebuild or not file.exists():
        return {}, ()
    try:
        return read_index(file).machines, ()
    except InputError as error:
        return {}, (f"{error.problems[0].message}: it is built anew from the files",)


def _asked(name: str, folder: Path, version: str) -> tuple[Machine, tuple[VisitRow, ...]] | ProblemRow:
    """A machine and its visits with their fingerprints, or what is wrong with its files."""
    try:
        machine = read_machine(folder)
        return machine, fingerprints_of(machine, name, version)
    except InputError as error:
        return ProblemRow(name, "", "", str(error).replace(f"{folder}{os.sep}", ""))


def _machines(roots: Sequence[Path]) -> dict[str, Path]:
    """Folders of machines by their names: their paths from the first root."""
    found: dict[str, Path] = {}
    for root in roots:
        for folder in find_machines(root):
            name = Path(os.path.relpath(folder.resolve(), roots[0].resolve())).as_posix()
            found[folder.resolve().name if name == "." else name] = folder
    if not found:
        places = ", ".join(str(root) for root in roots)
        advice = "the folder of a machine holds layout.yaml and a folder visits with one file of readings per visit"
        raise InputError([Problem(places, 0, 0, "there is no machine in it", advice)])
    return dict(sorted(found.items()))
