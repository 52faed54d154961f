"""Messages between the server and the process of a visit, over a pair of sockets that no other program can reach.

A message is one byte for the kind, four bytes for the length, then the payload.
"""

from __future__ import annotations

import asyncio
import json
import struct
from enum import IntEnum
from typing import Any

__all__ = ["Kind", "PipeClosed", "packed", "packed_note", "read_message", "read_note"]

_HEAD = struct.Struct("!BI")


class Kind(IntEnum):
    """What a message is: data of the view's web socket, or a note between the two processes (JSON)."""

    DATA = 0
    NOTE = 1


class PipeClosed(Exception):
    """The process at the other end has gone."""


def packed(kind: Kind, payload: bytes) -> bytes:
    """Return the message as bytes."""
    return _HEAD.pack(kind, len(payload)) + payload


def packed_note(**note: Any) -> bytes:
    """Return a note as bytes."""
    return packed(Kind.NOTE, json.dumps(note).encode())


async def read_message(reader: asyncio.StreamReader) -> tuple[Kind, bytes]:
    """Return the next message.

    Raises
    ------
    PipeClosed
        The other end has closed or broken off.
    """
    try:
        kind, length = _HEAD.unpack(await reader.readexactly(_HEAD.size))
        return Kind(kind), await reader.readexactly(length)
    except (asyncio.IncompleteReadError, OSError) as gone:
        raise PipeClosed from gone


def read_note(payload: bytes) -> dict[str, Any]:
    """Return the note that a payload of kind ``NOTE`` holds."""
    note: dict[str, Any] = json.loads(payload)
    return note
