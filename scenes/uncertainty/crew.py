"""The crew: how far emitters and prisms are off from where the plan has them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..model.layout import Layout
from ..model.survey import LevelBy, Method
from ..tracing.geometry import SurveyGeometry
from ..tracing.state import NOMINAL, RowState

__all__ = ["PERFECT", "SetupScatter", "as_set_by_crew"]


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


def as_set_by_crew(layout: Layout, geometry: SurveyGeometry, off: SetupScatter, rng: np.random.Generator) -> RowState:
    """State with every set-up off by a draw of the crew's scatter.

    A base or a line that is levelled by a vial stands as the vial says: how far that is off is an error source of the
    vial. The axis of a spindle is the machine's; the crew is off with the emitter inside it.
    """
    rows = geometry.rows
    placed = rng.standard_normal((3, len(rows.setups)))[:, rows.setup]
    by_hand = np.array([layout.setups[name].level_by is not LevelBy.VIAL for name in rows.setups], dtype=bool)
    tilt = off.tilt * by_hand[rows.setup]
    state = replace(NOMINAL, tilt_x=tilt * placed[0], tilt_y=tilt * placed[1], lift=off.lift * placed[2])
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
    level = np.array([layout.setups[name].method is Method.LINE for name in rows.setups], dtype=bool)[rows.setup]
    level = level & ~by_hand[rows.setup]
    inside = rng.standard_normal((4, len(rows.setups)))[:, rows.setup] * spindle
    return replace(
        state,
        tilt_x=np.where(lines, 0.0, state.tilt_x),
        tilt_y=np.where(lines, off.tilt * moved[0] * ~spindle * ~level, state.tilt_y),
        tilt_z=np.where(lines, off.tilt * moved[1] * ~spindle, 0.0),
        lift=np.where(lines, off.lift * moved[2] * ~spindle, state.lift),
        shift=np.where(lines, off.lift * moved[3] * ~spindle, 0.0),
        cone=off.tilt * inside[0],
        cone_side=off.tilt * inside[1],
        offset_y=off.lift * inside[2],
        offset_z=off.lift * inside[3],
        prism_x=off.prism * nose[0] * (rows.stop >= 0),
        prism_turn=off.turn * nose[1] * (rows.stop >= 0),
    )
