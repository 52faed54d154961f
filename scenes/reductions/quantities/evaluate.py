"""Evaluation of tasks through the network: from the readings of a visit, or as planned."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ...errors import GeometryError
from ...hints import listed
from ...model.finding import Finding, Severity
from ...model.layout import Layout
from ...model.readings import Readings
from ...model.survey import Method, Task
from ...tracing.geometry import CHANNELS, SurveyGeometry, survey_geometry
from ...tracing.rows import planned_rows, rows_of_readings
from ...tracing.spots import spots
from ...tracing.state import NOMINAL, RowState
from ...uncertainty.sources import sources_of
from ...units import show
from ...vectors import Floats
from ..cone_notes import cone_notes
from ..consistency import Consistency, consistency_of
from ..network import Network, observed, solve_network
from ..not_read import stations_not_read
from .components import component_of, deviations_of, hold_of, missing_of
from .dispatch import definition_of
from .evidence import Evidence, evidence_of
from .features import surface_named
from .measured import Measured

__all__ = ["fitted_for", "measured", "network_of_plan", "network_of_visit", "setups_for"]


def setups_for(layout: Layout, task: Task) -> tuple[str, ...]:
    """Set-ups that tell of a task: those that read its stations or are its datum, and all that are tied to them."""
    wanted, on = set(task.stations), {surface_named(layout, name) for name in task.of}
    chosen = {
        name
        for name, setup in layout.setups.items()
        if name == task.to
        or wanted & {*setup.reads, *setup.again}
        or (setup.method is Method.SPINDLE and setup.on in on)
    }
    while True:
        read = {station for name in chosen for station in layout.setups[name].reads}
        more = {name for name, setup in layout.setups.items() if read & set(setup.reads)} - chosen
        if not more:
            return tuple(name for name in layout.setups if name in chosen)
        chosen |= more


def _within(layout: Layout, geometry: SurveyGeometry) -> Floats:
    rows = geometry.rows
    return np.array([layout.setups[rows.setups[i]].centred_within for i in rows.setup], dtype=np.float64)


def _off_centre(geometry: SurveyGeometry, within: Floats) -> RowState:
    """The planned state with every spot as far off the middle as the crew may leave it: a roll then turns it aside."""
    lines, prisms = ~geometry.sweeps, geometry.rows.stop >= 0
    swept = ~(geometry.reads["h"] & geometry.reads["v"])
    return replace(
        NOMINAL, aim=np.where(swept, within, 0.0), lift=within * lines, shift=within * lines, prism_x=within * prisms
    )


def fitted_for(task: Task) -> tuple[str, ...]:
    """Nuisances that are solved for with a task."""
    return task.fitted


def network_of_plan(layout: Layout, setups: tuple[str, ...], fitted: tuple[str, ...] = ()) -> Network:
    """What planned readings of some set-ups would find on a perfect machine.

    Parameters
    ----------
    fitted : tuple of str
        Nuisances that are solved for too.

    Raises
    ------
    GeometryError
        Where a set-up cannot be traced.
    """
    part = replace(layout, setups={name: layout.setups[name] for name in setups})
    rows = planned_rows(part)
    if len(rows) == 0:
        raise GeometryError("no set-up reads any of its stations")
    geometry = survey_geometry(part, rows)
    within = _within(layout, geometry)
    swept = ~(geometry.reads["h"] & geometry.reads["v"])
    seen = spots(geometry, _off_centre(geometry, within))
    values = {channel: np.array(np.broadcast_to(getattr(seen, channel), (len(rows),))) for channel in CHANNELS}
    for channel, free in (("h", geometry.frees_h), ("v", ~geometry.frees_h)):
        values[channel][swept & free] = np.nan  # nobody has noted it: the spot stands as near as agreed
    of = observed(geometry, values, within)
    return solve_network(layout, geometry, of, sources_of(layout, geometry), fitted=fitted)


def network_of_visit(
    layout: Layout, setups: tuple[str, ...], readings: Readings, visit: str, fitted: tuple[str, ...] = ()
) -> tuple[Network, tuple[str, ...]]:
    """The network of the records of one visit from some set-ups, and where each record stands, in words.

    Raises
    ------
    GeometryError
        Where the visit has no record from them, or none that tells anything.
    """
    told = np.any([np.isfinite(getattr(readings, channel)) for channel in CHANNELS], axis=0)
    wanted = np.array([name in setups for name in readings.setup], dtype=bool) & told
    rows, numbers = rows_of_readings(layout, readings, visit, wanted)
    if len(rows) == 0:
        raise GeometryError(f"the visit has no record from set-up{'s' * (len(setups) > 1)} {listed(setups)}")
    geometry = survey_geometry(layout, rows)
    within = _within(layout, geometry)
    values = {channel: np.asarray(getattr(readings, channel))[numbers] for channel in CHANNELS}
    h, v = (np.where(np.isnan(values[channel]), within, values[channel]) for channel in ("h", "v"))
    off = np.hypot(h, v)
    count = np.bincount(rows.seat)
    off = (np.bincount(rows.seat, off) / count)[rows.seat]
    of = observed(geometry, values, within)
    network = solve_network(layout, geometry, of, sources_of(layout, geometry, off), fitted=fitted)
    return network, tuple(f"{readings.file[i]}, row {readings.row[i]}" for i in numbers)


def measured(evidence: Evidence, rng: np.random.Generator, trials: int, records: tuple[str, ...] = ()) -> Measured:
    """Every component of a task, with uncertainty and verdict.

    Parameters
    ----------
    records : tuple of str
        Where the record of each row stands, for findings.

    Raises
    ------
    GeometryError
        Where the readings tell no component of it; the message says which reading is missing.
    """
    definition, network = definition_of(evidence), evidence.network
    missing, hold = missing_of(evidence), hold_of(evidence, definition)
    found = [component_of(evidence, asked, hold, rng, trials) for asked in definition.values]
    shown = [deviations_of(evidence, profile) for profile in definition.shown]
    consistency = consistency_of(network)
    return Measured(
        evidence=evidence,
        definition=definition,
        components=tuple(component for component, _ in found),
        deviations=(*(each for _, each in found if each is not None), *shown),
        unreached=definition.unreached,
        missing=missing,
        consistency=consistency,
        findings=(
            *stations_not_read(evidence.task, missing),
            *_outliers(evidence, consistency, records),
            *cone_notes(evidence.layout, network),
        ),
        remarks=definition.remarks,
        records=records,
    )


def _outliers(evidence: Evidence, consistency: Consistency, records: tuple[str, ...]) -> list[Finding]:
    """Readings that do not agree with the others, named and kept."""
    units, rows = evidence.layout.units, evidence.network.geometry.rows
    found = []
    for outlier in consistency.outliers:
        row = int(evidence.network.observations.row[outlier.row])
        channel = CHANNELS[int(evidence.network.observations.channel[outlier.row])]
        angle = channel in ("pitch", "yaw")
        error = show(outlier.error, units.angle, "angle", sign=True) if angle else show(
            outlier.error, units.deviation, sign=True
        )  # fmt: skip
        name, setup = rows.stations[rows.station[row]], rows.setups[rows.setup[row]]
        place = f" ({records[row]})" if records else ""
        found.append(
            Finding(
                Severity.WARNING, "readings-differ", "station", name,
                f"the reading {channel} of {name} from {setup}{place} does not agree with the others: if they are "
                f"right, it is off by {error}, {outlier.normalised:.1f} times its standard uncertainty",
                "it was used all the same: read this station and its neighbours again",
                setup=setup,
            )
        )  # fmt: skip
    return found


def measured_plan(layout: Layout, task: Task) -> Evidence:
    """Evidence of the plan for a task."""
    return evidence_of(layout, task, "plan", network_of_plan(layout, setups_for(layout, task), fitted_for(task)))
