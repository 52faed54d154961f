"""Codes of all findings, with what each one means. Codes never change their meaning."""

from __future__ import annotations

__all__ = ["CODES"]

CODES: dict[str, str] = {
    "blocked": "A machine surface stands between emitter and target.",
    "clipped": "The axis of the beam is free, but a machine surface cuts into its edge.",
    "wrong-side": "The detector cannot see the beam: it would have to look along its own mount.",
    "target-at-emitter": "A target stands right at the emitter and cannot be turned toward the beam.",
    "no-task": "The layout asks for nothing.",
    "too-near": "The target is nearer than the emitter can be used.",
    "too-far": "The target is farther than the emitter can be used.",
    "off-window": "The spot leaves the sensitive area of the detector, or would within the limit of a task.",
    "near-edge": "The spot stays on the detector, but with little travel left.",
    "spot-too-large": "The beam is wider at the target than the target reads properly.",
    "equal-radii": "All stations stand at the same radius from the base, so a cone of the beam cannot be found.",
    "off-surface": "A station lies outside its surface.",
    "base-tilt": "The base would have to be tilted farther than it can.",
    "mount-height": "A mount would have to stand higher or lower than it can.",
    "level-without-reference": "The set-up cannot be levelled as asked.",
    "not-read": "A task asks for a station that no set-up reads.",
    "task-open": "The planned readings do not determine what the task asks for.",
    "limit-too-tight": "Even a perfect surface could not be proven to keep the limit with this plan.",
    "station-not-read": "Stations of the task have no reading in this visit.",
    "readings-differ": "Two readings of one station differ by more than their errors explain.",
    "cone-from-shape": "A fitted cone rests on the assumption that the surface is not dished.",
}
