"""Text of a file, or an error that says why it cannot be read."""

from __future__ import annotations

from pathlib import Path

from ..errors import LayoutError, Problem

__all__ = ["read_text"]


def read_text(path: Path | str, shown_as: str) -> str:
    """UTF-8 text of the file, without a byte order mark; raises ``LayoutError`` naming it ``shown_as``."""
    try:
        data = Path(path).read_bytes()
    except FileNotFoundError:
        raise LayoutError([Problem(shown_as, 0, 0, "there is no such file")]) from None
    except IsADirectoryError:
        raise LayoutError([Problem(shown_as, 0, 0, "this is a folder, not a file")]) from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else "its name cannot be used"
        raise LayoutError([Problem(shown_as, 0, 0, f"the file cannot be read: {reason}")]) from None
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = data[: error.start]
        line, column = before.count(b"\n") + 1, error.start - (before.rfind(b"\n") + 1) + 1
        message = "the file is not UTF-8 text from here on"
        raise LayoutError([Problem(shown_as, line, column, message, "save it as UTF-8")]) from None
