"""Slopes read step by step along lines that cross on a surface: its heights, and how well the lines close."""

from __future__ import annotations

import numpy as np
from scipy.special import chdtrc

from ...errors import GeometryError
from ...units import show
from ...vectors import Floats, unit
from ..form import Reference
from .definition import Definition, Profile, Unreached, Zone
from .evidence import Evidence
from .features import Feature
from .measures import PlaneForm
from .stepped_grid import Stepped, merged_places, solved_steps
from .ties import SHARED, open_shapes
from .zones import zone_of

__all__ = ["slopes_of_surface"]

JOINS = 0.05
"""Feet stand at one place where they are nearer than this share of a step."""

METHOD = "slopes read step by step along crossing lines, solved as one"


def slopes_of_surface(evidence: Evidence, feature: Feature, stations: tuple[str, ...]) -> Definition:
    """Definition of the form of a surface from slopes."""
    task, limit = evidence.task, evidence.limit("")
    if limit is not None and limit.angle:
        raise evidence.refuse("on a surface of crossing lines the limit is a height, such as 20 um, not a slope")
    rises, light = _rises(evidence, feature, stations)
    step = np.array([evidence.layout.targets[evidence.layout.stations[name].target].step for name in stations])
    half, feet = 0.5 * step[:, None] * light, evidence.feet(stations)
    number, places = merged_places(np.concatenate([feet - half, feet + half]), JOINS * float(step.min()))
    k = len(stations)
    plan = (places - places.mean(axis=0)) @ feature.frame.T
    try:
        solved = solved_steps(number[:k], number[k:], step, _shared(evidence, rises, stations), plan)
    except GeometryError as error:
        raise evidence.refuse(str(error)) from None
    names = _names(stations, number, len(places))
    up = np.broadcast_to(feature.direction, places.shape)
    profile = Profile(names, ("up",) * len(names), places, up, np.zeros(len(names)), solved.gain @ rises)
    reference = Reference(task.reference)
    zone = zone_of(evidence, "", profile, PlaneForm(plan, reference), limit, "a plane")
    reached = isinstance(zone, Zone)
    return Definition(
        f"{reference} plane", METHOD, (zone,) if isinstance(zone, Zone) else (),
        unreached=() if reached else (Unreached("", str(zone)),),
        remarks=_closes(evidence, stations, rises, solved), form=True,
    )  # fmt: skip


def _rises(evidence: Evidence, feature: Feature, stations: tuple[str, ...]) -> tuple[Floats, Floats]:
    """Slopes ``(k, p)`` of the surface along the light, + = rises the way that it goes, and these ways ``(k, 3)``."""
    geometry = evidence.network.geometry
    rises, light = np.zeros((len(stations), evidence.unknowns)), np.zeros((len(stations), 3))
    for i, name in enumerate(stations):
        row = int(np.argmax(geometry.rows.station == evidence.number(name)))
        column = evidence.network.column("nod", name)
        assert column is not None
        rises[i, column] = 1.0
        way = -geometry.facing[row]
        light[i] = unit(way - (way @ feature.direction) * feature.direction)
    return rises, light


def _shared(evidence: Evidence, rises: Floats, stations: tuple[str, ...]) -> Floats:
    """What no reading tells of the slopes ``(k, r)``: the angle of every line that they count from.

    Where it is one offset for all that is read from a set-up, it is so exactly; glass leaves traces in what is found.
    """
    found, rows = open_shapes(evidence, rises), evidence.network.geometry.rows
    setup = np.array([rows.setup[int(np.argmax(rows.station == evidence.number(name)))] for name in stations])
    lines = (setup[:, None] == np.unique(setup)).astype(np.float64)
    lines = lines / np.linalg.norm(lines, axis=0)
    alike = lines.shape[1] == found.shape[1] and np.abs(found - lines @ (lines.T @ found)).max() < SHARED
    return lines if alike else found


def _names(stations: tuple[str, ...], number: np.ndarray, count: int) -> tuple[str, ...]:
    """A name for every place of a foot: behind (or before) the first station that stands there."""
    k = len(stations)
    names = [""] * count
    for i in range(k):
        for place, word in ((int(number[k + i]), " far foot"), (int(number[i]), " near foot")):
            names[place] = names[place] or f"{stations[i]}{word}"
    return tuple(names)


def _closes(evidence: Evidence, stations: tuple[str, ...], rises: Floats, solved: Stepped) -> tuple[str, ...]:
    """How well the lines close, against what the errors of the readings let expect."""
    if not solved.redundancy:
        return ("the lines just meet and control no slope: add lines that cross the others",)
    network = evidence.network
    spread = network.spread_of(solved.closing @ rises)
    covariance = spread.covariance()
    values, vectors = np.linalg.eigh(covariance)
    values, vectors = values[-solved.redundancy :], vectors[:, -solved.redundancy :]
    left = solved.closing @ (rises @ network.values)
    chi_square = float(np.sum((vectors.T @ left) ** 2 / values))
    u = np.sqrt(np.diag(covariance))
    tested = np.divide(np.abs(left), u, out=np.zeros(len(u)), where=u > SHARED * u.max())
    worst = int(np.argmax(tested))
    unit_ = evidence.layout.units.angle
    if evidence.visit == "plan":
        return (f"the lines close {solved.redundancy} times",)
    return (
        f"the lines close {solved.redundancy} times, chi-square {chi_square:.1f}; the largest closing error is "
        f"{show(float(left[worst]), unit_, 'angle', sign=True)} at {stations[worst]}, where "
        f"{show(float(u[worst]), unit_, 'angle')} are expected (one standard uncertainty)"
        + ("" if chdtrc(solved.redundancy, chi_square) > SUSPECT else ": step along the line of that station again"),
    )


SUSPECT = 1e-3
"""Closing errors are told as suspect where chance makes them as large less often than this."""
