"""The chosen station of a diagnosis: how each of its readings agrees with all others; plain data."""

from __future__ import annotations

from typing import Any

import numpy as np

from scenes.model.layout import Layout
from scenes.tracing.geometry import CHANNELS
from scenes.units import show
from viewer import text
from viewer.logic.diagnosis_closures import mark_of_size
from viewer.logic.diagnosis_drawn import residuals_of
from viewer.logic.diagnosis_held import Diagnosed
from viewer.report.diagnosis_words import unit_of

__all__ = ["station_card"]

Document = dict[str, Any]

ALONE = {"kind": "note", "shape": "○", "word": "controlled by no other reading"}


def station_card(layout: Layout, held: Diagnosed, station: str) -> Document | None:
    """Each reading of a station: what is left of it, and how far it stands off what all others say."""
    rows, of = held.network.geometry.rows, held.network.observations
    if station not in rows.stations:
        return None
    told = residuals_of(held.network)
    mine = np.nonzero(rows.station[of.row] == rows.stations.index(station))[0]
    facts = []
    for number in mine.tolist():
        row, channel = int(of.row[number]), CHANNELS[int(of.channel[number])]
        kind = "angle" if channel in ("pitch", "yaw") else "length"
        left = show(float(held.network.residual[number]), unit_of(layout, kind), kind, sign=True)
        size = float(told[number])
        known = not np.isnan(size)
        mark = {**mark_of_size(size), "word": f"{abs(size):.1f} σ off the others"} if known else dict(ALONE)
        facts.append({
            "key": number, **mark, "reading": f"{channel} from {rows.setups[rows.setup[row]]}",
            "left": f"left of it {text.spelled(left)}" if known else "",
        })  # fmt: skip
    return {"name": station, "facts": facts}
