"""Keys of tasks: one key says the quantity that is asked for, the others of what, against what, and how far."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from ..model.survey import Rule
from .features import FeatureList, Reference, SurfaceList, SurfacePair
from .keys import Keys
from .names import StationList, SurfaceName
from .quantities import Length, Size
from .task_limits import (
    DirectionLimits,
    EitherLimit,
    LengthLimit,
    PositionLimits,
    SignedEither,
    SignedLimit,
    SquareLimits,
    Taped,
    ZoneLimit,
)
from .values import Choice, Flag, Number, listed

__all__ = ["QUANTITIES", "FlatnessKeys", "LocalKeys", "TaskKeys"]

LINES = ("end points", "least squares", "minimum zone")
CYLINDER = "minimum circumscribed cylinder"
PLANES = ("vertical", "horizontal", "space")


FITTED = ("cone", "prism error", "decentring", "roll", "drift")
Fitted = Annotated[str, Choice(FITTED)]


class TaskKeys(Keys):
    """What every task may say."""

    called = "a task"
    from_: StationList | None = Field(
        None, description="Stations, ranges or groups it is judged from; all on its surfaces where left out."
    )
    rule: Annotated[str, Choice(tuple(map(str, Rule)))] = Field(
        "guard band",
        description="How the verdict treats uncertainty: guard band of 1.65 standard uncertainties (default of ISO "
        "14253-1), guard band of U, simple acceptance, or relaxed acceptance (non-conformity must be proven).",
    )
    fitted: Annotated[list[Fitted], listed(1, len(FITTED), "a list such as [cone, drift]")] | None = Field(
        None,
        description="Errors of devices that are solved for together with the machine; what is stated of them counts as "
        "one more observation.",
        examples=["[cone]"],
    )
    coverage: Annotated[float, Number(1.0, 4.0)] = Field(2.0, description="Coverage factor k of the uncertainty U.")


class FormKeys(TaskKeys):
    """What tasks about the form of a surface may say."""

    waviness: Size | None = Field(
        None, description="Shortest wave of the surface that is to be found.", examples=["2 m"]
    )


class FlatnessKeys(FormKeys):
    """Flatness of a surface."""

    flatness: SurfaceName = Field(description="The surface whose flatness is asked for.", examples=["bed"])
    reference: Annotated[str, Choice(("minimum zone", "least squares", "three points", "gravity", "datum feature"))] = (
        Field("minimum zone", description="Reference plane that deviations are counted from (ISO 12781-1).")
    )
    to: Reference | None = Field(
        None, description="The datum feature: a surface, or a set-up with its plane.", examples=["table"]
    )
    datum: StationList | None = Field(
        None, description="The three stations that carry a three-point reference.", examples=["[A1, A7, E4]"]
    )
    limit: LengthLimit = Field(description="Largest allowed flatness deviation.", examples=["60 um"])


class LocalKeys(Keys):
    """Straightness of any piece of a given length."""

    called = "a local limit"
    limit: Size = Field(description="Largest allowed deviation over such a piece.", examples=["0.2 mm"])
    over: Size = Field(description="Length of the piece that slides along.", examples=["2 m"])


class StraightnessKeys(FormKeys):
    """Straightness of a surface along its line of stations, of an axis, or of a travel."""

    straightness: FeatureList = Field(
        description="The surface, axis or travel whose straightness is asked for.", examples=["rail_a"]
    )
    plane: Annotated[str | None, Choice(PLANES)] = Field(
        None, description="Where the deviation counts: vertical, horizontal, or space for an axis."
    )
    reference: Annotated[str, Choice((*LINES, CYLINDER, "gravity", "datum feature"))] = Field(
        "minimum zone", description="Reference line or cylinder that deviations are counted from (ISO 12780-1)."
    )
    to: Reference | None = Field(
        None, description="The datum feature: a surface, or a set-up with its line or plane.", examples=["rail_b"]
    )
    limit: ZoneLimit = Field(
        description="Largest allowed straightness deviation; dia 0.4 mm for a round zone.", examples=["0.5 mm"]
    )
    local: LocalKeys | None = Field(
        None, description="A limit for any piece of a given length as well.", examples=["{limit: 0.2 mm, over: 2 m}"]
    )


class ParallelismKeys(TaskKeys):
    """Parallelism of surfaces, axes or travels to a datum."""

    parallelism: FeatureList = Field(
        description="What should be parallel: one, or several of the same kind.", examples=["slide"]
    )
    to: Reference = Field(description="The datum: a surface, or a set-up with its line or plane.", examples=["bed"])
    channel: Annotated[str | None, Choice(("in plane", "out of plane"))] = Field(
        None, description="For axes: within the plane of the datum line and the axes, or out of it."
    )
    plane: Annotated[str | None, Choice(PLANES)] = Field(
        None, description="Where the deviation counts: vertical, horizontal or space."
    )
    limit: EitherLimit = Field(
        description="Largest allowed deviation: 0.05 mm/m, 0.02 mm over 300 mm, or over the whole feature: 0.1 mm.",
        examples=["0.05 mm/m"],
    )


class SquarenessKeys(TaskKeys):
    """Squareness of surfaces, axes or travels to a datum."""

    squareness: FeatureList = Field(
        description="What should be square: a surface, an axis or a travel.", examples=["slide travel"]
    )
    to: Reference = Field(description="The datum: a surface, or a set-up with its line or plane.", examples=["bed"])
    directions: Annotated[list[Annotated[str, Choice(("x", "y"))]], listed(1, 2, "a list such as [x, y]")] | None = (
        Field(None, description="Directions of the datum in which it is asked.", examples=["[x, y]"])
    )
    limit: SquareLimits = Field(
        description="Largest allowed deviation, for each direction or one for all.", examples=["0.02 mm over 300 mm"]
    )


class OffAxisKeys(TaskKeys):
    """What tasks about the place of axes may say."""

    to: Reference | None = Field(
        None, description="The datum axis, or a set-up with its line; the axis of all of them where left out."
    )
    reference: Annotated[str, Choice(("least squares", "end points", CYLINDER))] = Field(
        "least squares", description="How the datum axis is laid through its stations."
    )
    plane: Annotated[str | None, Choice(PLANES)] = Field(
        None, description="Where the deviation counts: vertical, horizontal or space."
    )


class CoaxialityKeys(OffAxisKeys):
    """Coaxiality of bores or rolls: how far their axes stand off a datum axis."""

    limit: ZoneLimit = Field(
        description="Largest allowed deviation; dia 0.2 mm for a round zone.", examples=["dia 0.2 mm"]
    )
    coaxiality: FeatureList = Field(
        description="Bores or rolls whose axes should lie on the datum axis.", examples=["barrel"]
    )


class BorePositionKeys(OffAxisKeys):
    """Position of bores against a datum axis: the zone about it, and where the middle of each bore stands."""

    bore_position: FeatureList = Field(
        description="Bores whose position against a datum axis is asked for.", examples=["barrel"]
    )
    limit: PositionLimits = Field(
        description="Largest allowed deviation; dia 0.2 mm for a round zone, or a limit for each component of the "
        "middle: vertical, + = high, and horizontal, + = to the left as seen along the axis.",
        examples=["dia 0.2 mm", "{vertical: 0..0.1 mm, horizontal: +-0.05 mm}"],
    )


class DirectionKeys(TaskKeys):
    """Direction of a spindle or axis against ways or a surface."""

    direction: FeatureList = Field(description="The axis whose direction is asked for.", examples=["spindle axis"])
    to: Reference = Field(description="The datum: ways, a surface, or a set-up.", examples=["bed"])
    limit: DirectionLimits = Field(
        description="How far the axis may run off, over a length; for each component or one for all. up: + = rises "
        "away from the spindle; front: + = toward the operator.",
        examples=["{up: 0..20 um over 300 mm, front: 0..15 um over 300 mm}"],
    )


class SpacingKeys(TaskKeys):
    """Distance between two rails or surfaces, square to the first."""

    spacing: SurfacePair = Field(description="The two surfaces.", examples=["[rail_a, rail_b]"])
    nominal: Size = Field(description="Nominal distance.", examples=["4 m"])
    tape: Taped | None = Field(
        None,
        description="Distances measured by tape, station of the first surface -> distance; or visit -> such a mapping.",
        examples=["{A1: 4.0012 m}", "{as found: {A1: 4.0012 m}, as left: {A1: 4.0003 m}}"],
    )
    tape_known_to: Size = Field(0.5e-3, description="Standard uncertainty of such a distance.", examples=["0.3 mm"])
    limit: SignedLimit = Field(description="How far the distance may be off.", examples=["+-3 mm"])


class CrossLevelKeys(TaskKeys):
    """Difference in height of two rails or surfaces at the same place along them."""

    cross_level: SurfacePair = Field(description="The two surfaces.", examples=["[rail_a, rail_b]"])
    nominal: Length = Field(0.0, description="Nominal height of the second above the first.", examples=["0 mm"])
    limit: SignedEither = Field(description="How far the difference may be off.", examples=["0.5 mm"])


class LevelnessKeys(TaskKeys):
    """Levelness: inclination of a surface against gravity."""

    levelness: SurfaceName = Field(description="The surface.", examples=["bed"])
    limit: EitherLimit = Field(description="Largest allowed inclination, or height over all.", examples=["0.05 mm/m"])


class TwistKeys(TaskKeys):
    """Twist: how the cross level of a surface or of two rails changes along it."""

    twist: SurfaceList = Field(description="The surface, or two rails.", examples=["bed"])
    limit: EitherLimit = Field(description="Largest allowed change of the cross level.", examples=["0.02 mm/m"])


class SlopeKeys(FormKeys):
    """Profile of a surface from its slopes, read step by step with a target that reads angles."""

    slope: SurfaceName = Field(description="The surface that is stepped along.", examples=["bed"])
    plane: Annotated[str | None, Choice(("vertical", "horizontal"))] = Field(
        None, description="Upright by pitch, where nothing is said, or sideways by yaw."
    )
    reference: Annotated[str | None, Choice((*LINES, "three points"))] = Field(
        None,
        description="Reference line that the profile is counted from: end points where nothing is said; of lines that "
        "cross on a plate the plane: minimum zone where nothing is said, least squares, or three points (the widest "
        "triangle).",
    )
    limit: EitherLimit = Field(description="Largest allowed deviation of the profile.", examples=["20 um"])


class RunOutKeys(TaskKeys):
    """Run-out of rolls or round faces that are turned past targets: of a roll radial, of a face axial."""

    run_out: FeatureList = Field(
        description="Rolls or faces whose run-out is asked for; their stations are read at turns (turned:).",
        examples=["roll_1"],
    )
    total: Annotated[bool, Flag()] = Field(
        False,
        description="Over all places as well: of a roll counted along the datum under to, of a face over all radii.",
        examples=["true"],
    )
    to: Reference | None = Field(
        None, description="Datum of a total run-out: a surface or set-up whose line lies along the axis."
    )
    limit: LengthLimit = Field(description="Largest allowed run-out.", examples=["30 um"])


QUANTITIES: dict[str, type[TaskKeys]] = {
    "flatness": FlatnessKeys, "straightness": StraightnessKeys, "parallelism": ParallelismKeys,
    "squareness": SquarenessKeys, "coaxiality": CoaxialityKeys, "bore position": BorePositionKeys,
    "direction": DirectionKeys, "spacing": SpacingKeys, "cross level": CrossLevelKeys, "levelness": LevelnessKeys,
    "twist": TwistKeys, "slope": SlopeKeys, "run out": RunOutKeys,
}  # fmt: skip
"""Key that says the quantity -> keys of such a task."""
