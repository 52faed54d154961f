"""Sessions on the example, worked out once for all tests of the viewer."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from viewer.logic.session import open_session

ROOT = Path(__file__).parent.parent.parent
BED = ROOT / "examples" / "press_bed"
LAYOUT = str(BED / "layout.yaml")
READINGS = tuple(str(BED / "readings" / f"{name}.csv") for name in ("as_found", "as_left"))


@pytest.fixture(scope="session")
def session():
    """The example with both visits; tests must not change it."""
    return open_session(LAYOUT, READINGS)


@pytest.fixture(scope="session")
def planned():
    """The example without readings."""
    return open_session(LAYOUT)


@pytest.fixture(scope="session")
def one_visit():
    """The example with its first visit only."""
    return open_session(LAYOUT, READINGS[:1])


@pytest.fixture(scope="session")
def lathe():
    """The example of a lathe without readings: nothing is flat there, and there is no base."""
    return open_session(str(ROOT / "examples" / "lathe" / "layout.yaml"))


@cache
def open_example(name):
    """An example with its readings, worked out once; tests must not change it."""
    folder = ROOT / "examples" / name
    return open_session(str(folder / "layout.yaml"), sorted(str(path) for path in (folder / "readings").glob("*.csv")))


@pytest.fixture(scope="session")
def read_lathe():
    """The lathe with its readings."""
    return open_example("lathe")


def changed_layout(folder: Path, *changes: tuple[str, str]) -> str:
    """A copy of the example's layout with texts exchanged; every one of them must be there."""
    text = Path(LAYOUT).read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = folder / "layout.yaml"
    path.write_text(text, encoding="utf-8")
    return str(path)


@pytest.fixture
def change_layout(tmp_path):
    """``change_layout((old, new), ...)`` gives the path of a changed copy of the example's layout."""
    return lambda *changes: changed_layout(tmp_path, *changes)
