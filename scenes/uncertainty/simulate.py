"""Simulated readings: a known machine read through the measurement model, with a draw of every error source."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from ..model.layout import Layout
from ..model.readings import Readings
from ..model.truth import Truth
from ..tracing.geometry import SurveyGeometry, survey_geometry
from ..tracing.rows import Rows, planned_rows
from ..tracing.spots import spots
from ..tracing.state import RowState, changed
from ..vectors import Flags, Floats
from .crew import PERFECT, SetupScatter, as_set_by_crew
from .drawn_truth import drawn_truth
from .faults import Fault, HiddenFault, exchanged, hidden_fault, with_faults
from .sources import Source, sources_of

__all__ = ["PERFECT", "DrawnError", "SetupScatter", "Simulated", "Truth", "readings_of", "simulate_readings",
           "simulated"]  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class DrawnError:
    """One draw of one error source: the value ``(m,)`` at every reading, SI units of the source's field."""

    source: Source
    value: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Simulated:
    """Simulated readings with everything that made them; m readings.

    Attributes
    ----------
    readings : Readings
        With the signs of the model (spot up, spot right), in the planned order and at the planned pace.
    truth : Truth
    faults : tuple of HiddenFault
    state : RowState
        All that the readings depend on, fields ``(m,)`` or ``()``; tracing it again gives the readings, before records
        are exchanged.
    geometry : SurveyGeometry
    as_set : RowState
        How the crew has set emitters and prisms.
    aim : (m,) float
        Where the crew has brought the spot in the direction that carries no information, metres.
    errors : tuple of DrawnError
    """

    readings: Readings
    truth: Truth
    faults: tuple[HiddenFault, ...]
    state: RowState
    geometry: SurveyGeometry
    as_set: RowState
    aim: Floats
    errors: tuple[DrawnError, ...]

    @property
    def off_window(self) -> Flags:
        """Readings ``(m,)`` whose spot leaves its detector, or never meets it: nobody could read them."""
        half = 0.5 * self.geometry.window
        on = (np.abs(self.readings.h) <= half[:, 0]) & (np.abs(self.readings.v) <= half[:, 1])
        return ~on


def simulated(
    layout: Layout,
    rng: np.random.Generator,
    truth: Truth | None = None,
    faults: Iterable[Fault] = (),
    *,
    visit: str = "as found",
    size: float | None = None,
    perfect: bool = False,
    scatter: SetupScatter | None = None,
) -> Simulated:
    """Readings that the set-ups of ``layout`` would bring home from a machine whose truth is known.

    Truth, errors and every fault are drawn from streams of their own, so that the same seed draws the same errors with
    and without a fault, and for any truth.

    Parameters
    ----------
    truth : Truth, optional
        What the machine is; drawn as `drawn_truth` says where left out.
    faults : iterable of Fault
        What goes wrong without anybody noting it.
    visit : str
        ``as found``, ``as left`` or a name.
    size : float, optional
        Peak-to-valley value [m] of drawn surfaces.
    perfect : bool
        True leaves every error source and the crew's setting at zero; truth and faults stay.
    scatter : SetupScatter, optional
        How well the crew sets emitters and prisms; a usual crew where left out.

    Raises
    ------
    InputError
        Where the survey cannot have a fault.
    GeometryError
        Where the layout cannot be traced.
    """
    geometry = survey_geometry(layout, planned_rows(layout))
    for_truth, for_survey, for_faults = rng.spawn(3)
    real = drawn_truth(layout, geometry, for_truth, size) if truth is None else truth
    off = PERFECT if perfect else scatter or SetupScatter()
    as_set = as_set_by_crew(layout, geometry, off, for_survey)
    state = replace(as_set, **_of_rows(real, geometry.rows))
    hidden: tuple[HiddenFault, ...] = ()
    asked = tuple(faults)
    for fault, stream in zip(asked, for_faults.spawn(len(asked)), strict=True):
        hidden += (hidden_fault(layout, geometry, with_faults(state, hidden), fault, stream),)
    state, aim = with_faults(state, hidden), np.zeros(len(geometry.rows))
    errors: tuple[DrawnError, ...] = ()
    if not perfect:
        state, aim, errors = _with_errors(layout, geometry, state, for_survey)
    readings = exchanged(readings_of(layout, geometry, state, visit), hidden)
    return Simulated(readings, real, hidden, state, geometry, as_set, aim, errors)


