"""The printed change between two visits."""

from __future__ import annotations

from rich.console import Console
from rich.markup import escape

from scenes.hints import listed
from scenes.reductions.quantities.shown import Scale, scale_of
from scenes.visits.changed import Change, ChangedDeviations, ChangedValue
from viewer.report.tables import table_of

__all__ = ["print_change"]

MOST_VALUES = 12
MOST_SHARED = 4


def print_change(each: Change, out: Console) -> None:
    """Print what changed of one task: stations, values, what is shared, and the test."""
    out.print()
    out.print(f"[bold]{escape(each.task)}: from {escape(each.one)} to {escape(each.two)}[/bold]")
    out.print(f"  {escape(each.sentence)}")
    for part in each.deviations:
        _print_deviations(part, each, out)
    for value in each.values[:MOST_VALUES]:
        _print_value(value, each, out)
    if len(each.values) > MOST_VALUES:
        out.print(f"  {len(each.values) - MOST_VALUES} more components; --json lists them all")
    if each.anew:
        out.print(f"  taken as changed in between: {escape(', '.join(each.anew))}")
    for remark in each.remarks:
        out.print(f"  note: {escape(remark)}")


def _print_deviations(part: ChangedDeviations, each: Change, out: Console) -> None:
    scale = scale_of(part.kind, None, each.after.evidence.layout.units)
    out.print()
    title = f"{part.name}: change"
    out.print(escape(f"  {title} about {part.datum}; * = beyond U (k = {part.coverage_factor:g})"))
    table = table_of(
        "station", "direction", f"{each.one} \\[{scale.unit}]", f"{each.two} \\[{scale.unit}]",
        f"change \\[{scale.unit}]", f"u \\[{scale.unit}]", "",
    )  # fmt: skip
    for i, name in enumerate(part.stations):
        cells = [_number(scale, float(number[i])) for number in (part.before, part.after, part.change)]
        u = scale.told(float(part.u[i]), whole=False).split(" ")[0]
        table.add_row(escape(name), escape(part.components[i]), *cells, u, "*" if part.moved[i] else "")
    out.print(table)
    test = part.test
    out.print(f"  had nothing moved: chi-square {test.chi_square:.1f} with {test.rank} independent changes, reached by "
              f"chance with probability {test.probability:.3g}")  # fmt: skip
    if part.dropped:
        out.print(escape(f"  left out, not read at both visits: {listed(list(part.dropped))}"))


def _number(scale: Scale, value: float) -> str:
    return scale.told(value, sign=True, whole=False).split(" ")[0]


def _print_value(value: ChangedValue, each: Change, out: Console) -> None:
    limit = next((c.limit for c in each.after.components if c.name == value.name), None)
    scale, signed = scale_of(value.kind, limit, each.after.evidence.layout.units), bool(value.plus)
    name = f"{value.name}: " if value.name else "value: "
    word = "proven" if value.proven else "not proven"
    out.print(escape(
        f"  {name}{scale.told(value.before, sign=signed)} -> {scale.told(value.after, sign=signed)}, change "
        f"{scale.told(value.change, sign=True)} with U = {scale.told(value.expanded_uncertainty)} "
        f"(k = {value.coverage_factor:.3g}): {word}"
    ))  # fmt: skip
    if value.words[0] != value.words[1] and None not in value.words:
        out.print(f"    verdict: {value.words[0]} -> {value.words[1]}")
    out.print(escape(
        f"    standard uncertainty {scale.told(value.standard_uncertainty)}; as if nothing were shared "
        f"{scale.told(value.apart)}"
    ))  # fmt: skip
    parts = ", ".join(
        f"{part.name} {_plain(scale, part.one)} and {_plain(scale, part.two)}, left {_plain(scale, part.left)}"
        for part in value.shared[:MOST_SHARED]
    )
    if parts:
        out.print(escape(f"    shared by both visits [{scale.unit}{scale.behind}]: {parts}"))


def _plain(scale: Scale, value: float) -> str:
    return scale.told(value, whole=False).split(" ")[0]
