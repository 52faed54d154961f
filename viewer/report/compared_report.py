"""The printed comparison: what every other reference and rule says of the same readings, side by side."""

from __future__ import annotations

from rich.console import Console
from rich.markup import escape

from scenes.model.layout import Layout
from scenes.reductions.quantities.compared import Compared, Ruled
from scenes.reductions.quantities.measured import Component, Measured, distance_from_limit
from scenes.reductions.quantities.shown import Scale, scale_of
from scenes.reductions.verdict import RULES, Verdict, Word
from viewer.report.tables import SHAPES, is_plain, table_of

__all__ = ["print_compared", "verdict_words"]

MOST_COMPONENTS = 3
"""Of more components than this, those farthest from conformity are compared."""


def verdict_words(word: Word | None, plain: bool) -> str:
    """A verdict as a shape and a word."""
    if word is None:
        return "no limit"
    shape, letter, colour = SHAPES[word]
    return f"[{colour}]{letter if plain else shape} {word}[/{colour}]"


def print_compared(
    each: Measured, others: tuple[Compared, ...], ruled: tuple[Ruled, ...], layout: Layout, out: Console
) -> None:
    """Print one task on one visit against every reference and under every rule."""
    head = f"{each.evidence.task.name}, {each.evidence.visit}"
    if others:
        out.print()
        out.print(escape(f"{head}: the same readings against other references"))
        _print_references(others, layout, out)
    judged = [i for i, component in enumerate(each.components) if component.verdict is not None]
    if judged:
        worst = min(judged, key=lambda i: distance_from_limit(each.components[i]))
        out.print()
        named = each.components[worst].name
        out.print(escape(f"{head}: {f'{named} ' if named else ''}under other rules"))
        _print_rules(each.components[worst], [rule.verdicts[worst] for rule in ruled], ruled, layout, out)


def _print_references(others: tuple[Compared, ...], layout: Layout, out: Console) -> None:
    plain, notes = is_plain(out), []
    table = table_of("reference", "of", "value", "U", "true value (95 %)", "verdict")
    for other in others:
        name = escape(f"{other.words}{' (chosen)' if other.chosen else ''}")
        if not other.components:
            reason = other.reason or "; ".join(dict.fromkeys(part.reason for part in other.unreached))
            table.add_row(name, "", "-", "-", "-", "none")
            notes.append(f"  {other.words}: {reason}")
            continue
        for component in _worst(other.components):
            scale = scale_of(component.kind, component.limit, layout.units)
            table.add_row(name, escape(component.name), *_figures(component, scale), _verdict(component, plain))
            name = ""
        for part in other.unreached:
            table.add_row("", escape(part.component), "-", "-", "-", "none")
            notes.append(f"  {other.words}, {part.component}: {part.reason}")
    out.print(table)
    for note in notes:
        out.print(escape(note))


def _worst(components: tuple[Component, ...]) -> list[Component]:
    kept = sorted(components, key=distance_from_limit)[:MOST_COMPONENTS]
    return [component for component in components if component in kept]


def _figures(component: Component, scale: Scale) -> tuple[str, str, str]:
    """Value, U and the ends of the interval."""
    low, high = (scale.told(end, whole=False).split(" ")[0] for end in component.interval)
    return (
        scale.told(component.value, sign=bool(component.plus), whole=False),
        scale.told(component.expanded_uncertainty, whole=False),
        f"{low} to {high}",
    )


def _verdict(component: Component, plain: bool) -> str:
    return verdict_words(None if component.verdict is None else component.verdict.word, plain)


def _print_rules(
    component: Component, verdicts: list[Verdict | None], ruled: tuple[Ruled, ...], layout: Layout, out: Console
) -> None:
    scale, plain = scale_of(component.kind, component.limit, layout.units), is_plain(out)
    table = table_of("rule", "band", "verdict")
    for rule, verdict in zip(ruled, verdicts, strict=True):
        assert verdict is not None
        mark = " (chosen)" if rule.chosen else ""
        band = scale.told(verdict.guard, whole=False) if verdict.guard else "none"
        table.add_row(f"{rule.rule}{mark}", band, verdict_words(verdict.word, plain))
    out.print(table)
    for rule in ruled:
        if rule.chosen:
            out.print(escape(f"  {rule.rule}: {RULES[rule.rule]}"))