def simulate_readings(
    layout: Layout,
    truth: Mapping[str, float] | Truth,
    visit: str,
    rng: np.random.Generator,
    *,
    errors: bool = True,
    scatter: SetupScatter | None = None,
) -> Readings:
    """Readings alone, as of `simulated`, drawn from ``rng`` itself.

    Parameters
    ----------
    truth : Truth, or mapping of station name to deviation
        Metres, + = high; stations that are not named stand at 0.
    errors : bool
        False leaves every error source at zero.
    scatter : SetupScatter, optional
        Default: a usual crew when ``errors`` is set, else none.
    """
    geometry = survey_geometry(layout, planned_rows(layout))
    off = scatter if scatter is not None else (SetupScatter() if errors else PERFECT)
    real = truth if isinstance(truth, Truth) else Truth(up=truth)
    state = replace(as_set_by_crew(layout, geometry, off, rng), **_of_rows(real, geometry.rows))
    if errors:
        state = _with_errors(layout, geometry, state, rng)[0]
    return readings_of(layout, geometry, state, visit)


def _of_rows(truth: Truth, rows: Rows) -> dict[str, Floats]:
    """Fields of the state ``(m,)`` that a truth sets."""
    parts = {"deviation": truth.up, "deviation_side": truth.aside, "nod": truth.nod, "swing": truth.swing}
    return {
        name: np.array([part.get(station, 0.0) for station in rows.stations], dtype=np.float64)[rows.station]
        for name, part in parts.items()
    }


def _with_errors(
    layout: Layout, geometry: SurveyGeometry, state: RowState, rng: np.random.Generator
) -> tuple[RowState, Floats, tuple[DrawnError, ...]]:
    """``state`` with a draw of every error source, where the crew centred each spot, and the draws."""
    rows = geometry.rows
    within = np.array([layout.setups[rows.setups[i]].centred_within for i in rows.setup])
    swept = ~(geometry.reads["h"] & geometry.reads["v"])
    aim = np.where(swept, within * rng.uniform(-1.0, 1.0, len(rows)), 0.0)
    state = replace(state, aim=aim)
    aimed = spots(geometry, state)
    errors = []
    for source in sources_of(layout, geometry, np.hypot(aimed.h, aimed.v)):
        value = source.distribution.draw(rng, (1, int(source.group.max()) + 1))[0, source.group] * source.u
        state = changed(state, source.field, value)
        errors.append(DrawnError(source, value))
    return state, aim, tuple(errors)


def readings_of(layout: Layout, geometry: SurveyGeometry, state: RowState, visit: str) -> Readings:
    """What the targets say in ``state``, as records of one visit."""
    rows, seen = geometry.rows, spots(geometry, state)
    m = len(rows)
    angles = geometry.reads["pitch"]
    turned = np.array([bool(layout.setups[name].clocks) for name in rows.setups], dtype=bool)[rows.setup]
    clocks = np.array([bool(layout.stations[name].clocks) for name in rows.stations], dtype=bool)[rows.station]
    clock = np.where(turned, rows.turn, np.where(clocks, rows.clock, np.nan))

    def read(channel: str) -> Floats:
        return np.array(np.broadcast_to(getattr(seen, channel), (1, m))[0])

    return Readings(
        visit=(visit,) * m,
        setup=tuple(rows.setups[i] for i in rows.setup),
        station=tuple(rows.stations[i] for i in rows.station),
        note=("",) * m,
        h=read("h"),
        v=read("v"),
        pitch=np.where(angles, read("pitch"), np.nan),
        yaw=np.where(angles, read("yaw"), np.nan),
        clock=clock,
        side=rows.side,
        time=rows.time,
        mount_offset=rows.mount_offset,
        file=("simulated",) * m,
        row=np.arange(2, m + 2),
    )
