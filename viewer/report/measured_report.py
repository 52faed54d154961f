"""The printed result of quantities measured through the network."""

from __future__ import annotations

from math import isfinite

from rich.console import Console
from rich.markup import escape
from rich.text import Text

from scenes.model.layout import Layout
from scenes.model.machine import Plate
from scenes.reductions.consistency import UNLIKELY
from scenes.reductions.quantities.measured import Component, Measured, distance_from_limit
from scenes.reductions.quantities.shown import Scale, scale_of
from scenes.units import PLACE, show
from viewer.report.json_values import unit_of_nuisance
from viewer.report.tables import SHAPES, is_plain, print_findings, table_of

__all__ = ["print_measured", "print_measured_stations"]

MOST_NAMED = 6
WORST_NAMED = 3
"""Components of one task that are told in full; of more than the first number, so many of the worst."""

MOST_SOURCES = 5


def print_measured_stations(results: list[Measured], out: Console) -> None:
    """Print the deviations of one task, one column per visit."""
    layout = results[0].evidence.layout
    entries: dict[tuple[str, str, str], dict[int, tuple[str, str]]] = {}
    unit = layout.units.deviation
    for number, each in enumerate(results):
        for d in each.deviations:
            scale = scale_of(d.kind, None, layout.units)
            unit = scale.unit
            for i, name in enumerate(d.stations):
                cells = (
                    scale.told(float(d.values[i]), sign=True, whole=False).split(" ")[0],
                    scale.told(float(d.u[i]), whole=False).split(" ")[0],
                )
                entries.setdefault((name, d.components[i], d.of), {})[number] = cells
    if not entries:
        return
    several = len({of for _, _, of in entries}) > 1
    leverage = _leverages(results[-1])
    heads = [f"{each.evidence.visit} \\[{unit}]" for each in results]
    places = _places(layout, [name for name, _, _ in entries])
    table = table_of(
        "station",
        *([f"{axis} \\[{layout.units.length}]" for axis in "xy"] if places else []),
        *(["of"] if several else []),
        "direction",
        *(h for head in heads for h in (head, f"u \\[{unit}]")),
        *(["leverage"] if leverage else []),
    )
    for (name, component, of), told in entries.items():
        numbers = [cell for number in range(len(results)) for cell in told.get(number, ("-", "-"))]
        row = [escape(name), *places.get(name, ()), *([escape(of)] if several else []), escape(component), *numbers]
        table.add_row(*row, *([leverage.get((name, component, of), "-")] if leverage else []))
    out.print(table)


def _places(layout: Layout, names: list[str]) -> dict[str, list[str]]:
    """Places of stations in the plane of their plate, as text; empty where some stand on something else, or move."""
    stations = [layout.stations.get(name) for name in names]
    if not all(
        each is not None and not each.position and isinstance(layout.surfaces[each.surface].shape, Plate)
        for each in stations
    ):
        return {}
    unit = layout.units.length
    x, y = (
        [show(float(layout.stations[name].at[axis]), unit, to=PLACE).split(" ")[0] for name in names] for axis in (0, 1)
    )
    return {name: place for name, *place in zip(names, x, y, strict=True)}


def _leverages(each: Measured) -> dict[tuple[str, str, str], str]:
    """Share of every entry in the reference at its own place, as text; empty where no reference was fitted."""
    return {
        (name, d.components[i], d.of): f"{d.leverage[i]:.2f}"
        for d in each.deviations
        if d.leverage is not None
        for i, name in enumerate(d.stations)
    }


