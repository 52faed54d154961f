"""Fingerprints: whether anything that a result follows from has changed."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from pathlib import Path

from ..errors import LayoutError
from ..layout.strict_yaml import Block, Items, Text, parse
from ..layout.text_files import read_text

__all__ = ["digest", "layout_fingerprint", "named_files"]

LONGEST_NAME = 400


def digest(*parts: bytes) -> str:
    """Fingerprint of some contents, each with its length, in their order."""
    made = hashlib.sha256()
    for part in parts:
        made.update(len(part).to_bytes(8, "big") + part)
    return made.hexdigest()


def _texts(value: object) -> Iterator[Text]:
    if isinstance(value, Block):
        for each in value.values():
            yield from _texts(each)
    elif isinstance(value, Items):
        for each in value:
            yield from _texts(each)
    elif isinstance(value, Text):
        yield value


def named_files(layout: Path) -> set[Path]:
    """Files that a layout names: catalogues, meshes, tables; whatever its values call that is there."""
    try:
        root, _ = parse(read_text(layout, str(layout)), str(layout))
    except LayoutError:
        return set()
    found = set()
    for text in _texts(root):
        if "." in text and len(text) < LONGEST_NAME:
            try:
                path = layout.parent / text
                if path.is_file():
                    found.add(path)
            except (OSError, ValueError):  # no path can be called so
                continue
    return found


def layout_fingerprint(folder: Path, layouts: set[Path]) -> str:
    """Fingerprint of layouts and of all files that they name, wherever the folder stands."""
    files = layouts | {path for layout in layouts for path in named_files(layout)}
    names = {Path(os.path.relpath(path, folder)).as_posix(): path for path in files if path.is_file()}
    return digest(*(part for name in sorted(names) for part in (name.encode(), names[name].read_bytes())))
