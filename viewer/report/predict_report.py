"""The printed prediction of a plan."""

from __future__ import annotations

from rich.console import Console
from rich.markup import escape
from rich.text import Text

from scenes.model.layout import Layout
from scenes.reductions.predicted import Predicted, PredictedComponent
from scenes.reductions.quantities.shown import Scale, scale_of
from scenes.reductions.verdict import Word
from viewer.report.tables import SHAPES, is_plain, table_of

__all__ = ["print_predictions"]

MOST_NAMED = 6
WORST_NAMED = 3
"""Components of one task that are told in full; of more than the first number, so many of the worst."""

MOST_SOURCES = 6
MOST_STATIONS = 40
"""Stations of one task that are listed."""


def print_predictions(
    layout: Layout, predictions: list[Predicted], failures: list[tuple[str, str]], out: Console
) -> None:
    """Print what a plan promises for every task."""
    if layout.title:
        out.print(f"[bold]{escape(layout.title)}[/bold]")
    for each in predictions:
        out.print()
        _print_task(layout, each, out)
    for task, reason in failures:
        out.print()
        out.print(f"[bold]{escape(task)}[/bold]")
        out.print(escape(f"  no prediction: {reason}"))


def _print_task(layout: Layout, each: Predicted, out: Console) -> None:
    task = each.task
    out.print(f"[bold]{escape(task.name)}[/bold]")
    out.print(escape(f"  {task.quantity} of {', '.join(task.of) or task.surface}; reference: {each.reference}; "
                     f"{each.method}"))  # fmt: skip
    chosen = list(each.components)
    if len(chosen) > MOST_NAMED:
        chosen = sorted(chosen, key=lambda c: c.provable / (c.upper or float("inf")), reverse=True)[:WORST_NAMED]
        out.print(f"  the hardest to prove of {len(each.components)}; --json lists them all")
    for component in chosen:
        _print_component(layout, each, component, out)
    for part in each.unreached:
        out.print(escape(f"  {part.component or 'no value'}: not known; {part.reason}"))
    if each.missing:
        out.print(escape(f"  note: {len(each.missing)} stations of the task are read by no set-up: "
                         f"{', '.join(each.missing[:MOST_SOURCES])}"))  # fmt: skip
    for remark in each.remarks:
        out.print(escape(f"  note: {remark}"))
    _print_stations(layout, each, out)


def _print_component(layout: Layout, each: Predicted, c: PredictedComponent, out: Console) -> None:
    scale = scale_of(c.kind, c.limit, layout.units)
    text = Text("  ")
    if c.upper is not None:
        proven = bool(c.can_be_proven) and not each.held
        shape, letter, colour = SHAPES[Word.CONFORMS if proven else Word.NOT_PROVEN]
        word = "can be proven" if proven else "cannot be proven"
        text.append(f"{letter if is_plain(out) else shape} {word}", style=f"bold {colour}")
        text.append(f": {c.name + ': ' if c.name else ''}limit {_limit(c, scale)}; ")
    else:
        text.append(f"{c.name}: no limit; " if c.name else "")
    text.append(_promise(c, scale))
    out.print(text)
    if each.held and c.upper is not None:
        out.print(escape(f"    {each.held}"))
    if c.plus:
        out.print(escape(f"    {c.plus}"))
    out.print(escape(f"    {_both_ways(c, scale)}"))
    if c.budget:
        parts = ", ".join(f"{name} {_plain(u, scale)}" for name, u in c.budget[:MOST_SOURCES])
        share = 100.0 * c.budget[0][1] ** 2 / max(sum(u**2 for _, u in c.budget), 1e-300)
        out.print(escape(f"    {c.budget[0][0]} makes {share:.0f} % of the variance; all [{scale.unit}{scale.behind}]: "
                         f"{parts}"))  # fmt: skip


def _plain(value: float, scale: Scale) -> str:
    return scale.told(value, whole=False).split(" ")[0]


def _limit(c: PredictedComponent, scale: Scale) -> str:
    assert c.upper is not None
    if c.lower is None:
        return scale.told(c.upper)
    return f"+-{scale.told(c.upper)}" if c.lower == -c.upper else f"{_plain(c.lower, scale)} to {scale.told(c.upper)}"


def _promise(c: PredictedComponent, scale: Scale) -> str:
    """How far a measured value may go, or which limit could be proven."""
    u = f"standard uncertainty {scale.told(c.standard_uncertainty)}"
    least = f"limits from {'+-' if c.lower is not None else ''}{scale.told(c.provable)} could be proven"
    if c.upper is None:
        return u
    if c.largest is None:
        return f"{u}; {least}"
    values = f"up to {scale.told(c.largest)}"
    if c.smallest is not None and c.lower is not None:
        values = f"from {scale.told(c.smallest, sign=True, whole=False)} to {scale.told(c.largest, sign=True)}"
    return f"{u}; measured values {values} conform; {least}"


def _both_ways(c: PredictedComponent, scale: Scale) -> str:
    """Propagation and trials side by side, for a perfect machine."""
    if c.is_zone:
        gum = f"{scale.told(c.empty_value)} on average, scatter {scale.told(c.empty_scatter)}"
        trial = f"{scale.told(c.trial_mean)}, scatter {scale.told(c.trial_u)}"
        both = f"a perfect machine would read, by propagation {gum}"
    else:
        both = f"standard uncertainty by propagation {scale.told(c.standard_uncertainty)}"
        trial = scale.told(c.trial_u)
    if c.trial_u != c.trial_u:
        return both
    low, high = (scale.told(end, sign=not c.is_zone, whole=False) for end in c.trial_interval)
    return f"{both}; by trials through the traced model {trial}, 95 % of them {low} to {high}"


def _print_stations(layout: Layout, each: Predicted, out: Console) -> None:
    rows = []
    unit = layout.units.deviation
    for part in each.stations:
        scale = scale_of(part.kind, None, layout.units)
        unit = scale.unit
        rows += [
            (name, part.components[i], _plain(float(part.u[i]), scale), _plain(float(part.trial_u[i]), scale))
            for i, name in enumerate(part.stations)
        ]
    if not rows:
        return
    table = table_of("station", "direction", f"u \\[{unit}]", f"u by trials \\[{unit}]")
    for name, component, u, trial in rows[:MOST_STATIONS]:
        table.add_row(escape(name), escape(component), u, trial)
    out.print(table)
    if len(rows) > MOST_STATIONS:
        out.print(f"  {len(rows) - MOST_STATIONS} more; --json lists them all")
