"""Words of the lessons that do not belong to one slider."""

from __future__ import annotations

__all__ = ["HAPPENS", "NAMES", "STEPS"]

NAMES = {
    "base": "Tilt and cone", "prism": "Prism", "air": "Bent beam", "form": "Straightness", "buck_in": "Buck-in",
    "reversal": "Reversal",
}  # fmt: skip
"""Lesson -> its name on the button."""

HAPPENS = {
    "base": (
        "The surface here is perfect. Everything you see comes from the beam.",
        "A tilted base makes a tilted plane: the readings change, and the plane fit takes all of it out.",
        "A beam that is not square to its axis sweeps a cone: a plane cannot follow it, and a dish is left.",
    ),
    "prism": (
        "The light meets two mirrors in the glass and leaves at a right angle to the way it came.",
        "That angle belongs to the glass, not to the mount: it stays the same however the prism is held, but for the "
        "square of a turn about the exit.",
        "What the mount does change is where the exit points sideways, and where the line begins.",
    ),
    "air": (
        "The rail here is perfectly straight. Everything you see comes from the air.",
        "A beam in layers of air bends evenly, like a piece of a very large circle.",
        "Setting it on two targets takes out its drop and its slope, but never its bend.",
    ),
    "form": (
        "A straightness is a distance from a line, and the readings do not say which line.",
        "End points are quick on site, but two readings carry the whole line. Least squares uses all of them.",
        "The minimum zone is the smallest distance between two parallel lines that hold the whole profile: no line "
        "gives less. ISO 12780-1 calls it the minimum zone reference line.",
    ),
    "reversal": (
        "A device cannot tell its own error from that of the machine. Turned by half a turn it brings its error in "
        "with the other sign.",
        "So the mean of both ways is the machine, and half their difference is the device.",
        "What does not turn with the device, such as air or a seat that gave way, stays in the mean.",
    ),
    "buck_in": (
        "The beam is to run through the middle of a near and a far target. The stage of the emitter can be shifted "
        "and tilted.",
        "Each screw spoils what the other one has set, so the two are turned by turns.",
        "A spot on the near target tells the place of the beam, a spot on the far one tells where it goes.",
    ),
}
STEPS = {
    "base": (
        "Move a tilt. The readings differ, and next to nothing is left.",
        "Set the tilts back and move the cone. Now a dish is left: this looks like a bent bed.",
        "Choose all stations at one radius. The same cone is there, and nothing shows it.",
    ),
    "prism": (
        "Turn the prism about its edge as far as it goes: the angle stays. Then about its exit: ten minutes of arc "
        "cost less than two seconds.",
        "Move the angle between the mirrors by two seconds. That small error counts three times.",
        "Choose the swept plane and let the beam enter too high. Both rings show the same wave. Then move the mirrors: "
        "the outer ring is off by more, for the plane has become a cone.",
    ),
    "air": (
        "Leave the beam level and double the distance: the drop becomes four times as large.",
        "Set the beam on near and far. Both ends read nought, and half-way a quarter is left.",
        "Turn the gradient round. The beam bends up, and the rail seems to bend the other way.",
    ),
    "reversal": (
        "Change the error of the device: both ways move apart, and the mean stays.",
        "Look at the prism both ways: the beam comes from the other end, on the same line.",
        "Move something in between. Half of it is in the mean, and the readings look as good as before.",
        "Let the turn fall ten degrees short: the mean hardly moves. Thirty degrees are another matter.",
    ),
    "buck_in": (
        "Take steps until both read nought. Every round leaves the same share.",
        "Bring the near target to 0.5 m and take some rounds, then to 6 m.",
        "Choose the other way round: the beam runs off the far detector. Then tilt past nought: one round is enough.",
        "Take one round the right way and overshoot once. Both read nought, however many rounds were foretold.",
        "Let the hand make 108 %. Rounds now close faster than those of an exact hand, since each of them does a part "
        "of the overshoot.",
    ),
    "form": (
        "Choose one line after another: the marked stations hold the value. The minimum zone has three of them, and "
        "the side of the one lies between the two of the other.",
        "Set the error of the last reading to 20 µm. Watch which value moves most.",
        "Make the shape 0 µm and the scatter 10 µm. The rail is straight, and no line says so.",
    ),
}
