"""Text of a file or of standard input, with clear words for everything that is no text.

Files are UTF-8, with or without a byte order mark. Spreadsheet programs still write Windows-1252, where ``µ`` is one
byte; such a file is read, with a remark: names must match those of the layout and figures are plain ASCII, so a wrong
guess of the encoding can only spoil a note.
"""

from __future__ import annotations

import codecs
import re
import sys
from pathlib import Path

from ..hints import near_names
from .journal import Journal

__all__ = ["NO_TEXT", "STANDARD_INPUT", "bytes_of", "decoded", "source_name"]

STANDARD_INPUT = "-"
"""Path that stands for standard input."""

_SAVE_AS = "save it as CSV, encoding UTF-8"
NO_TEXT = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")


def source_name(path: str | Path) -> str:
    """Name of a source in messages: the path as it was given, or ``standard input``."""
    return "standard input" if str(path) == STANDARD_INPUT else str(path)


def bytes_of(path: str | Path, journal: Journal) -> bytes | None:
    """Content of the file ``path`` (``-``: of standard input), or None where the journal says why there is none."""
    if str(path) == STANDARD_INPUT:
        return sys.stdin.buffer.read()
    try:
        if Path(path).stat().st_size > LARGEST_FILE:
            journal.problem(0, 0, f"the file is larger than {LARGEST_FILE // 10**6} MB", "no survey needs so much")
            return None
        return Path(path).read_bytes()
    except FileNotFoundError:
        journal.problem(0, 0, "there is no such file", _near_files(Path(path)))
    except IsADirectoryError:
        journal.problem(0, 0, "this is a folder, not a file", "name the files in it")
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        journal.problem(0, 0, f"the file cannot be read: {reason}")
    return None


LARGEST_FILE = 200_000_000
"""Bytes."""


def decoded(data: bytes, journal: Journal) -> str | None:
    """Text in ``data`` without its byte order mark, or None where the journal says why there is none."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        journal.problem(0, 0, "the text is in the encoding UTF-16", _SAVE_AS)
        return None
    if data.startswith(b"PK\x03\x04"):
        journal.problem(0, 0, "this is a spreadsheet or another packed file, not text", _SAVE_AS)
        return None
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        message = "this is a spreadsheet of an old kind, or one with a password"
        journal.problem(0, 0, message, "save it as XLSX without a password, or as CSV")
        return None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        text = _windows_text(data, error, journal) or ""
        if not text:
            return None
    odd = NO_TEXT.search(text)
    if odd:
        line = 1 + text.count("\n", 0, odd.start())
        message = f"this is not a text file: it holds the control byte {ord(odd.group()):#04x}"
        journal.problem(line, 0, message, _SAVE_AS)
        return None
    if not text.strip():
        journal.problem(0, 0, "the file is empty", "it needs a row of headers and at least one record")
        return None
    return text


def _windows_text(data: bytes, error: UnicodeDecodeError, journal: Journal) -> str | None:
    line = 1 + data.count(b"\n", 0, error.start)
    byte = f"{data[error.start]:#04x}"
    try:
        text = data.decode("cp1252")
    except UnicodeDecodeError:
        journal.problem(line, 0, f"the text is neither UTF-8 nor Windows-1252 (byte {byte})", _SAVE_AS)
        return None
    if not NO_TEXT.search(text):
        journal.remark(line, f"the text is not UTF-8 (byte {byte}) and was read as Windows-1252; check the notes")
    return text


def _near_files(path: Path) -> str:
    try:
        names = [entry.name for entry in path.parent.iterdir() if entry.is_file()]
    except OSError:
        return f"there is no folder {path.parent} either"
    near = near_names(path.name, names)
    return f"did you mean {' or '.join(near)}?" if near else "check the name and the folder"
