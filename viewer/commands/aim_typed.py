"""What is typed for ``datumray aim``, read to SI and joined with what the layout states."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from scenes.aiming.advice import AimAdvice, advise
from scenes.aiming.aim import aim_from_readings, reading_covariance
from scenes.aiming.near_far import near_far_from_tape
from scenes.aiming.traced import TracedLine, covariance_of_readings, traced_stage
from scenes.model.devices import Stage
from scenes.model.layout import Layout
from scenes.vectors import Floats
from viewer.commands.aim_of_layout import line_of_setup
from viewer.commands.typed import TypedQuantities

__all__ = ["AimTyped", "Told", "advice_on"]

LONGEST = 10.0e3  # metres; no beam is aimed farther
WIDEST = 10.0  # metres; no reading is larger
WITHIN = 1.0e-6  # metres; readings are brought so near where nothing else is asked
FINEST = 1.0e-8  # metres; screws are followed to a tenth of that

UNKNOWN = Stage("stage", "", 0.0, shift_range=math.inf, tilt_range=math.inf, screw_pitch=0.0, lever=0.0)


@dataclass(frozen=True, slots=True)
class AimTyped:
    """Options as typed, one field each; pairs stand near first."""

    setup: str
    near: str
    far: str
    pivot: str
    readings: tuple[str, str]
    zeros: tuple[str, str]
    wanted: tuple[str, str]
    reading_known_to: str
    zero_known_to: str
    same_target: bool
    within: str
    screw_pitch: str
    lever: str
    shift_range: str
    tilt_range: str
    window: str
    unit: str
    angle_unit: str


@dataclass(frozen=True, slots=True, eq=False)
class Told:
    """The answer, the units it is told in, and the line of the set-up that it is about, if there is a layout."""

    advice: AimAdvice
    unit: str
    angle_unit: str
    traced: TracedLine | None


@dataclass(frozen=True, slots=True, eq=False)
class _Readings:
    """What was typed of readings, SI; nan for zeros and wanted readings that were not typed, None for no covariance."""

    taken: Floats
    zeros: Floats
    wanted: Floats
    covariance: Floats | None
    window: tuple[float, float]
    within: float


def advice_on(said: AimTyped, layout: Layout | None) -> Told:
    """What to set for the beam of a set-up of ``layout``, or for one that is told by distances alone.

    Raises
    ------
    InputError
        With everything that was typed wrongly.
    GeometryError
        Where the readings tell no aim.
    """
    typed = TypedQuantities()
    shown = ("um", "um/m") if layout is None else (layout.units.deviation, layout.units.angle)
    unit, angle_unit = said.unit or shown[0], said.angle_unit or shown[1]
    typed.unit("--unit", unit, "length")
    typed.unit("--angle-unit", angle_unit, "angle")
    told, traced = _by_tape(said, typed) if layout is None else _by_layout(said, layout, typed)
    return Told(told, unit, angle_unit, traced)


def _by_tape(said: AimTyped, typed: TypedQuantities) -> tuple[AimAdvice, None]:
    for option, text in (("--near", said.near), ("--far", said.far)):
        if not text.strip():
            typed.refuse(option, "where this target stands is not said", f'for example {option} "5.2 m", or a layout')
    if said.setup:
        typed.refuse("--setup", "it names a set-up, but there is no layout", "datumray aim LAYOUT --setup ...")
    near, far, pivot = (
        typed.quantity(option, text, most=LONGEST) if text.strip() else 0.0
        for option, text in (("--near", said.near), ("--far", said.far), ("--pivot", said.pivot))
    )
    values, stage = _readings(said, typed), _stage(said, UNKNOWN, typed)
    typed.finish()
    wanted = np.nan_to_num(values.zeros) + np.nan_to_num(values.wanted)
    aim = aim_from_readings(values.taken, near_far_from_tape(near, far, pivot), wanted, values.covariance)
    return advise(aim, stage, values.within, values.window), None


def _by_layout(said: AimTyped, layout: Layout, typed: TypedQuantities) -> tuple[AimAdvice, TracedLine]:
    traced = line_of_setup(layout, said.setup, said.near.strip(), said.far.strip(),
                           typed.quantity("--pivot", said.pivot, most=LONGEST), typed)  # fmt: skip
    stated = layout.setups[traced.setup].stage if traced is not None else ""
    values, stage = _readings(said, typed), _stage(said, layout.stages[stated] if stated else UNKNOWN, typed)
    typed.finish()
    assert traced is not None
    traced = _with_typed(traced, values)
    read = traced_stage(traced, values.taken)
    known = covariance_of_readings(layout, traced, values.taken) if values.covariance is None else values.covariance
    aim = aim_from_readings(values.taken, traced.line, traced.wanted, known)
    return advise(aim, stage, values.within, traced.window, read), traced


def _with_typed(traced: TracedLine, values: _Readings) -> TracedLine:
    """``traced`` with the zeros, wanted readings and window that were typed in place of those of the layout."""
    zeros = np.where(np.isnan(values.zeros), traced.zeros, values.zeros)
    beyond = np.where(np.isnan(values.wanted), traced.wanted - traced.zeros, values.wanted)
    window = traced.window if math.isinf(values.window[0]) else np.broadcast_to(values.window, (2, 2))
    return replace(traced, zeros=zeros, wanted=zeros + beyond, window=window)


def _readings(said: AimTyped, typed: TypedQuantities) -> _Readings:
    taken, zeros, wanted = (
        np.array([typed.pair(f"--{words[end]}", texts[end], WIDEST) if texts[end].strip() or not may_miss
                  else (math.nan, math.nan) for end in range(2)])
        for words, texts, may_miss in (
            (("near-reading", "far-reading"), said.readings, False),
            (("near-zero", "far-zero"), said.zeros, True),
            (("wanted-near", "wanted-far"), said.wanted, True),
        )
    )  # fmt: skip
    within = typed.positive("--within", said.within, WITHIN, most=WIDEST)
    if 0.0 < within < FINEST:
        typed.refuse("--within", f"{said.within.strip()} is finer than any target reads", "ask for 0.01 um or more")
    return _Readings(taken, zeros, wanted, _covariance(said, typed), typed.size("--window", said.window), within)


def _covariance(said: AimTyped, typed: TypedQuantities) -> Floats | None:
    reading_u = typed.positive("--reading-known-to", said.reading_known_to, 0.0, most=WIDEST)
    zero_u = typed.positive("--zero-known-to", said.zero_known_to, 0.0, most=WIDEST)
    if said.same_target and not said.zero_known_to:
        typed.refuse("--same-target", "it says whose zero error is shared, but none is stated", "state --zero-known-to")
    return reading_covariance(reading_u, zero_u, said.same_target) if reading_u or zero_u else None


def _stage(said: AimTyped, stated: Stage, typed: TypedQuantities) -> Stage:
    """The stage with what was typed in place of what is stated."""
    if said.lever and not said.screw_pitch and not stated.screw_pitch:
        typed.refuse("--lever", "turns cannot be told from the lever alone", "state --screw-pitch too")
    return replace(
        stated,
        shift_range=typed.positive("--shift-range", said.shift_range, stated.shift_range, most=WIDEST),
        tilt_range=typed.positive("--tilt-range", said.tilt_range, stated.tilt_range, "angle", most=1.0),
        screw_pitch=typed.positive("--screw-pitch", said.screw_pitch, stated.screw_pitch, most=WIDEST),
        lever=typed.positive("--lever", said.lever, stated.lever, most=WIDEST),
    )
