"""What to mind before and after an aim is set, in plain sentences."""

from __future__ import annotations

import numpy as np

from scenes.aiming.advice import COVERAGE, AimAdvice
from scenes.aiming.near_far import End
from scenes.aiming.travel import Overrun, reach_of
from scenes.units import show
from viewer.report.aim_words import TURN_WORDS, directed

__all__ = ["notes_on"]


def notes_on(advice: AimAdvice, unit: str, angle_unit: str) -> list[str]:
    """Sentences for the person at the stage, what stops the work first."""
    if len(advice.overshoot.steps) == 1:
        return _doubts(advice, unit)
    return [
        *_windows(advice),
        *(_overrun(each, unit, angle_unit) for each in advice.overruns),
        *_reach(advice, unit),
        *([f"By rounds, {advice.rounds_trouble}."] if advice.rounds_trouble else []),
        *_doubts(advice, unit),
        *_practice(advice),
    ]


def _windows(advice: AimAdvice) -> list[str]:
    said = []
    if 0 in advice.outside_overshoot:
        return [
            "A reading lies outside its detector as the beam stands now: it cannot be right; check window and unit."
        ]
    if advice.outside_overshoot.size:
        said.append("In the one round a spot leaves its detector: tilt only as far as both targets read, shift, and "
                    "aim again.")  # fmt: skip
    if advice.outside_rounds.size:
        said.append("In the rounds a spot leaves its detector: go half of the way with each screw, or overshoot.")
    return said


def _overrun(overrun: Overrun, unit: str, angle_unit: str) -> str:
    words = TURN_WORDS["hv".index(overrun.axis)]
    shifts = overrun.move == "shift"
    shown, kind = (unit, "length") if shifts else (angle_unit, "angle")
    asked, most = directed(overrun.asked, shown, words, kind), show(overrun.most, shown, kind)
    by_hand = "move its stand" if shifts else "turn its stand until the beam swings"
    return (
        f"The stage does not reach: it would {overrun.move} {asked}, and has {most} either way from its middle. Bring "
        f"it to its middle, {by_hand} by about {asked}, clamp, read both targets and aim again."
    )


def _reach(advice: AimAdvice, unit: str) -> list[str]:
    reach = reach_of(advice.stage, advice.aim.line)
    if not (np.isfinite(advice.stage.shift_range) and np.isfinite(advice.stage.tilt_range)):
        return []
    near, far = (show(float(reach[end]), unit, to=1e-6) for end in End)
    known = "" if advice.overruns else " It is taken to stand in the middle of its travel now."
    return [
        f"From the middle of its travel the stage moves the spot {near} either way at near and {far} at far.{known}"
    ]


def _doubts(advice: AimAdvice, unit: str) -> list[str]:
    aim = advice.aim
    if aim.off_u is None:
        return []
    if advice.lost_in_doubt:
        return ["Neither reading nor the angle is off by more than its own U: nothing shows that the beam is off the "
                "datum line, and a setting would follow the scatter of the readings."]  # fmt: skip
    expanded = COVERAGE * float(aim.off_u.min())
    if advice.overshoot.within < expanded:
        return [f"Readings can be brought to within {show(advice.overshoot.within, unit)}, but the beam is known no "
                f"better than their U of {show(expanded, unit)}."]  # fmt: skip
    return []


def _practice(advice: AimAdvice) -> list[str]:
    tilt = advice.shift_at.other.name.lower()
    return [
        f"After the tilt of the one round both targets are off alike. Where they are not, pivot or distances are not "
        f"as stated: go on tilting until they are, then shift. A distance wrong by 1 % leaves about 1 % at {tilt}.",
        "Which way a screw turns shows at the first touch: watch the target. Come to each setting from the same side.",
    ]
