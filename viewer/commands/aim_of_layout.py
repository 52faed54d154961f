"""Aiming a set-up of a layout from the command line: which one, and by which of its stations."""

from __future__ import annotations

from scenes.aiming.traced import TracedLine, traced_line
from scenes.hints import did_you_mean
from scenes.model.layout import Layout
from scenes.model.survey import Method, Setup
from viewer.commands.typed import TypedQuantities

__all__ = ["line_of_setup"]

NOT_AIMED = {
    Method.BASE_PLANE: "sweeps a plane with a base, which is set by level and not by near and far",
    Method.SPINDLE: "has its emitter in a spindle, where its lean and offset run in a circle and drop out",
}


def line_of_setup(
    layout: Layout, setup: str, near: str, far: str, pivot: float, typed: TypedQuantities
) -> TracedLine | None:
    """Line of a set-up with its near and far stations; None where names do not fit, which is then gathered.

    Parameters
    ----------
    setup, near, far : str
        As typed; empty: the only set-up with a line, and the near and far stations that it states.
    """
    chosen = _setup(layout, setup, typed)
    if chosen is None:
        return None
    ends = [(option, text or own) for option, text, own in
            (("--near", near, chosen.near), ("--far", far, chosen.far))]  # fmt: skip
    behind = {name for stop in chosen.prism.stops for name in stop.stations} if chosen.prism is not None else set()
    on_line = [name for name in dict.fromkeys(chosen.reads) if name not in behind]
    fits = [_is_read(option, name, chosen, on_line, typed) for option, name in ends]
    if not all(fits):
        return None
    return traced_line(layout, chosen.name, ends[0][1], ends[1][1], pivot)


def _setup(layout: Layout, name: str, typed: TypedQuantities) -> Setup | None:
    aimed = [each for each in layout.setups.values() if each.method not in NOT_AIMED]
    if not name:
        if len(aimed) == 1:
            return aimed[0]
        listed = ", ".join(each.name for each in aimed)
        message = "which set-up is aimed is not said" if aimed else "no set-up of this layout is aimed by near and far"
        typed.refuse("--setup", message, f"name one of: {listed}" if aimed else "give distances in place of the layout")
        return None
    setup = layout.setups.get(name)
    if setup is None:
        typed.refuse("--setup", f"there is no set-up {name!r}", did_you_mean(name, layout.setups))
    elif setup.method in NOT_AIMED:
        listed = ", ".join(each.name for each in aimed)
        advice = f"name one of: {listed}" if aimed else "give distances in place of the layout"
        typed.refuse("--setup", f"{name!r} {NOT_AIMED[setup.method]}", advice)
        return None
    return setup


def _is_read(option: str, name: str, setup: Setup, on_line: list[str], typed: TypedQuantities) -> bool:
    """Whether a station can be aimed by; otherwise it is gathered."""
    if name in on_line:
        return True
    few = ", ".join(on_line) if len(on_line) <= 6 else f"{', '.join(on_line[:3])} ... {on_line[-1]}"
    if not name:
        message = f"set-up {setup.name!r} states no near and far"
        typed.refuse(option, message, f"name two of the stations on its line: {few}")
    else:
        message = f"station {name!r} is not read on the line of set-up {setup.name!r}"
        typed.refuse(option, message, did_you_mean(name, on_line) or f"name one of: {few}")
    return False
