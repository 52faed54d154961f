"""The layout as a whole: everything that a layout file says, resolved and in SI units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from .bearings import Bearings
from .devices import Emitter, Prism, RotaryBase, Stage, Target, Vial
from .machine import Surface
from .survey import Feet, Group, Setup, Station, Task

__all__ = ["Air", "Layout", "ReadingsMapping", "ShownUnits", "WideTable"]


@dataclass(frozen=True, slots=True)
class Air:
    """The air that the beam passes.

    Attributes
    ----------
    temperature : float
        Kelvin.
    gradient, gradient_known_to : float
        Change of temperature with height (+ = warmer above) and its standard uncertainty, K/m.
    pressure : float
        Pascal.
    humidity : float
        Relative, 0 to 1.
    """

    temperature: float = 293.15
    gradient: float = 0.0
    gradient_known_to: float = 0.0
    pressure: float = 101_325.0
    humidity: float = 0.5
    origins: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class ShownUnits:
    """Units in which people see things."""

    length: str = "mm"
    deviation: str = "um"
    angle: str = "arcsec"


@dataclass(frozen=True, slots=True)
class ReadingsMapping:
    """How a readings table of this survey is read.

    Attributes
    ----------
    columns : mapping
        Own column name (``station``, ``v``, ...) -> header in the file, e.g. ``Height [um]``.
    v_up, h_right : bool
        True where + in the file means that the spot stands above (right of) the centre of the detector;
        False where + means that the target stands above (right of) the beam.
    decimal : str
        ``point`` or ``comma``; empty: as the numbers of a file show.
    delimiter : str
        ``comma``, ``semicolon``, ``tab`` or ``spaces``; empty: as the headers of a file show.
    headers : tuple of str
        Headers of a table that has none.
    sheet : str
        Sheet of a spreadsheet; empty: the only one with headers of readings.
    wide : WideTable, optional
        Where one row of the file holds several records.
    """

    columns: Mapping[str, str] = field(default_factory=dict)
    v_up: bool = True
    h_right: bool = True
    decimal: str = ""
    delimiter: str = ""
    headers: tuple[str, ...] = ()
    sheet: str = ""
    wide: WideTable | None = None


@dataclass(frozen=True, slots=True)
class WideTable:
    """How a table with several records in one row is read.

    Attributes
    ----------
    cells : mapping
        Own column of values (``v``, ``h``, ``pitch``, ``yaw``) -> patterns of the headers over its cells, in which
        words in braces stand for what a header says: ``{visit} {repeat}``.
    station : str
        How a station is named from what stands in its row and in the header: ``{row}{column}`` in a grid.
    """

    cells: Mapping[str, tuple[str, ...]]
    station: str = "{row}"


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """Everything that a layout file says, names resolved, in SI units. Mappings keep the order of the file."""

    file: str
    title: str
    units: ShownUnits
    air: Air
    surfaces: Mapping[str, Surface]
    emitters: Mapping[str, Emitter]
    bases: Mapping[str, RotaryBase]
    targets: Mapping[str, Target]
    stations: Mapping[str, Station]
    groups: Mapping[str, Group]
    setups: Mapping[str, Setup]
    tasks: Mapping[str, Task]
    feet: Mapping[str, Feet]
    readings: ReadingsMapping = field(default_factory=ReadingsMapping)
    prisms: Mapping[str, Prism] = field(default_factory=dict)
    stages: Mapping[str, Stage] = field(default_factory=dict)
    vials: Mapping[str, Vial] = field(default_factory=dict)
    bearings: Mapping[str, Bearings] = field(default_factory=dict)