def print_measured(each: Measured, out: Console) -> None:
    """Print one task on one visit: verdict, reference, uncertainty and what it is made of."""
    layout, task, plain = each.evidence.layout, each.evidence.task, is_plain(out)
    out.print(f"[bold]{escape(task.name)}, {escape(each.evidence.visit)}[/bold]")
    asked = f"{task.quantity} of {', '.join(task.of) or task.surface}"
    how = f"{each.definition.method}, {each.points} stations"
    out.print(escape(f"  {asked}; reference: {each.definition.reference}; {how}"))
    for component in _told(each):
        out.print(_line(component, layout, plain))
        for line in _behind(component, layout):
            out.print(escape(line))
    left = len(each.components) - WORST_NAMED
    if left > MOST_NAMED - WORST_NAMED:
        out.print(f"  {left} others are better than these; --json lists them all")
    for part in each.unreached:
        out.print(escape(f"  {part.component or 'no value'}: not known; {part.reason}"))
    control = each.consistency
    if control.redundancy:
        test = f"largest normalised residual {control.largest:.1f}, {UNLIKELY:.1f} by chance in 1 of 1000"
        many = "1 reading controls" if control.redundancy == 1 else f"{control.redundancy} readings control"
        out.print(f"  {many} others (Baarda's test): {test}; chi-square {control.chi_square:.1f}, reached by "
                  f"{100.0 * control.probability:.2g} % of sound surveys")  # fmt: skip
    for found in each.evidence.network.fitted():
        unit, kind = unit_of_nuisance(layout, found)
        told = [show(value, unit, kind, sign=sign) for value, sign in ((found.value, True), (found.u, False))]
        out.print(escape(f"  fitted {found.word} of {', '.join(found.key)}: {told[0]}, standard uncertainty {told[1]}"))
    for remark in each.remarks:
        out.print(f"  note: {escape(remark)}")
    print_findings(each.findings, layout.file, out)


def _told(each: Measured) -> list[Component]:
    """The components that are told in full, in their order: all, or the farthest from conformity."""
    if len(each.components) <= MOST_NAMED:
        return list(each.components)
    kept = sorted(each.components, key=distance_from_limit)[:WORST_NAMED]
    return [component for component in each.components if component in kept]


def _line(c: Component, layout: Layout, plain: bool) -> Text:
    """Verdict as a shape, a word and the figures that it rests on."""
    scale = scale_of(c.kind, c.limit, layout.units)
    name = f"{c.name}: " if c.name else ""
    signed = bool(c.plus)
    text = Text("  ")
    if c.verdict is None:
        text.append(f"{name}{scale.told(c.value, sign=signed)} with U = {scale.told(c.expanded_uncertainty)} "
                    f"(k = {_factor(c)}), no limit")  # fmt: skip
        return text
    shape, letter, colour = SHAPES[c.verdict.word]
    text.append(f"{letter if plain else shape} {c.verdict.word}", style=f"bold {colour}")
    guard = f"{c.verdict.rule} {scale.told(c.verdict.guard)}" if c.verdict.guard else c.verdict.rule
    text.append(
        f": {name}{scale.told(c.value, sign=signed)} with U = {scale.told(c.expanded_uncertainty)} "
        f"(k = {_factor(c)}), limit {_limit(c, scale)}, {guard}, "
        f"probability of conformity {100.0 * c.verdict.probability:.1f} %"
    )
    if c.verdict.reason:
        text.append(f"; {c.verdict.reason}")
    return text


def _factor(c: Component) -> str:
    """Coverage factor, with its degrees of freedom where they are few."""
    return f"{c.coverage_factor:.3g}" + (f", {c.dof:.0f} degrees of freedom" if isfinite(c.dof) else "")


def _limit(c: Component, scale: Scale) -> str:
    """The limit as it was asked: one bound, both ways, or a range."""
    assert c.verdict is not None
    upper = scale.told(c.verdict.limit)
    if c.lower is None:
        return upper
    return f"+-{upper}" if c.lower == -c.verdict.limit else f"{scale.told(c.lower, whole=False)} to {upper}"


def _behind(c: Component, layout: Layout) -> list[str]:
    """Meaning of the sign, contacts, interval and budget."""
    scale = scale_of(c.kind, c.limit, layout.units)
    lines = [f"    {c.plus}"] if c.plus else []
    if c.high:
        held = f"    held by {', '.join(c.high)}"
        lines.append(held + (f" (high) and {', '.join(c.low)} (low)" if c.low else ""))
        lines += [f"    reference through {', '.join(c.datum)}"] if c.datum else []
        lines.append(
            f"    true value between {scale.told(c.interval[0])} and {scale.told(c.interval[1])} (95 %); errors of the "
            f"readings raise the value by {scale.told(c.noise_bias)} on average"
        )
    parts = ", ".join(f"{name} {scale.told(u, whole=False).split(' ')[0]}" for name, u in c.budget[:MOST_SOURCES])
    if parts:
        lines.append(f"    standard uncertainty by propagation {scale.told(c.linear_u)}, made of [{scale.unit}"
                     f"{scale.behind}]: {parts}")  # fmt: skip
    return lines
