"""Simulated readings: a known surface read through the measurement model, with a draw of every error source."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from ..model.layout import Layout
from ..model.readings import Readings
from ..tracing.geometry import survey_geometry
from ..tracing.rows import Rows, planned_rows
from ..tracing.spots import spots
from ..tracing.state import NOMINAL
from ..vectors import Floats
from .sources import drawn_state, sources_of

__all__ = ["SetupScatter", "simulate_readings"]


@dataclass(frozen=True, slots=True)
class SetupScatter:
    """How far the crew's levelling is off: standard deviations of tilts [rad] and lift [m] of each set-up."""

    tilt: float = 30e-6
    lift: float = 0.3e-3


PERFECT = SetupScatter(0.0, 0.0)


def simulate_readings(
    layout: Layout,
    truth: Mapping[str, float],
    visit: str,
    rng: np.random.Generator,
    *,
    errors: bool = True,
    scatter: SetupScatter | None = None,
) -> Readings:
    """Readings that the set-ups of ``layout`` would bring home from a surface with known deviations.

    Parameters
    ----------
    truth : mapping of station name to deviation
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
    placed = rng.standard_normal((3, len(rows.setups)))[:, rows.setup]
    state = replace(
        NOMINAL,
        deviation=np.array([truth.get(name, 0.0) for name in rows.stations])[rows.station],
        tilt_x=off.tilt * placed[0],
        tilt_y=off.tilt * placed[1],
        lift=off.lift * placed[2],
    )
    if errors:
        within = np.array([layout.setups[rows.setups[i]].centred_within for i in rows.setup])
        state = replace(state, aim=within * rng.uniform(-1.0, 1.0, len(rows)))
        aimed = spots(geometry, state)
        state = drawn_state(state, sources_of(layout, geometry, np.hypot(aimed.h, aimed.v)), rng, 1)
    seen = spots(geometry, state)
    return _readings(rows, np.ravel(seen.h), np.ravel(seen.v), visit)


def _readings(rows: Rows, h: Floats, v: Floats, visit: str) -> Readings:
    m = len(rows)
    return Readings(
        visit=(visit,) * m,
        setup=tuple(rows.setups[i] for i in rows.setup),
        station=tuple(rows.stations[i] for i in rows.station),
        note=("",) * m,
        h=h,
        v=v,
        time=rows.time,
        mount_offset=rows.mount_offset,
        file=("simulated",) * m,
        row=np.arange(2, m + 2),
    )
