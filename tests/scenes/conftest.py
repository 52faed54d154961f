"""The layout of a press bed as text, and ways to change it for one test."""

from __future__ import annotations

from pathlib import Path

import pytest

from scenes.errors import LayoutError, Problem
from scenes.layout import read_layout
from scenes.model.layout import Layout


class Press:
    """Layout texts made from one of a press bed."""

    path = Path(__file__).parent / "press_bed.yaml"
    text = path.read_text(encoding="utf-8")

    def changed(self, *pairs: tuple[str, str]) -> str:
        """The layout with each first occurrence of an old part replaced; the part must be there."""
        text = self.text
        for old, new in pairs:
            assert old in text, old
            text = text.replace(old, new, 1)
        return text

    def read(self, *pairs: tuple[str, str]) -> Layout:
        return read_layout("press.yaml", self.changed(*pairs))

    def problems(self, *pairs: tuple[str, str], text: str | None = None) -> tuple[Problem, ...]:
        """Problems of the changed layout, or of ``text``; none where it is read."""
        try:
            read_layout("press.yaml", self.changed(*pairs) if text is None else text)
        except LayoutError as error:
            return error.problems
        return ()


@pytest.fixture(scope="session")
def press() -> Press:
    return Press()
