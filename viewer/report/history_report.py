"""The printed history of many machines: latest verdicts, what got worse, trends."""

from __future__ import annotations

from rich.console import Console
from rich.markup import escape
from rich.text import Text

from scenes.reductions.verdict import Word
from scenes.visits.rows import MachineRows, ResultRow, TrendRow
from viewer.report.history_selection import latest_results
from viewer.report.tables import SHAPES, is_plain, table_of

__all__ = ["print_history"]

MOST_STATIONS = 5
"""Stations of one machine whose proven trends are told, the fastest first."""

MOST_COMPONENTS = 3
"""Components of one task that are told: the worst."""

WORST = {Word.DOES_NOT_CONFORM: 0, Word.NOT_PROVEN: 1, Word.CONFORMS: 2}


def print_history(machines: dict[str, MachineRows], computed: int, remarks: tuple[str, ...], out: Console) -> None:
    """Print the tables."""
    for remark in remarks:
        out.print(f"  note: {escape(remark)}")
    visits = sum(len(rows.visits) for rows in machines.values())
    out.print(f"{len(machines)} machine{'s' * (len(machines) != 1)}, {visits} visits, {computed} worked out anew")
    _print_latest(machines, out)
    _print_worse(machines, out)
    _print_trends(machines, out)
    for name, rows in machines.items():
        for row in rows.problems:
            place = ", ".join(part for part in (name, row.visit, row.task) if part)
            out.print(f"  no result: {place}: {row.message}", markup=False)


def _number(value: float | None, factor: float, sign: bool = False) -> str:
    if value is None:
        return "-"
    return f"{value * factor:+.3g}" if sign else f"{value * factor:.3g}"


def _limit(row: ResultRow) -> str:
    if row.upper_limit is None:
        return "-"
    upper = _number(row.upper_limit, row.factor)
    if row.lower_limit is None:
        return upper
    return f"+-{upper}" if row.lower_limit == -row.upper_limit else f"{_number(row.lower_limit, row.factor)}..{upper}"


def _print_latest(machines: dict[str, MachineRows], out: Console) -> None:
    out.print()
    table = table_of(
        "machine", "task", "visit", "component", "value", "U", "limit", "unit", "verdict", title="Latest verdicts"
    )
    for name, rows in machines.items():
        by_task: dict[str, list[ResultRow]] = {}
        for row in latest_results(rows):
            by_task.setdefault(row.task, []).append(row)
        for told in by_task.values():
            told.sort(key=lambda row: (WORST[Word(row.verdict)] if row.verdict else 3, row.probability or 0.0))
            for row in told[:MOST_COMPONENTS]:
                table.add_row(
                    escape(name), escape(row.task), escape(row.visit), escape(row.component),
                    _number(row.value, row.factor), _number(row.expanded_uncertainty, row.factor), _limit(row),
                    escape(row.unit), _word(row.verdict, is_plain(out)),
                )  # fmt: skip
            if len(told) > MOST_COMPONENTS:
                better = f"{len(told) - MOST_COMPONENTS} others are better"
                table.add_row(escape(name), escape(told[0].task), "", better, "", "", "", "", "")
    out.print(table)


def _word(verdict: str | None, plain: bool) -> Text:
    if verdict is None:
        return Text("no limit")
    shape, letter, colour = SHAPES[Word(verdict)]
    return Text(f"{letter if plain else shape} {verdict}", style=colour)


def _print_worse(machines: dict[str, MachineRows], out: Console) -> None:
    out.print()
    told = [
        (name, row)
        for name, rows in machines.items()
        for row in rows.changes
        if row.worse and row.after == _last_of(rows, row.task)
    ]
    if not told:
        out.print("Nothing is proven to have got worse between the last two visits.")
        return
    table = table_of("machine", "task", "component", "from", "to", "change", "U", "unit", title="Got worse, proven")
    for name, row in told:
        table.add_row(
            escape(name), escape(row.task), escape(row.component), escape(row.before), escape(row.after),
            _number(row.change, row.factor, sign=True), _number(row.expanded_uncertainty, row.factor),
            escape(row.unit),
        )  # fmt: skip
    out.print(table)


def _last_of(rows: MachineRows, task: str) -> str:
    """The last visit that tells of a change of a task."""
    order = {row.visit: row.position for row in rows.visits}
    return max((row.after for row in rows.changes if row.task == task), key=lambda visit: order[visit])


def _print_trends(machines: dict[str, MachineRows], out: Console) -> None:
    told: list[tuple[str, TrendRow]] = []
    for name, rows in machines.items():
        values = [row for row in rows.trends if not row.station]
        stations = sorted((row for row in rows.trends if row.station and row.proven), key=lambda row: -abs(row.slope))
        told += [(name, row) for row in (*values, *stations[:MOST_STATIONS])]
    if not told:
        return
    out.print()
    table = table_of(
        "machine", "task", "of", "station", "since", "visits", "per year", "U", "unit", "scatter", "limit reached",
        title="Trends",
    )  # fmt: skip
    for name, row in told:
        scatter = "-" if row.scatter is None else f"{row.scatter:.1f} of expected"
        table.add_row(
            escape(name), escape(row.task), escape(row.of), escape(f"{row.station} {row.component}".strip()),
            row.first, str(row.visits), _number(row.slope, row.factor, sign=True),
            _number(row.expanded_uncertainty, row.factor), escape(row.unit), scatter, _reached(row),
        )  # fmt: skip
    out.print(table)


def _reached(row: TrendRow) -> str:
    if row.reached is not None:
        return f"{row.reached} ({row.earliest} to {row.latest or 'later than a century'})"
    if row.station:
        return "trend proven" if row.proven else "no trend proven"
    return row.outlook or ("trend proven, no limit" if row.proven else "no trend proven")
