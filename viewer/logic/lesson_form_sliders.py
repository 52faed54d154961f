"""What can be moved in the lesson of the reference lines, and what a trainer says about it."""

from __future__ import annotations

from scenes.reductions.reference import Reference
from viewer.logic.lesson_movables import Movable, Pick, Slider

__all__ = ["FORM", "FORM_REFERENCES"]

FORM_REFERENCES = {
    "end": Reference.END_POINTS, "least": Reference.LEAST_SQUARES, "zone": Reference.MINIMUM_ZONE,
}  # fmt: skip
"""Ways of the choice -> reference, in the order in which they are shown."""

FORM: tuple[Movable, ...] = (
    Pick(
        "form_reference", "Reference line",
        (("end", "End points"), ("least", "Least squares"), ("zone", "Minimum zone")),
        "All three lines go through the same readings. Straightness is the distance from the highest to the lowest "
        "place, measured from the line. The minimum zone is the line that makes it smallest.",
    ),
    Pick(
        "form_shape", "Shape of the rail",
        (("worn", "Worn"), ("bow", "Bow"), ("wave", "Wave"), ("bump", "High spot"), ("end", "Lifted end")),
        "A bow gives the same value from all three lines. A wave, or a place beside the middle, does not. So a value "
        "without its reference line cannot be checked by anybody.",
    ),
    Slider(
        "form_size", "Size of the shape", 0.0, 60.0, 1.0, "µm", 0,
        "How far the rail departs from a straight line. All three values grow in step with it.",
        40.0,
    ),
    Slider(
        "form_tilt", "Tilt of the beam", -2.0, 2.0, 0.1, "arcsec", 1,
        "The beam need not be parallel to the rail. A tilt moves every reading and the line alike, so that no "
        "straightness changes.",
    ),
    Slider(
        "form_last", "Error of the last reading", -40.0, 40.0, 1.0, "µm", 0,
        "The last station alone reads wrong. The line through the end points swings about the first station and "
        "carries half of the error to the middle. The other two lines feel it less.",
    ),
    Slider(
        "form_scatter", "Scatter of the readings", 0.0, 20.0, 0.5, "µm", 1,
        "Every reading is off by chance, with this standard deviation. Highest and lowest place are then picked from "
        "chance too, so that the value comes out too large on average. The minimum zone suffers least, yet it suffers.",
    ),
)  # fmt: skip
