"""Which rows of an index are told: by machine, task and date."""

from __future__ import annotations

from dataclasses import replace

from scenes.visits.rows import MachineRows, ResultRow

__all__ = ["latest_results", "selected"]


def selected(machines: dict[str, MachineRows], machine: str, task: str, since: str) -> dict[str, MachineRows]:
    """Rows of the machines and tasks whose names hold a text, and of visits on or after a date.

    Trends and what could not be worked out of a whole machine stay where any visit of it does.
    """
    return {
        name: _of_machine(rows, task.casefold(), since)
        for name, rows in machines.items()
        if machine.casefold() in name.casefold()
    }


def _of_machine(rows: MachineRows, task: str, since: str) -> MachineRows:
    visits = tuple(row for row in rows.visits if not since or (row.date or "") >= since)
    names = {row.visit for row in visits}
    return replace(
        rows,
        visits=visits,
        results=tuple(row for row in rows.results if row.visit in names and task in row.task.casefold()),
        changes=tuple(row for row in rows.changes if row.after in names and task in row.task.casefold()),
        trends=tuple(row for row in rows.trends if row.last >= since and task in row.task.casefold()),
        problems=tuple(
            row for row in rows.problems if (not row.visit or row.visit in names) and task in row.task.casefold()
        ),
    )


def latest_results(rows: MachineRows) -> list[ResultRow]:
    """Results of every task at the last visit that tells it."""
    order = {row.visit: row.position for row in rows.visits}
    last: dict[str, int] = {}
    for row in rows.results:
        last[row.task] = max(last.get(row.task, -1), order[row.visit])
    return [row for row in rows.results if order[row.visit] == last[row.task]]
