"""Profiles: deviations along a line or a row of a surface, with U and the limits, as numbers and as a drawing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from scenes.model.layout import Layout
from scenes.reductions.quantities.definition import Kind
from scenes.reductions.quantities.shown import Scale, scale_of
from scenes.units import from_si
from scenes.vectors import Floats
from viewer import text
from viewer.logic.figures import ARM, Figure, Form
from viewer.logic.limits_drawn import Limits, accepted_of, accepted_zone, limits_of
from viewer.logic.plots_axes import Axis, axis_over, points_text, ticks_between
from viewer.logic.result_values import bare
from viewer.logic.shown import Shown
from viewer.logic.worst_piece import Piece, worst_piece

__all__ = ["PROFILE_SIZE", "Profile", "profile_chart", "profiles_of"]

Document = dict[str, Any]

PROFILE_SIZE = (372, 190)
LEFT, RIGHT, TOP, BOTTOM = 52.0, 10.0, 10.0, 36.0
WIDE = 16.0
"""Ticks nearer to the edge than half a number is wide have theirs to the left."""

SAME_ROW = 0.02
"""Stations stand in one row where they differ by less than this share of the extent across it."""

FAR = 3.0
"""Limits farther out than so many times the deviations with their U are told in words instead."""

PIECE_NOTE = (
    "Band: U of each deviation. Shaded piece: the worst one of its length, between the lines that hold it. "
    "Dashed: its limit. Dotted: what the rule accepts."
)


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """Deviations over the way along a line; n stations in their order.

    Attributes
    ----------
    name : str
    stations : tuple of str
    at : (n,) float
        Way from the first station, metres.
    values, expanded : (n,) float
        Metres or rad.
    low, high : (n,) float, optional
        Limits.
    kind : Kind
    accepted : (low, high), optional
        What the rule accepts, where that is something else.
    piece : Piece, optional
        The worst piece, where the value is one over a sliding length.
    """

    name: str
    stations: tuple[str, ...]
    at: Floats
    values: Floats
    expanded: Floats
    low: Floats | None
    high: Floats | None
    kind: Kind
    accepted: tuple[Floats, Floats] | None = None
    piece: Piece | None = None


def profiles_of(shown: Shown) -> tuple[Profile, ...]:
    """Profiles of all figures: every direction of a line, every row of a surface."""
    found: list[Profile] = []
    for figure in shown.figures:
        if figure.form is Form.LINE:
            found += _of_line(shown, figure)
        elif figure.sheet is not None:
            found += _rows(shown, figure, 1) + _rows(shown, figure, 0)
    return tuple(found)


def _of_line(shown: Shown, figure: Figure) -> list[Profile]:
    along = figure.places[-1] - figure.places[0]
    at = (figure.places - figure.places[0]) @ along / float(np.linalg.norm(along))
    limits, accepted = limits_of(shown, figure), accepted_of(shown, figure)
    kind, size = (Kind.ANGLE, ARM) if shown.angles else (Kind.LENGTH, 1.0)
    found = []
    for number, direction in enumerate(figure.directions):
        ends = _ends_over(limits, direction, at, size)
        low, high = (None, None) if ends is None else ends
        values, expanded = figure.displacement @ direction / size, figure.expanded[:, number] / size
        name = " ".join(dict.fromkeys(word for word in (figure.of, figure.words[number]) if word))
        found.append(Profile(name or "along the line", figure.stations, at, values, expanded, low, high, kind,
                             _ends_over(accepted, direction, at, size),
                             worst_piece(shown, figure) if number == 0 else None))  # fmt: skip
    return found


def _ends_over(limits: Limits | None, direction: Floats, at: Floats, size: float) -> tuple[Floats, Floats] | None:
    """Lower and upper limit over the way, where they count in ``direction``; angles are drawn over ``size``."""
    if limits is None or (limits.across is not None and abs(float(limits.across @ direction)) <= 1.0 - 1e-6):
        return None
    sign = 1.0 if limits.across is None else float(np.sign(limits.across @ direction))
    if limits.lean is not None:
        low, high = (sign * lean * (at - limits.pivot) / size for lean in limits.lean)
        return low, high
    low, high = ((sign * limits.middle + side * 0.5 * limits.width + np.zeros(len(at))) / size for side in (-1.0, 1.0))
    return low, high


def _rows(shown: Shown, figure: Figure, across: int) -> list[Profile]:
    """Rows of a surface: stations that share ``across`` (0: x, 1: y), along the other axis."""
    assert figure.sheet is not None
    places = figure.sheet.places[:, :2]
    order = np.argsort(places[:, across], kind="stable")
    gaps = np.diff(places[order, across]) > SAME_ROW * max(float(np.ptp(places[:, across])), 1e-9)
    found, accepted = [], accepted_zone(shown)
    for numbers in np.split(order, np.nonzero(gaps)[0] + 1):
        if len(numbers) < 3:
            continue
        row = numbers[np.argsort(places[numbers, 1 - across], kind="stable")]
        names = tuple(figure.stations[i] for i in row)
        at = places[row, 1 - across]
        zone = shown.zone
        low, high = (None, None) if zone is None else (np.full(len(row), end) for end in zone)
        within = None if accepted is None else (np.full(len(row), accepted[0]), np.full(len(row), accepted[1]))
        found.append(Profile(f"{names[0]} to {names[-1]}", names, at - at[0], figure.values[row],
                             figure.expanded[row, 0], low, high, Kind.LENGTH, within))  # fmt: skip
    return found


# --- drawing


def profile_chart(layout: Layout, profile: Profile) -> Document:
    """A profile as a drawing, in the units of the layout."""
    scale, length = scale_of(profile.kind, None, layout.units), layout.units.length
    width, height = PROFILE_SIZE
    x = axis_over(profile.at, LEFT, width - RIGHT, zero=False, room=0.02)
    above, below = profile.values + profile.expanded, profile.values - profile.expanded
    most = float(np.nanmax(np.abs(np.concatenate([above, below, profile.values]))))
    limits = [] if profile.low is None or profile.high is None else [profile.low, profile.high]
    near = bool(limits) and float(np.max(np.abs(limits))) <= FAR * max(most, 1e-12)
    accepted = list(profile.accepted) if near and profile.accepted is not None else []
    edges = [] if profile.piece is None else list(profile.piece.zone(profile.piece.limit))
    y = axis_over(np.concatenate([above, below, *(limits if near else []), *accepted, *edges]), height - BOTTOM, TOP,
                  zero=True)  # fmt: skip
    line = x.at(profile.at)
    return {
        "kind": "profile", "name": profile.name, "stations": list(profile.stations),
        "label": _label(scale, profile), "unit": text.screen_unit(scale.unit), "length_unit": length,
        "width": width, "height": height, "left": LEFT, "right": width - RIGHT, "foot": height - BOTTOM,
        "line": points_text(line, y.at(profile.values)),
        "band": _between(line, y.at(above), y.at(below)),
        "limits": [points_text(line, y.at(each)) for each in limits] if near else [],
        "accepted": [points_text(line, y.at(each)) for each in accepted],
        "zone": _between(line, y.at(limits[1]), y.at(limits[0])) if near else "",
        "piece": None if profile.piece is None else _piece(scale, layout, profile, line, y),
        "note": _note(scale, limits, near, bool(accepted)) if profile.piece is None else PIECE_NOTE,
        "zero": round(float(y.at(0.0)), 1),
        "dots": [_dot(scale, profile, i, float(line[i]), float(y.at(profile.values[i]))) for i in range(len(line))],
        "x_ticks": [{"x": round(float(x.at(each)), 1), "text": f"{from_si(each, length, 'length') + 0.0:g}",
                     "anchor": "end" if float(x.at(each)) > width - RIGHT - WIDE else "middle"}
                    for each in _lengths(float(profile.at[0]), float(profile.at[-1]), length)],
        "y_ticks": [{"y": round(float(y.at(each)), 1), "text": _tick(scale, each)}
                    for each in _values(scale, y.low, y.high)],
    }  # fmt: skip


def _piece(scale: Scale, layout: Layout, profile: Profile, x: Floats, y: Axis) -> Document:
    """The worst piece: its band, its line, its limits, and its value in words."""
    piece = profile.piece
    assert piece is not None
    over, (low, high) = x[piece.numbers], piece.zone(piece.limit)
    within = piece.zone(piece.accepted) if 0.0 < piece.accepted != piece.limit else ()
    names = [profile.stations[int(piece.numbers[end])] for end in (0, -1)]
    length = f"{from_si(piece.span, layout.units.length, 'length'):g} {layout.units.length}"
    value = text.told(scale, piece.value)
    return {
        "band": _between(over, y.at(piece.line + piece.high), y.at(piece.line + piece.low)),
        "line": points_text(over, y.at(piece.line)),
        "limits": [points_text(over, y.at(each)) for each in (low, high)],
        "accepted": [points_text(over, y.at(each)) for each in within],
        "x": round(float(over.mean()), 1), "y": round(float(y.at(high).min()) - 5.0, 1), "text": value,
        "words": f"Worst piece of {length}: {names[0]} to {names[1]}, {value} of {text.told(scale, piece.limit)}.",
    }  # fmt: skip


def _between(x: Floats, above: Floats, below: Floats) -> str:
    """Outline of what lies between two lines."""
    return points_text(np.concatenate([x, x[::-1]]), np.concatenate([above, below[::-1]]))


def _values(scale: Scale, low: float, high: float) -> Floats:
    """Ticks [SI] that are round in the unit."""
    per = scale.number(1.0)
    result: Floats = ticks_between(low * per, high * per, 6) / per
    return result


def _lengths(low: float, high: float, unit: str) -> Floats:
    per = float(from_si(1.0, unit, "length"))
    result: Floats = ticks_between(low * per, high * per, 6) / per
    return result


def _tick(scale: Scale, value: float) -> str:
    number = scale.number(value)
    return text.signed(f"{0.0 if abs(number) < 1e-9 else number:+.4g}")


def _dot(scale: Scale, profile: Profile, i: int, x: float, y: float) -> Document:
    value, u = bare(scale, float(profile.values[i]), sign=True), bare(scale, float(profile.expanded[i]))
    return {
        "name": profile.stations[i], "x": round(x, 1), "y": round(y, 1),
        "title": f"{profile.stations[i]}: {value} ± {u} {text.screen_unit(scale.unit)}",
    }  # fmt: skip


def _note(scale: Scale, limits: list[Floats], near: bool, ruled: bool) -> str:
    """What the drawing shows of the limits."""
    if not limits:
        return "Band: U of each deviation."
    if near:
        return "Band: U of each deviation. Dashed: limits." + (" Dotted: what the rule accepts." if ruled else "")
    widest = max(float(np.max(np.abs(each))) for each in limits)
    return f"Band: U of each deviation. The limits lie outside, up to ± {text.told(scale, widest)}."


def _label(scale: Scale, profile: Profile) -> str:
    ends = [text.told(scale, float(end), sign=True) for end in (profile.values.min(), profile.values.max())]
    return f"{profile.name}: from {ends[0]} to {ends[1]}"
