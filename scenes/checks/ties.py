"""Check of ties: whether common stations hold the set-ups of one task together, and which ones would."""

from __future__ import annotations

from itertools import combinations

from ..model.finding import Finding, Severity
from ..model.survey import LevelBy, Method, Setup, Task
from .looseness import is_loose
from .plan import Plan
from .saying import counted
from .tying import tying_words

__all__ = ["check_ties"]


def check_ties(plan: Plan, task: Task) -> Finding | None:
    """Set-ups that read a task and move against each other without any reading telling it; None where all are tied.

    Frames and stations may move so that no reading changes. Where all set-ups are tied, such a motion moves the
    stations of the task like a rigid body.
    """
    layout, wanted = plan.layout, set(task.stations)
    setups = [setup for setup in layout.setups.values() if wanted & set(setup.reads)]
    if len(setups) < 2 or not is_loose(plan, setups, wanted):
        return None
    groups = _tied_groups(plan, setups)
    if len(groups) < 2:
        return None
    one, two = _nearest_pair(groups[0], groups[1])
    common = [name for name in one.reads if name in two.reads]
    needed, why = _needed(one, two)
    said = f"only {counted(common)}" if common else "no station"
    return Finding(
        Severity.ERROR, "few-ties", "task", task.name,
        f"{one.name} and {two.name} have {said} in common, so that one may lie anyhow against "
        f"the other; {why} takes {needed}",
        tying_words(plan, one, two, needed), line=task.line,
    )  # fmt: skip


def _needed(one: Setup, two: Setup) -> tuple[str, str]:
    """How many common stations tie two set-ups, in words, and which of them asks for that many."""
    vials = [setup.method is Method.BASE_PLANE and setup.level_by is LevelBy.VIAL for setup in (one, two)]
    if all(vials):
        return "one station", f"each {one.method}, levelled by a vial,"
    setup = min((one, two), key=_count)
    words = "three stations that are not on one line" if _count(setup) == 3 else "two stations that stand apart"
    return words, f"the {setup.method}"


def _count(setup: Setup) -> int:
    """Stations that hold the light of a set-up: three a plane, two a line."""
    return 3 if setup.method in (Method.BASE_PLANE, Method.PRISM_PLANE) else 2


def _nearest_pair(first: list[Setup], second: list[Setup]) -> tuple[Setup, Setup]:
    """The two set-ups of different groups that share most stations."""
    pairs = [(one, two) for one in first for two in second]
    return max(pairs, key=lambda pair: len(set(pair[0].reads) & set(pair[1].reads)))


def _tied_groups(plan: Plan, setups: list[Setup]) -> list[list[Setup]]:
    """Set-ups that hold together, directly or through others."""
    groups = [[setup] for setup in setups]
    joined = True
    while joined:
        joined = False
        for one, two in combinations(groups, 2):
            both = one + two
            stations = {name for setup in both for name in setup.reads}
            if not is_loose(plan, both, stations):
                groups = [group for group in groups if group is not one and group is not two] + [both]
                joined = True
                break
    return groups
