"""``datumray aim``: where the beam stands after a near and a far reading, and what to set on its stage."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from viewer.commands.options import JsonFile

__all__ = ["aim"]

Length = "LENGTH"
Place = "LENGTH or STATION"
Pair = '"H, V"'


def aim(
    near_reading: Annotated[
        str, typer.Option("--near-reading", metavar=Pair, help="Reading at near: h + = right, v + = up.")
    ],
    far_reading: Annotated[str, typer.Option("--far-reading", metavar=Pair, help="Reading at far.")],
    layout: Annotated[
        Path | None, typer.Argument(metavar="[LAYOUT]", help="Layout file (YAML) whose set-up is aimed.")
    ] = None,
    setup: Annotated[
        str, typer.Option("--setup", metavar="NAME", help="Set-up of the layout; not needed where one alone is aimed.")
    ] = "",
    near: Annotated[
        str,
        typer.Option(
            "--near", metavar=Place, help="Place of the near target along the beam; of a layout, another station."
        ),
    ] = "",
    far: Annotated[
        str,
        typer.Option(
            "--far", metavar=Place, help="Place of the far target along the beam; of a layout, another station."
        ),
    ] = "",
    pivot: Annotated[
        str,
        typer.Option(
            "--pivot", metavar=Length, help="Pivot of the stage: on the same tape; of a layout, ahead of the emitter."
        ),
    ] = "0 m",
    wanted_near: Annotated[
        str, typer.Option("--wanted-near", metavar=Pair, help="Wanted at near, zero taken off; 0, 0, or as traced.")
    ] = "",
    wanted_far: Annotated[
        str, typer.Option("--wanted-far", metavar=Pair, help="Wanted at far, zero taken off; 0, 0, or as traced.")
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
    unit: Annotated[str, typer.Option("--unit", help="Unit of readings and shifts; um, or as in the layout.")] = "",
    angle_unit: Annotated[str, typer.Option("--angle-unit", help="Unit of angles; um/m, or as in the layout.")] = "",
    json: JsonFile = "",
) -> None:
    """Aim a beam from one near and one far reading: what to shift and tilt, at once or by watching the targets."""
    from scenes.layout.read import read_layout
    from viewer.commands.aim_typed import AimTyped, advice_on
    from viewer.report.aim_document import aim_document
    from viewer.report.aim_report import print_aim
    from viewer.report.output import console, write_json

    typed = AimTyped(
        setup=setup, near=near, far=far, pivot=pivot, readings=(near_reading, far_reading),
        zeros=(near_zero, far_zero), wanted=(wanted_near, wanted_far), reading_known_to=reading_known_to,
        zero_known_to=zero_known_to, same_target=same_target, within=within, screw_pitch=screw_pitch, lever=lever,
        shift_range=shift_range, tilt_range=tilt_range, window=window, unit=unit, angle_unit=angle_unit,
    )  # fmt: skip
    told = advice_on(typed, None if layout is None else read_layout(layout))
    if json:
        write_json(aim_document(told.advice, told.unit, told.angle_unit, told.traced), json)
    if json != "-":
        print_aim(told.advice, told.unit, told.angle_unit, console(), told.traced)
