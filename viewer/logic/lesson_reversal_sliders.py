"""What can be moved in the lesson of reversal, and what a trainer says about it."""

from __future__ import annotations

from viewer.logic.lesson_movables import Choice, Movable, Pick, Slider

__all__ = ["REVERSAL"]

REVERSAL: tuple[Movable, ...] = (
    Pick(
        "rev_device", "What is turned",
        (("emitter", "Emitter in its V"), ("prism", "Prism"), ("vial", "Vial")),
        "The beam leaves its housing a little askew, a prism turns it by not quite a right angle, a vial does not "
        "show quite level. Each of them carries its error round when it is turned by half a turn.",
    ),
    Choice(
        "rev_turned", "As set up", "Turned by half a turn",
        "The picture shows one way at a time. The machine stays as it is; only what the device does to the beam "
        "changes its sign.",
    ),
    Slider(
        "rev_truth", "True angle", -20.0, 20.0, 0.5, "arcsec", 1,
        "What the machine has: the slope or the error of squareness that is to be found. Both ways show it with the "
        "same sign, so that it stays in the mean.",
        6.0,
    ),
    Slider(
        "rev_error", "Error of the device", -20.0, 20.0, 0.5, "arcsec", 1,
        "It comes in with one sign as set up and with the other one turned. The mean loses it, and half the difference "
        "is this very error.",
        10.0,
    ),
    Slider(
        "rev_moved", "Moved in between", -10.0, 10.0, 0.5, "arcsec", 1,
        "What changes between the two ways has not been turned with the device. Half of it stays in the mean, and "
        "nothing shows it. So check the line before and after.",
    ),
    Slider(
        "rev_short", "Turn falls short", 0.0, 30.0, 1.0, "deg", 0,
        "A turn by less than 180 degrees sends part of the error sideways, where this reading does not see it. Ten "
        "degrees short leave less than 1 % of the error in the mean, so a turn by eye will do. A prism cannot fall "
        "short, since its exit has to meet the same targets.",
    ),
)  # fmt: skip
