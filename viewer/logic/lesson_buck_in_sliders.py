"""What can be moved in the lesson of bucking in, and what a trainer says about it."""

from __future__ import annotations

from viewer.logic.lesson_movables import Movable, Pick, Press, Slider

__all__ = ["BUCK_IN", "NEXT_STEP", "ONE_ROUND", "OVERSHOOT"]

NEXT_STEP, ONE_ROUND, OVERSHOOT = "buck_step", "buck_round", "buck_overshoot"

BUCK_IN: tuple[Movable, ...] = (
    Pick(
        "buck_way", "Way",
        (("closes", "Shift near, tilt far"), ("runs", "Shift far, tilt near"), ("past", "Tilt past, then shift")),
        "A tilt moves the far spot more than the near one, a shift moves both alike. Shifting at the near target and "
        "tilting at the far one therefore closes. Whoever knows the distances tilts past nought and is done in one "
        "round.",
    ),
    Press(
        NEXT_STEP, "Next step",
        "One screw is turned until one target reads what it should. Then the other target is looked at, and it has "
        "moved.",
    ),
    Press(
        ONE_ROUND, "One round",
        "Both screws, one after the other. The chart shows what the round has left.",
    ),
    Press(
        OVERSHOOT, "Overshoot once",
        "The far spot is tilted past nought, until the beam runs beside the line and parallel to it. One shift then "
        "brings both targets home. How far to go past follows from the two distances.",
    ),
    Slider(
        "buck_near", "Near target at", 0.5, 6.0, 0.1, "m", 1,
        "Each round leaves the share near distance over far distance. The nearer the near target stands to the "
        "emitter, the fewer rounds it takes.",
        2.0,
    ),
    Slider(
        "buck_angle", "Angle at the start", -3.0, 3.0, 0.1, "arcmin", 1,
        "How far the beam points off the line before anybody has touched the stage. A larger angle costs further "
        "rounds, but only a few: each round takes out the same share.",
        2.0,
    ),
    Slider(
        "buck_offset", "Offset at the start", -3.0, 3.0, 0.1, "mm", 1,
        "How far the emitter stands beside the line. A shift alone would take it out, were there no angle.",
        -1.0,
    ),
    Slider(
        "buck_hand", "The hand makes", 60.0, 140.0, 1.0, "%", 0,
        "Share of the wanted movement that the hand at the screw really makes. Stopping short costs rounds. Going past "
        "by a little saves some, and by too much costs them again.",
        100.0,
    ),
)  # fmt: skip
