"""Simulated readings: a known surface read through the measurement model, with a draw of every error source."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from ..model.layout import Layout
from ..model.readings import Readings
from ..model.survey import Method
from ..tracing.geometry import SurveyGeometry, survey_geometry
from ..tracing.rows import Rows, planned_rows
from ..tracing.spots import spots
from ..tracing.state import NOMINAL, RowState
from ..vectors import Floats
from .sources import drawn_state, sources_of

__all__ = ["PERFECT", "SetupScatter", "Truth", "readings_of", "simulate_readings"]


@dataclass(frozen=True, slots=True)
class SetupScatter:
    """How far the crew's setting is off: standard deviations of angles [rad] and shifts [m] of each set-up.

    ``prism`` [m] and ``turn`` [rad] are those of a nose along the beam and about it.
    """

    tilt: float = 30e-6
    lift: float = 0.3e-3
    prism: float = 0.5e-3
    turn: float = 0.2e-3


PERFECT = SetupScatter(0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Truth:
    """What the machine really is, by station: metres, and rad for the slopes; what is not named is at 0.

    Attributes
    ----------
    up, aside : mapping
        Deviation along the normal of the surface, and along normal x along.
    nod, swing : mapping
        Slopes that a pitch/yaw target sees: its pad turned about h and about v.
    """

    up: Mapping[str, float] = field(default_factory=dict)
    aside: Mapping[str, float] = field(default_factory=dict)
    nod: Mapping[str, float] = field(default_factory=dict)
    swing: Mapping[str, float] = field(default_factory=dict)

    def of_rows(self, rows: Rows) -> dict[str, Floats]:
        """Fields of the state for ``rows``."""
        parts = {"deviation": self.up, "deviation_side": self.aside, "nod": self.nod, "swing": self.swing}
        return {
            name: np.array([part.get(station, 0.0) for station in rows.stations], dtype=np.float64)[rows.station]
            for name, part in parts.items()
        }


def simulate_readings(
    layout: Layout,
    truth: Mapping[str, float] | Truth,
    visit: str,
    rng: np.random.Generator,
    *,
    errors: bool = True,
    scatter: SetupScatter | None = None,
) -> Readings:
    """Readings that the set-ups of ``layout`` would bring home from a surface with known deviations.

    Parameters
    ----------
    truth : Truth, or mapping of station name to deviation
        Metres, + = high; stations that are not named stand at 0.
    errors : bool
        False leaves every error source at zero.
    scatter : SetupScatter, optional
        Default: a usual crew when ``errors`` is set, else none.

    Returns
    -------
    Readings
        With the signs of the model (spot up, spot right), in the planned order and at the planned pace.
    """
    rows = planned_rows(layout)
    geometry = survey_geometry(layout, rows)
    off = scatter if scatter is not None else (SetupScatter() if errors else PERFECT)
    real = truth if isinstance(truth, Truth) else Truth(up=truth)
    state = replace(_as_set(layout, geometry, off, rng), **real.of_rows(rows))
    if errors:
        within = np.array([layout.setups[rows.setups[i]].centred_within for i in rows.setup])
        swept = ~(geometry.reads["h"] & geometry.reads["v"])
        state = replace(state, aim=np.where(swept, within * rng.uniform(-1.0, 1.0, len(rows)), 0.0))
        aimed = spots(geometry, state)
        state = drawn_state(state, sources_of(layout, geometry, np.hypot(aimed.h, aimed.v)), rng, 1)
    return readings_of(layout, geometry, state, visit)


def _as_set(layout: Layout, geometry: SurveyGeometry, off: SetupScatter, rng: np.random.Generator) -> RowState:
    """State with every set-up off by a draw of the crew's scatter."""
    rows = geometry.rows
    placed = rng.standard_normal((3, len(rows.setups)))[:, rows.setup]
    state = replace(NOMINAL, tilt_x=off.tilt * placed[0], tilt_y=off.tilt * placed[1], lift=off.lift * placed[2])
    if geometry.sweeps.all():
        return state
    lines = ~geometry.sweeps
    side = np.array([layout.setups[name].prism is not None for name in rows.setups], dtype=np.int64)[rows.setup]
    launch, stop = (
        np.unique(np.stack(keys, axis=1), axis=0, return_inverse=True)[1].reshape(-1)
        for keys in ((rows.setup, rows.side * side), (rows.setup, rows.side, rows.stop))
    )
    moved = rng.standard_normal((4, int(launch.max()) + 1))[:, launch]
    nose = rng.standard_normal((2, int(stop.max()) + 1))[:, stop]
    spindle = np.array([layout.setups[name].method is Method.SPINDLE for name in rows.setups], dtype=bool)[rows.setup]
    inside = rng.standard_normal((4, len(rows.setups)))[:, rows.setup] * spindle
    return replace(
        state,
        tilt_x=np.where(lines, 0.0, state.tilt_x),
        tilt_y=np.where(lines, off.tilt * moved[0], state.tilt_y),
        tilt_z=np.where(lines, off.tilt * moved[1], 0.0),
        lift=np.where(lines, off.lift * moved[2], state.lift),
        shift=np.where(lines, off.lift * moved[3], 0.0),
        cone=off.tilt * inside[0],
        cone_side=off.tilt * inside[1],
        offset_y=off.lift * inside[2],
        offset_z=off.lift * inside[3],
        prism_x=off.prism * nose[0] * (rows.stop >= 0),
        prism_turn=off.turn * nose[1] * (rows.stop >= 0),
    )


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
