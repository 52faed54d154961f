"""Nuisances: errors of devices that are solved for together with the machine, where a task asks for it.

A nuisance that readings tell counts with what is stated of it as one more observation, so that solving for it never
knows less than the certificate. One that they do not tell stays what it was: a source. Only a cone may be found from
the shape of a surface, on the assumption that the surface itself holds no such dish.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..errors import GeometryError
from ..model.layout import Layout
from ..model.survey import Method, Setup
from ..tracing.geometry import SurveyGeometry
from ..uncertainty.sources import Source
from ..vectors import Flags, Floats, frozen
from .unknowns import Unknown, keyed

__all__ = ["NUISANCES", "Nuisance", "Prior", "nuisances_of", "without_fitted"]

Key = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Nuisance:
    """An error that can be solved for.

    Attributes
    ----------
    about : str
        In words.
    sources : mapping of field to source
        Fields of the state that are solved for, and the error source that each one takes the place of; empty: none.
    key : callable
        ``(layout, geometry, row) -> key`` of the rows that share one value; an empty key: the row has none.
    more : str
        What would tell it.
    """

    about: str
    sources: dict[str, str]
    key: Callable[[Layout, SurveyGeometry, int], Key]
    more: str


def _setup(layout: Layout, geometry: SurveyGeometry, row: int) -> Setup:
    return layout.setups[geometry.rows.setups[geometry.rows.setup[row]]]


def _base(layout: Layout, geometry: SurveyGeometry, row: int) -> Key:
    setup = _setup(layout, geometry, row)
    return (setup.base,) if setup.method is Method.BASE_PLANE else ()


def _prism(layout: Layout, geometry: SurveyGeometry, row: int) -> Key:
    setup = _setup(layout, geometry, row)
    return (setup.prism.prism,) if setup.prism is not None and geometry.rows.stop[row] >= 0 else ()


def _stop(layout: Layout, geometry: SurveyGeometry, row: int) -> Key:
    setup, rows = _setup(layout, geometry, row), geometry.rows
    if setup.prism is None or rows.stop[row] < 0:
        return ()
    return setup.name, str(int(rows.side[row])), setup.prism.stops[rows.stop[row]].name


def _target(_layout: Layout, geometry: SurveyGeometry, row: int) -> Key:
    return (geometry.rows.targets[geometry.rows.target[row]],)


def _of_setup(layout: Layout, geometry: SurveyGeometry, row: int) -> Key:
    return (_setup(layout, geometry, row).name,)


NUISANCES: dict[str, Nuisance] = {
    "cone": Nuisance(
        "cone of the base", {"cone": "beam not square to the base axis"}, _base,
        "read some stations from a second place, at other radii"),
    "prism error": Nuisance(
        "angle of the prism",
        {"mirror": "mirror angle of the prism", "pyramid": "pyramid of the prism"}, _prism,
        "read with the prism reversed as well"),
    "decentring": Nuisance(
        "decentring of the prism", {"prism_y": "centring of the prism", "prism_z": "centring of the prism"}, _stop,
        "read some stations from a second set-up"),
    "roll": Nuisance(
        "roll of the target", {"roll": ""}, _target,
        "read some stations with spots that stand far apart on the detector"),
    "drift": Nuisance(
        "drift of the beam", {"drift": "drift of the emitter", "drift_side": "drift of the emitter"}, _of_setup,
        "read some stations once more at the end"),
}  # fmt: skip
"""Every nuisance by the word that a task uses for it."""


@dataclass(frozen=True, slots=True)
class Prior:
    """What is known of one nuisance beforehand: its field and key, and its standard uncertainty; 0: nothing."""

    word: str
    field: str
    key: Key
    u: float
    source: str


def nuisances_of(
    layout: Layout, geometry: SurveyGeometry, sources: Sequence[Source], words: Sequence[str]
) -> tuple[tuple[Unknown, ...], tuple[Prior, ...]]:
    """Unknowns of the nuisances named by ``words``, and what is known of each of their values.

    Raises
    ------
    GeometryError
        A word that names none.
    """
    unknowns: list[Unknown] = []
    priors: list[Prior] = []
    for word in words:
        if word not in NUISANCES:
            raise GeometryError(f"{word!r} is no error that can be solved for; these can: {', '.join(NUISANCES)}")
        nuisance = NUISANCES[word]
        keys = [nuisance.key(layout, geometry, row) for row in range(len(geometry.rows))]
        mine = np.array([bool(key) for key in keys], dtype=bool)
        if not mine.any():
            continue
        for field, source in nuisance.sources.items():
            unknown = keyed(field, keys, mine)
            unknowns.append(unknown)
            for number, key in enumerate(unknown.keys):
                here = unknown.group == number
                priors.append(Prior(word, field, key, _stated(sources, field, source, here), source))
    return tuple(unknowns), tuple(priors)


def _stated(sources: Sequence[Source], field: str, name: str, rows: Flags) -> float:
    """Standard uncertainty that is stated for a value that some rows share."""
    found = [float(each.u[rows].max()) for each in sources if each.field == field and each.name == name]
    return float(np.hypot.reduce(found)) if found else 0.0


def without_fitted(
    sources: Sequence[Source], unknowns: Sequence[Unknown], priors: Sequence[Prior]
) -> tuple[Source, ...]:
    """The sources without those whose place a nuisance takes."""
    names = {(prior.field, prior.source) for prior in priors if prior.source}
    kept = []
    for each in sources:
        if (each.field, each.name) in names:
            solved: Floats = np.zeros(len(each.u))
            for unknown in unknowns:
                if unknown.field == each.field:
                    solved = np.maximum(solved, unknown.group >= 0)
            each = replace(each, u=frozen(np.where(solved > 0.0, 0.0, each.u)))
            if not each.u.any():
                continue
        kept.append(each)
    return tuple(kept)
