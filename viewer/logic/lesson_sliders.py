"""What can be moved in each lesson: names in the state, ranges, and what a trainer says about each of them."""

from __future__ import annotations

from viewer.logic.lesson_buck_in_sliders import BUCK_IN
from viewer.logic.lesson_form_sliders import FORM
from viewer.logic.lesson_movables import Choice, Movable, Slider
from viewer.logic.lesson_reversal_sliders import REVERSAL

__all__ = ["AIR", "BASE", "LESSONS", "PRISM", "PRISM_SWEEPS"]

BASE: tuple[Movable, ...] = (
    Choice(
        "one_radius", "Stations spread out", "All at one radius",
        "From the middle of a ring every station stands equally far away. A cone then lifts all readings alike, and "
        "nobody can tell it from a plane that stands a little higher. Flatness does not suffer, but the cone cannot be "
        "found either.",
    ),
    Slider(
        "tilt_x", "Tilt about x", -20.0, 20.0, 0.5, "arcsec", 1,
        "The base leans, and its whole plane leans with it. The readings change along one direction of the surface. "
        "A plane fit takes all of that out again.",
    ),
    Slider(
        "tilt_y", "Tilt about y", -20.0, 20.0, 0.5, "arcsec", 1,
        "The same the other way round: the plane rises or falls along the length. Levelling need not be perfect, "
        "because the fit finds the plane that was really swept.",
    ),
    Slider(
        "cone", "Cone of the beam", -20.0, 20.0, 0.5, "arcsec", 1,
        "The beam rises a little from the plane that it should sweep, and turning makes a flat cone of it. The error "
        "grows with the distance from the base. No plane can follow a cone, so a dish is left that looks like a bent "
        "surface.",
    ),
)  # fmt: skip

PRISM_SWEEPS = Choice(
    "prism_sweeps", "One line", "Swept plane",
    "Clamped, the prism makes one line square to the beam. Turned in its nose about the beam, it sweeps a plane. That "
    "plane stands square to the beam that enters, whatever the nose does.",
)  # fmt: skip

PRISM: tuple[Movable, ...] = (
    PRISM_SWEEPS,
    Slider(
        "prism_edge", "Turn about its edge", -10.0, 10.0, 0.5, "arcmin", 1,
        "Both mirrors turn together, and the second undoes what the first one does. The exit keeps its right angle, "
        "however far the prism is turned about its edge. Only the place where the light leaves moves a little.",
    ),
    Slider(
        "prism_roll", "Turn about the beam", -10.0, 10.0, 0.5, "arcmin", 1,
        "The exit goes round like the hand of a clock. The right angle stays exact, but the line leaves its plane by "
        "the whole turn. A spot that is read along the beam only does not care; one that is read across does.",
    ),
    Slider(
        "prism_exit", "Turn about its exit", -10.0, 10.0, 0.5, "arcmin", 1,
        "The line leaves its plane by the whole turn, and the right angle loses the square of it. Ten minutes of arc "
        "cost less than two seconds. So a prism is set up with care, not with instruments.",
    ),
    Slider(
        "prism_mirror", "Angle of the mirrors", -10.0, 10.0, 0.5, "arcsec", 1,
        "Both mirrors should stand at 45 degrees to each other. What is missing turns the exit by twice the index of "
        "the glass: about three times as much. Turning the prism does not show it; reading from the other end of the "
        "line does.",
    ),
    Slider(
        "prism_pyramid", "Lean of a mirror", -10.0, 10.0, 0.5, "arcsec", 1,
        "A mirror that leans out of the section of the prism throws the exit sideways, nearly three times as far. The "
        "right angle hardly notices. In a swept plane it does nothing: the nose is turned until the spot stands over "
        "the target anyway.",
    ),
    Slider(
        "prism_up", "Beam enters higher", -0.5, 0.5, 0.02, "mm", 2,
        "The beam passes beside the axis that the nose turns about. It leaves the prism nearer to the emitter or "
        "farther away, by the same amount. While the plane is swept this becomes one wave a turn, equally high at "
        "every radius.",
    ),
    Slider(
        "prism_right", "Beam enters right", -0.5, 0.5, 0.02, "mm", 2,
        "With the exit pointing up, nothing happens along the line. A quarter of a turn later this offset does "
        "what the other one does at the top. So decentring has a size and a direction, and the wave begins where the "
        "beam is off.",
    ),
)  # fmt: skip

AIR: tuple[Movable, ...] = (
    Choice(
        "air_zeroed", "Level at the emitter", "Set on near and far",
        "A crew sets the beam so that the near and the far target read nought. The beam then looks straight, for both "
        "ends are right. Half-way it is off by about a quarter of what it would have been off at the end.",
    ),
    Slider(
        "air_gradient", "Warmer above", -3.0, 3.0, 0.1, "K/m", 1,
        "Light runs faster in warm air than in cold air. Where it gets warmer upward, the upper part of the beam runs "
        "ahead, and the beam bends down. It always bends toward the colder side.",
        1.0,
    ),
    Slider(
        "air_reach", "Distance", 5.0, 40.0, 1.0, "m", 0,
        "The bend grows with the square of the distance: twice as far, four times as much. A line of 5 m hardly "
        "notices the air that spoils one of 40 m.",
        20.0,
    ),
)  # fmt: skip

LESSONS: dict[str, tuple[Movable, ...]] = {
    "base": BASE, "prism": PRISM, "air": AIR, "form": FORM, "buck_in": BUCK_IN, "reversal": REVERSAL,
}  # fmt: skip
"""Lesson -> what can be moved."""
