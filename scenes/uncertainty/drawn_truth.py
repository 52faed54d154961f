"""Truth drawn at random: smooth surfaces of a stated size, for readings whose answer somebody should find."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from ..model.layout import Layout
from ..model.survey import Limit, Task
from ..model.truth import Truth
from ..tracing.geometry import SurveyGeometry
from ..tracing.places import pose_of, station_places
from ..vectors import Floats, Indices, dot

__all__ = ["SHARE_OF_LIMIT", "default_size", "drawn_truth"]

SHARE_OF_LIMIT = 1.0 / 3.0
"""Peak-to-valley value of a drawn surface as a share of the tightest limit that is asked of it."""

WITHOUT_TASK = 20e-6
"""Peak-to-valley value [m] of surfaces of which nothing is asked."""

WAVES = 5
CYCLES = (0.3, 1.4)
"""Waves over the whole of a surface: long enough to be smooth from station to station."""

SHORT_STEP = 1e-3
"""Distance [m] over which a slope is taken where the target stands on one foot."""


@dataclass(frozen=True, slots=True, eq=False)
class _Waves:
    """A sum of plane waves; ``value`` takes places ``(..., 3)``."""

    direction: Floats
    start: Floats
    per_metre: Floats
    phase: Floats
    size: Floats
    scale: float
    middle: float

    def value(self, places: Floats) -> Floats:
        along = np.sum(places[..., None, :] * self.direction, axis=-1) - self.start
        waves = self.size * np.cos(2.0 * np.pi * self.per_metre * along + self.phase)
        result: Floats = self.scale * (np.sum(waves, axis=-1) - self.middle)
        return result


def _waves(places: Floats, size: float, rng: np.random.Generator) -> _Waves:
    """Waves that differ by ``size`` [m] from the highest to the lowest of ``places`` (n, 3), 0 half way between.

    Written without linear algebra, so that every platform gives the same digits.
    """
    direction = rng.standard_normal((WAVES, 3))
    direction = direction / np.sqrt(np.sum(direction**2, axis=1, keepdims=True))
    cycles, phase = rng.uniform(*CYCLES, WAVES), rng.uniform(0.0, 2.0 * np.pi, WAVES)
    along = np.sum(places[:, None, :] * direction, axis=-1)
    start, extent = along.min(axis=0), np.ptp(along, axis=0)
    seen = extent > 1e-6 * max(float(extent.max()), 1e-9)  # a wave across the stations changes nothing along them
    per_metre = np.where(seen, cycles / np.where(seen, extent, 1.0), 0.0)
    plain = _Waves(direction, start, per_metre, phase, 1.0 / (1.0 + cycles), 1.0, 0.0)
    heights = plain.value(places)
    span = float(np.ptp(heights))
    scale = size / span if span > 0.0 else 0.0
    return _Waves(direction, start, per_metre, phase, plain.size, scale, 0.5 * float(heights.max() + heights.min()))


def _as_length(limit: Limit, span: float) -> float:
    """Limit in metres; one of an angle over the span [m] of the stations."""
    if limit.over > 0.0:
        return limit.upper / limit.over * span
    return limit.upper * (span if limit.angle else 1.0)


def _limits(task: Task) -> Iterable[Limit]:
    return task.limits.values() if task.limits else (Limit(task.limit),)


def default_size(layout: Layout, surface: str, span: float) -> float:
    """Peak-to-valley value [m] of a drawn ``surface``, over whose stations the span is ``span`` [m].

    A third of the tightest limit that a task asks of it; 20 um where none does.
    """
    tasks = [
        task for task in layout.tasks.values()
        if surface in (task.surface, *task.of, *(layout.stations[name].surface for name in task.stations))
    ]  # fmt: skip
    asked = [_as_length(limit, span) for task in tasks for limit in _limits(task)]
    positive = [size for size in asked if size > 0.0]
    return SHARE_OF_LIMIT * min(positive) if positive else WITHOUT_TASK


def _turned_back(layout: Layout, names: tuple[str, ...], places: Floats) -> Floats:
    """Places (n, 3) on a part before it was turned right-handed: what stands under a target that stays, in the part."""
    turns = np.array([layout.stations[name].turn for name in names])
    if not turns.any():
        return places
    pose = pose_of(layout, layout.stations[names[0]].surface)
    x, y, z = pose.rotation.T
    off = places - pose.origin
    a, b, c = (np.sum(off * axis, axis=1) for axis in (x, y, z))
    cos, sin = np.cos(turns), np.sin(turns)
    back: Floats = pose.origin + np.outer(cos * a + sin * b, x) + np.outer(cos * b - sin * a, y) + np.outer(c, z)
    return back


def drawn_truth(layout: Layout, geometry: SurveyGeometry, rng: np.random.Generator, size: float | None = None) -> Truth:
    """A smooth surface under the stations of every machine surface that is read, drawn at random.

    Each surface gets a height, and where some reading tells what lies sideways also a deviation aside: sums of long
    waves over its stations, in space, so that a part that moves deviates along its way too. Slopes for targets that
    read angles are those of the same waves over the distance of their feet. Targets of a base line stand at nought.

    Parameters
    ----------
    geometry : SurveyGeometry
        Of the rows that are read.
    size : float, optional
        From the highest to the lowest station of each surface, metres; default: `default_size`.
    """
    rows = geometry.rows
    number = {name: i for i, name in enumerate(rows.stations) if not layout.stations[name].is_datum}
    parts: dict[str, dict[str, float]] = {"up": {}, "aside": {}, "nod": {}, "swing": {}}
    for surface in dict.fromkeys(layout.stations[name].surface for name in number):
        names = tuple(name for name in number if layout.stations[name].surface == surface)
        places = _turned_back(layout, names, station_places(layout, names)[0])
        span = float(np.sqrt(np.sum(np.ptp(places, axis=0) ** 2)))
        high = default_size(layout, surface, span) if size is None else size
        up, aside = _waves(places, high, rng), _waves(places, high, rng)
        mine = np.isin(rows.station, [number[name] for name in names])
        first = np.array([int(np.argmax(rows.station == number[name])) for name in names], dtype=np.int64)
        values = {"up": up.value(places), **_slopes(layout, geometry, first, up, aside)}
        if (mine & geometry.reads["h"]).any():
            values["aside"] = aside.value(places)
        for part, value in values.items():
            parts[part].update(zip(names, value.tolist(), strict=True))
    return Truth(**{part: {name: value for name, value in each.items() if value} for part, each in parts.items()})


def _slopes(layout: Layout, geometry: SurveyGeometry, row: Indices, up: _Waves, aside: _Waves) -> dict[str, Floats]:
    """Slopes ``(n,)`` [rad] of the feet of targets that read angles, as they stand in the rows ``row`` (n,)."""
    angles = geometry.reads["pitch"][row]
    if not angles.any():
        return {}
    targets = [layout.targets[geometry.rows.targets[i]] for i in geometry.rows.target[row]]
    step = np.array([target.step or SHORT_STEP for target in targets])
    ahead, foot = geometry.ahead[row], geometry.foot[row]
    front, back = (foot + (way * step)[:, None] * ahead for way in (0.5, -0.5))
    forward = -np.sign(dot(geometry.facing[row], ahead))  # a rise in the way of the light turns the pad up, about h
    return {
        "nod": angles * forward * (up.value(front) - up.value(back)) / step,
        "swing": angles * (aside.value(front) - aside.value(back)) / step,
    }
