"""Layouts as text, and ways to change them for one test: a press bed, and one layout for each way of measuring."""

from __future__ import annotations

from pathlib import Path

import pytest

from scenes.errors import LayoutError, Problem
from scenes.layout import read_layout
from scenes.model.layout import Layout

HERE = Path(__file__).parent


class Sheet:
    """Layout texts made from the one in a file."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.text = path.read_text(encoding="utf-8")

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

    def one_problem(self, old: str, new: str, at: str) -> tuple[Problem, tuple[int, int]]:
        """The only problem of the layout with ``old`` replaced by ``new``, and where ``at`` stands from there on."""
        text = self.changed((old, new))
        start = text.index(new)
        offset = text.index(at, start)
        place = text.count("\n", 0, offset) + 1, offset - (text.rfind("\n", 0, offset) + 1) + 1
        problems = self.problems(text=text)
        assert len(problems) == 1, [str(problem) for problem in problems]
        return problems[0], place


@pytest.fixture(scope="session")
def press() -> Sheet:
    return Sheet(HERE / "press_bed.yaml")


@pytest.fixture(scope="session")
def sheets() -> dict[str, Sheet]:
    """Sheets of ``layouts`` by name: press_slide, rolls, gantry, bore, rails."""
    return {path.stem: Sheet(path) for path in sorted((HERE / "layouts").glob("*.yaml"))}
