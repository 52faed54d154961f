"""What is new in a file that grows, that may be cut short, and in whose place another may be put."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

__all__ = ["Grown", "Tail"]

AT_ONCE = 1 << 20
"""Bytes that are read at a time."""
KEPT = 4096
"""Bytes at the start of a file by which another file in its place is told."""


@dataclass(frozen=True, slots=True)
class Grown:
    """New bytes of a file; ``anew`` where they are the first of another file, or of the file written anew."""

    data: bytes
    anew: bool = False


class Tail:
    """Reads on in a file by its name; a file that is not there yet is waited for."""

    def __init__(self, path: str | Path) -> None:
        self.path = Path(path)
        self._place = 0
        self._start = b""
        self._file: tuple[int, int] | None = None

    def grown(self) -> Grown:
        """Return what has come since the last time; nothing where the file is not there.

        Raises
        ------
        OSError
            Where the file is there and cannot be read.
        """
        try:
            with self.path.open("rb") as stream:
                return self._read(stream.fileno())
        except FileNotFoundError:
            return Grown(b"")

    def _read(self, descriptor: int) -> Grown:
        state = os.fstat(descriptor)
        file = (state.st_dev, state.st_ino)
        start = os.read(descriptor, KEPT)
        other = self._file is not None and (
            file != self._file or state.st_size < self._place or not start.startswith(self._start)
        )
        if other:
            self._place = 0
            self._start = b""
        self._file = file
        if len(self._start) < KEPT:
            self._start = start
        os.lseek(descriptor, self._place, os.SEEK_SET)
        data = os.read(descriptor, AT_ONCE)
        self._place += len(data)
        if len(self._start) > self._place:  # what has not been read yet may still be written over
            self._start = self._start[: self._place]
        return Grown(data, other)
