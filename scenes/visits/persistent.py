"""Persistent errors: which error of one visit is still the same at the next, and by what it is known again.

The height of a post, the zero of a target, the angle of a prism stay what they are between two visits; a reading, a
seating, a set-up, the drift and the air of the day are drawn anew. What a device or mount states of itself is part of
its name here: a new certificate makes a new error.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable

import numpy as np

from ..errors import GeometryError
from ..hints import listed
from ..model.layout import Layout
from ..tracing.geometry import SurveyGeometry
from ..uncertainty.sources import Source

__all__ = ["EXPANSION", "PERSISTENT", "check_anew", "identities_of", "is_anew"]

Key = tuple[Hashable, ...]

EXPANSION = "expansion of its material"
"""The one error of a machine surface that stays: its temperature is another one every day."""


def _targets(layout: Layout, geometry: SurveyGeometry, source: Source) -> list[Key]:
    """The target that is read; for the glass of a see-through target, the target passed in that place."""
    del layout
    rows = geometry.rows
    _, dot, place = source.field.partition(".")
    if not dot:
        return [(rows.targets[i],) for i in rows.target]
    passed = geometry.plates.row[:, int(place)]
    return [(rows.targets[rows.target[i]],) if i >= 0 else () for i in passed]


def _mounts(layout: Layout, geometry: SurveyGeometry, source: Source) -> list[Key]:
    """A target on its mount; a post of another height is another post."""
    del source
    rows = geometry.rows
    found: list[Key] = []
    for target, station, offset in zip(rows.target, rows.station, rows.mount_offset, strict=True):
        mount = layout.stations[rows.stations[station]].mount
        height = round(mount.height + float(offset), 9)
        found.append((rows.targets[target], mount.kind, height, mount.arm, mount.diameter))
    return found


def _of_setup(part: str) -> Callable[[Layout, SurveyGeometry, Source], list[Key]]:
    """The device that a set-up names under ``part``."""

    def keys(layout: Layout, geometry: SurveyGeometry, source: Source) -> list[Key]:
        del source
        rows = geometry.rows
        return [(getattr(layout.setups[rows.setups[i]], part),) for i in rows.setup]

    return keys


def _prisms(layout: Layout, geometry: SurveyGeometry, source: Source) -> list[Key]:
    del source
    rows = geometry.rows
    uses = [layout.setups[rows.setups[i]].prism for i in rows.setup]
    return [
        (use.prism,) if use is not None and stop >= 0 else ()
        for use, stop in zip(uses, rows.stop.tolist(), strict=True)
    ]


def _surfaces(layout: Layout, geometry: SurveyGeometry, source: Source) -> list[Key]:
    rows = geometry.rows
    if source.name != EXPANSION:
        return [()] * len(rows)
    return [(layout.stations[rows.stations[i]].surface,) for i in rows.station]


PERSISTENT: dict[str, Callable[[Layout, SurveyGeometry, Source], list[Key]]] = {
    "target": _targets,
    "mount": _mounts,
    "emitter": _of_setup("emitter"),
    "base": _of_setup("base"),
    "vial": _of_setup("vial"),
    "prism": _prisms,
    "surface": _surfaces,
}
"""What rows share that is still there at the next visit -> the thing of each row, ``()`` where it has none."""


def identities_of(source: Source, layout: Layout, geometry: SurveyGeometry) -> list[Key] | None:
    """By what the error of each row is known again at another visit; None where it is drawn anew.

    Errors that the layout states in another size at the other visit are other errors, but for the expansion of a
    material, whose size follows the temperature of the day.
    """
    if source.shared not in PERSISTENT or not np.any(source.u != 0.0):
        return None
    keys = PERSISTENT[source.shared](layout, geometry, source)
    if not any(keys):
        return None
    sizes: dict[Key, float] = {}
    for key, u in zip(keys, source.u.tolist(), strict=True):
        sizes[key] = max(sizes.get(key, 0.0), abs(u))
    fixed = source.name != EXPANSION
    return [(source.shared, *key, float(f"{sizes[key]:.9g}") if fixed else 0.0) if key else () for key in keys]


def is_anew(identity: Key, anew: Iterable[str]) -> bool:
    """Whether an error was drawn anew: its word (``mount``), or a name in it (``t1``, ``post``), is among ``anew``."""
    return any(word in identity for word in anew)


def check_anew(anew: Iterable[str], layouts: Iterable[Layout]) -> None:
    """Raise where a word says nothing of what could have been changed.

    Raises
    ------
    GeometryError
        With the words that are understood.
    """
    names: dict[str, None] = dict.fromkeys(PERSISTENT)
    for layout in layouts:
        for things in (layout.targets, layout.emitters, layout.bases, layout.vials, layout.prisms, layout.surfaces):
            names.update(dict.fromkeys(things))
        names.update(dict.fromkeys(station.mount.kind for station in layout.stations.values()))
    unknown = [word for word in anew if word not in names]
    if unknown:
        raise GeometryError(
            f"nothing here is called {listed(unknown)}; what a crew can change between visits: {', '.join(names)}"
        )
