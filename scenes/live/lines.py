"""Bytes to lines: whatever the pieces in which they come, only whole lines go on."""

from __future__ import annotations

import codecs
from dataclasses import dataclass

__all__ = ["LONGEST_LINE", "LineCutter", "WholeLine"]

LONGEST_LINE = 65_536
"""Bytes; a record has some hundred."""


@dataclass(frozen=True, slots=True)
class WholeLine:
    """A line without its end, and its number counted from 1; ``data`` is None where it was too long to be kept."""

    number: int
    data: bytes | None


class LineCutter:
    """Cuts bytes into lines; what has no end yet waits, a byte order mark is taken off."""

    def __init__(self, longest: int = LONGEST_LINE) -> None:
        self._longest = longest
        self._rest = bytearray()
        self._too_long = False
        self._number = 0
        self._after_return = False

    @property
    def waiting(self) -> bytes:
        """Bytes of the line that has not ended yet."""
        return bytes(self._rest)

    @property
    def is_cut(self) -> bool:
        """True where a line has begun and not ended."""
        return bool(self._rest) or self._too_long

    def lines(self, data: bytes) -> list[WholeLine]:
        """Lines that ``data`` ends: by a line feed, a carriage return, or both."""
        found = []
        if self._after_return and data:
            data = data.removeprefix(b"\n")  # the second half of a line end whose first half came before
        self._after_return = data.endswith(b"\r") or (self._after_return and not data)
        data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        *ended, rest = data.split(b"\n")
        for part in ended:
            self._keep(part)
            found.append(self._ended())
        self._keep(rest)
        return found

    def last(self) -> list[WholeLine]:
        """The line that has no end, as if it had one."""
        return [self._ended()] if self.is_cut else []

    def _keep(self, part: bytes) -> None:
        if not self._too_long:
            self._rest += part
            if len(self._rest) > self._longest:
                self._too_long = True
                self._rest.clear()

    def _ended(self) -> WholeLine:
        self._number += 1
        data = bytes(self._rest)
        if self._number == 1:
            data = data.removeprefix(codecs.BOM_UTF8)
        line = WholeLine(self._number, None if self._too_long else data)
        self._rest.clear()
        self._too_long = False
        return line
