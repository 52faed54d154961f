"""The turn of a prism's nose: as written, or so that the light leaves in the direction asked for."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from ..model.machine import Surface
from ..vectors import unit
from .context import Context
from .datum_targets import detector_centre
from .placed_emitters import PlacedEmitter, beam_frame, frame_of
from .resolve_devices import Devices
from .schema_setups import SetupKeys
from .strict_yaml import Block

__all__ = ["prism_turn"]

SQUARE_WITHIN = math.radians(1.0)
"""The light of a prism leaves square to the beam; a direction this far off it is taken for a slip."""


def prism_turn(
    entry: SetupKeys, raw: Block, placed: PlacedEmitter, ends: tuple[str, ...], surfaces: Mapping[str, Surface],
    devices: Devices, context: Context,
) -> float | None:  # fmt: skip
    """Turn of the nose about the beam [rad], 0 without a prism; None where it does not fit, which is then reported.

    At 0 the light leaves toward the up of the emitter's stand, made square to the beam; the turn is right-handed
    about the beam.
    """
    prism = entry.prism
    if prism is None or prism.toward is None:
        return 0.0 if prism is None else prism.turned or 0.0
    stand = frame_of(placed.on, surfaces)
    if stand is None:
        return None
    marks = [context.stations[end] for end in ends if not context.stations[end].is_datum]
    centres = [centre for mark in marks if (centre := detector_centre(mark, surfaces, devices)) is not None]
    beam = beam_frame(stand, placed, (centres[0], centres[1]) if len(centres) == 2 else None)
    if beam is None:
        return 0.0  # no line, which the light says
    toward = stand.directions(unit(np.array(prism.toward)))
    off = abs(math.asin(max(-1.0, min(1.0, float(toward @ beam.along)))))
    if off > SQUARE_WITHIN:
        message = f"the light leaves a prism square to the beam; this direction is {math.degrees(off):.3g} deg off"
        context.say(raw["prism"].values_at["toward"], message, "name a direction square to the beam")
        return None
    return math.atan2(-float(toward @ beam.aside), float(toward @ beam.up))
