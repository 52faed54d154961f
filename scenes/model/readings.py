"""Readings as the crew brought them home: one row per record, columns as arrays in SI units."""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..vectors import Floats

__all__ = ["Readings"]


def _unread() -> Floats:
    return np.zeros(0)


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """Rows of one or more readings files, in the order of the files.

    Attributes
    ----------
    visit, setup, station, note : tuple of str, one per row
        ``setup`` and ``station`` are names of the layout; ``visit`` is ``as found``, ``as left`` or a name.
    h, v : (n,) float
        Place of the spot in the axes of the detector, metres, zero already taken off; nan where not read.
    pitch, yaw : (n,) float
        Angles of the beam to the detector's normal, rad, + = beam rises, goes right; nan where not read.
    clock : (n,) float
        Turn of the target or emitter, rad; nan where not recorded.
    side : (n,) int
        0: as set up, 1: reversed.
    time : (n,) float
        Seconds since the first record of the same visit and set-up; nan where not recorded.
    mount_offset : (n,) float
        What the mount was higher than the layout says, metres (blocks under a post); 0 where not stated.
    file : tuple of str; row : (n,) int
        Where the record stands: the line of the file, counted from 1, on which it begins.
    remarks : tuple of str
        What a person should know of the files although they could be read: columns not used, stations not read.
    """

    visit: tuple[str, ...]
    setup: tuple[str, ...]
    station: tuple[str, ...]
    note: tuple[str, ...]
    h: Floats
    v: Floats
    time: Floats
    mount_offset: Floats
    file: tuple[str, ...]
    row: NDArray[np.int64]
    remarks: tuple[str, ...] = ()
    pitch: Floats = field(default_factory=_unread)
    yaw: Floats = field(default_factory=_unread)
    clock: Floats = field(default_factory=_unread)
    side: NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, dtype=np.int64))

    def __post_init__(self) -> None:
        """Copy, check and freeze the arrays."""
        n = len(self.station)
        for name in ("pitch", "yaw", "clock"):
            if len(getattr(self, name)) == 0:
                object.__setattr__(self, name, np.full(n, np.nan))
        if len(self.side) == 0:
            object.__setattr__(self, "side", np.zeros(n, dtype=np.int64))
        for name in ("h", "v", "pitch", "yaw", "clock", "time", "mount_offset"):
            array = np.array(getattr(self, name), dtype=np.float64)
            if array.shape != (n,):
                raise ValueError(f"{name} must have one value per row")
            array.setflags(write=False)
            object.__setattr__(self, name, array)
        for name in ("row", "side"):
            numbers = np.array(getattr(self, name), dtype=np.int64)
            numbers.setflags(write=False)
            object.__setattr__(self, name, numbers)
        lengths = {len(part) for part in (self.visit, self.setup, self.note, self.file, self.row, self.side)}
        if lengths != {n}:
            raise ValueError("all columns must have the same number of rows")

    def chosen(self, index: NDArray[np.int64] | slice) -> Readings:
        """Some of the records, in the order asked."""
        count = len(self)
        numbers = np.arange(count)[index]
        picked: dict[str, Any] = {}
        for each in fields(self):
            column = getattr(self, each.name)
            if isinstance(column, np.ndarray):
                picked[each.name] = column[numbers]
            elif each.name != "remarks":
                picked[each.name] = tuple(column[i] for i in numbers)
        return replace(self, **picked)

    def __len__(self) -> int:
        """Return the number of records."""
        return len(self.station)
