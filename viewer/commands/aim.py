"""``datumray aim``: where the beam stands after a near and a far reading, and what to set on its stage."""

from __future__ import annotations

import math
from typing import Annotated

import typer

from viewer.commands.options import JsonFile

__all__ = ["aim"]

LONGEST = 10.0e3  # metres; no beam is aimed farther
WIDEST = 10.0  # metres; no reading is larger
WITHIN = 1.0e-6  # metres; readings are brought so near where nothing else is asked

FINEST = 1.0e-8  # metres; screws are followed to a tenth of that

Length = "LENGTH"
Pair = '"H, V"'


def aim(
    near: Annotated[str, typer.Option("--near", metavar=Length, help="Place of the near target along the beam.")],
    far: Annotated[str, typer.Option("--far", metavar=Length, help="Place of the far target along the beam.")],
    near_reading: Annotated[
        str, typer.Option("--near-reading", metavar=Pair, help="Reading at near: h + = right, v + = up.")
    ],
    far_reading: Annotated[str, typer.Option("--far-reading", metavar=Pair, help="Reading at far.")],
    pivot: Annotated[
        str, typer.Option("--pivot", metavar=Length, help="Place of the pivot of the stage, on the same tape.")
    ] = "0 m",
    wanted_near: Annotated[
        str, typer.Option("--wanted-near", metavar=Pair, help="Wanted at near, zero taken off; default 0, 0.")
    ] = "",
    wanted_far: Annotated[
        str, typer.Option("--wanted-far", metavar=Pair, help="Wanted at far, zero taken off; default 0, 0.")
    ] = "",
    near_zero: Annotated[
        str, typer.Option("--near-zero", metavar=Pair, help="What the near target shows of a centred spot.")
    ] = "",
    far_zero: Annotated[
        str, typer.Option("--far-zero", metavar=Pair, help="What the far target shows of a centred spot.")
    ] = "",
    reading_known_to: Annotated[
        str, typer.Option("--reading-known-to", metavar=Length, help="Standard uncertainty of one reading.")
    ] = "",
    zero_known_to: Annotated[
        str, typer.Option("--zero-known-to", metavar=Length, help="Standard uncertainty of the zero of a target.")
    ] = "",
    same_target: Annotated[
        bool, typer.Option("--same-target", help="One target is moved from near to far and takes its zero along.")
    ] = False,
    within: Annotated[
        str, typer.Option("--within", metavar=Length, help="How near to bring both readings; default 1 um.")
    ] = "",
    screw_pitch: Annotated[
        str, typer.Option("--screw-pitch", metavar=Length, help="Advance of the screws of the stage per turn.")
    ] = "",
    lever: Annotated[
        str, typer.Option("--lever", metavar=Length, help="Distance of a tilt screw from the pivot.")
    ] = "",
    shift_range: Annotated[
        str, typer.Option("--shift-range", metavar=Length, help="Shift of the stage either way from its middle.")
    ] = "",
    tilt_range: Annotated[
        str, typer.Option("--tilt-range", metavar="ANGLE", help="Tilt of the stage either way from its middle.")
    ] = "",
    window: Annotated[
        str, typer.Option("--window", metavar='"W, H"', help="Full width and height of the detectors.")
    ] = "",
    unit: Annotated[str, typer.Option("--unit", help="Unit of readings and shifts.")] = "um",
    angle_unit: Annotated[str, typer.Option("--angle-unit", help="Unit of angles.")] = "um/m",
    json: JsonFile = "",
) -> None:
    """Aim a beam from one near and one far reading: what to shift and tilt, at once or by watching the targets."""
    import numpy as np

    from scenes.aiming.advice import advise
    from scenes.aiming.aim import aim_from_readings, reading_covariance
    from scenes.aiming.near_far import near_far_from_tape
    from scenes.model.devices import Stage
    from viewer.commands.typed import TypedQuantities
    from viewer.report.aim_document import aim_document
    from viewer.report.aim_report import print_aim
    from viewer.report.output import console, write_json

    typed = TypedQuantities()
    tape = [typed.quantity(option, text, most=LONGEST)
            for option, text in (("--near", near), ("--far", far), ("--pivot", pivot))]  # fmt: skip
    readings, zeros, wanted = (
        np.array([typed.pair(option, text, WIDEST) for option, text in pairs])
        for pairs in (
            (("--near-reading", near_reading), ("--far-reading", far_reading)),
            (("--near-zero", near_zero), ("--far-zero", far_zero)),
            (("--wanted-near", wanted_near), ("--wanted-far", wanted_far)),
        )
    )
    reading_u = typed.positive("--reading-known-to", reading_known_to, 0.0, most=WIDEST)
    zero_u = typed.positive("--zero-known-to", zero_known_to, 0.0, most=WIDEST)
    stage = Stage(
        "stage", "", 0.0,
        shift_range=typed.positive("--shift-range", shift_range, math.inf, most=WIDEST),
        tilt_range=typed.positive("--tilt-range", tilt_range, math.inf, "angle", most=1.0),
        screw_pitch=typed.positive("--screw-pitch", screw_pitch, 0.0, most=WIDEST),
        lever=typed.positive("--lever", lever, 0.0, most=WIDEST),
    )  # fmt: skip
    asked = typed.positive("--within", within, WITHIN, most=WIDEST)
    if 0.0 < asked < FINEST:
        typed.refuse("--within", f"{within.strip()} is finer than any target reads", "ask for 0.01 um or more")
    detectors = typed.size("--window", window)
    typed.unit("--unit", unit, "length")
    typed.unit("--angle-unit", angle_unit, "angle")
    if lever and not screw_pitch:
        typed.refuse("--lever", "turns cannot be told from the lever alone", "state --screw-pitch too")
    if same_target and not zero_known_to:
        typed.refuse("--same-target", "it says whose zero error is shared, but none is stated", "state --zero-known-to")
    typed.finish()
    covariance = reading_covariance(reading_u, zero_u, same_target) if reading_u or zero_u else None
    found = aim_from_readings(readings, near_far_from_tape(*tape), zeros + wanted, covariance)
    advice = advise(found, stage, asked, detectors)
    if json:
        write_json(aim_document(advice, unit, angle_unit), json)
    if json != "-":
        print_aim(advice, unit, angle_unit, console())
