"""What is new in a file that grows, that may be cut short, and in whose place another may be put."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

__all__ = ["Grown", "Tail"]

AT_ONCE = 1 << 20
"""Bytes that are read at a time."""
KEEPS_OPEN = os.name == "posix"
"""Elsewhere an open file cannot be renamed or replaced by the program that writes it."""
COMPARED = 4_000_000
"""Bytes of what was read before that are compared with the file when it has changed; of more, those at the end."""


@dataclass(frozen=True, slots=True)
class Grown:
    """New bytes of a file; ``anew`` where they are the first of another file, or of the file written anew."""

    data: bytes
    anew: bool = False


class Tail:
    """Reads on in a file by its name; a file that is not there yet is waited for.

    What was read before is compared whenever the file has changed, so a file that an editor saved with a change in its
    middle is told from one that has only grown. A file that is renamed, so that another may take its place, is read to
    its end first (where the system lets go of names of open files).
    """

    def __init__(self, path: str | Path) -> None:
        self.path = Path(path)
        self._stream: BinaryIO | None = None
        self._place = 0
        self._before = b""
        self._state: tuple[int, ...] | None = None

    def grown(self) -> Grown:
        """Return what has come since the last time; nothing where the file is not there.

        Raises
        ------
        OSError
            Where the file is there and cannot be read.
        """
        try:
            here = self.path.stat()
        except FileNotFoundError:
            here = None
        if self._stream is not None and (here is None or not os.path.samestat(here, os.fstat(self._stream.fileno()))):
            rest = self._new(self._stream)  # of the file that had the name before
            if rest.data or here is None:
                return rest
            self.close()
        if here is None:
            return Grown(b"")
        if self._stream is None:
            self._stream = self.path.open("rb")
        try:
            return self._new(self._stream)
        finally:
            if not KEEPS_OPEN:
                self.close()

    def close(self) -> None:
        """Let go of the file."""
        if self._stream is not None:
            self._stream.close()
            self._stream = None

    def _new(self, stream: BinaryIO) -> Grown:
        found = os.fstat(stream.fileno())
        state = (found.st_dev, found.st_ino, found.st_size, found.st_mtime_ns)
        if state == self._state and found.st_size <= self._place:
            return Grown(b"")
        other = self._state is not None and (state[:2] != self._state[:2] or not self._goes_on(stream, found.st_size))
        if other:
            self._place, self._before = 0, b""
        stream.seek(self._place)
        data = stream.read(AT_ONCE)
        self._state = state
        self._place += len(data)
        self._before = (self._before + data)[-COMPARED:]
        return Grown(data, other)

    def _goes_on(self, stream: BinaryIO, size: int) -> bool:
        """Whether what was read before still stands in the file."""
        if size < self._place:
            return False
        stream.seek(self._place - len(self._before))
        return stream.read(len(self._before)) == self._before
