"""The pages of the examples: what they say of figures, findings, tests and layouts is so; no method is left out."""

import re
import struct
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from scenes.checks.codes import CODES
from scenes.checks.plan import traced_plan
from scenes.layout import read_layout
from scenes.model.survey import LevelBy, Method
from scenes.readings.truth_file import read_truth
from scenes.reductions.planned_tasks import planned_of
from scenes.reductions.prediction import predict
from scenes.reductions.quantities.shown import scale_of
from scenes.tracing.sight import Sight
from viewer.commands.example import example

ROOT = Path(__file__).parents[1]
EXAMPLES = ROOT / "examples"
NAMES = sorted(path.parent.name for path in EXAMPLES.glob("*/layout.yaml"))
PARTS = ("What it proves", "On site", "Caution", "Geometry and signs", "What limits it", "Findings", "What would fail")
LARGEST_PICTURE = 200_000  # bytes
SCATTER = 0.15
"""Share by which a figure on a page may be off: that of a form rests on trials of its own."""

each = pytest.mark.parametrize("name", NAMES)


@cache
def layout_of(name):
    return read_layout(EXAMPLES / name / "layout.yaml")


@cache
def page_of(name):
    return (EXAMPLES / name / "README.md").read_text(encoding="utf-8")


@cache
def predictions_of(name):
    layout = layout_of(name)
    networks, errors = {}, {}
    return [
        predict(planned_of(layout, task, networks, errors), np.random.default_rng(20_000), 0)
        for task in layout.tasks.values()
    ]


def sections(name):
    """Sections of a page about a method: title -> text."""
    found = re.split(r"^## (.*)$", page_of(name), flags=re.MULTILINE)
    return {title: text for title, text in zip(found[1::2], found[2::2], strict=True) if "**What it proves.**" in text}


@each
def test_every_method_is_told_in_all_its_parts(name):
    assert sections(name)
    for title, text in sections(name).items():
        assert [part for part in PARTS if f"{part}" not in text] == [], title


@each
def test_findings_on_the_page_exist(name):
    for text in sections(name).values():
        told = text.split("**Findings")[1].split("**What would fail")[0]
        named = re.findall(r"`([a-z]+(?:-[a-z]+)+|blocked|clipped)`", told)
        assert named
        assert set(named) <= set(CODES)


@cache
def known_tests():
    """Names of test functions and of files of tests."""
    functions, files = set(), set()
    for path in (ROOT / "tests").rglob("test_*.py"):
        functions |= set(re.findall(r"^def (test_\w+)", path.read_text(encoding="utf-8"), re.MULTILINE))
        files.add(path.name)
    return functions, files


@each
def test_the_laws_that_a_page_names_exist(name):
    functions, files = known_tests()
    for title, text in sections(name).items():
        named = re.findall(r"`(?:tests/\w+/)?(test_\w+(?:\.py)?)`", text.split("**What would fail")[1])
        assert any(each in files for each in named), title
        assert [each for each in named if each not in functions | files] == []


def words(line):
    """A line of a layout as words, its remark left out."""
    return re.sub(r"[\s,{}]+", " ", line.split("#")[0]).strip()


@each
def test_what_a_page_quotes_stands_in_the_layout(name):
    """Line by line; of a line that is shortened with dots, every piece."""
    layout = (EXAMPLES / name / "layout.yaml").read_text(encoding="utf-8")
    whole = " ".join(filter(None, map(words, layout.splitlines())))
    for block in re.findall(r"```yaml\n(.*?)```", page_of(name), re.DOTALL):
        for line in filter(None, map(words, block.splitlines())):
            assert all(piece.strip(" []") in whole for piece in line.split("...")), line


@each
def test_figures_of_standard_uncertainties_are_those_predicted(name):
    """Every figure behind ``standard uncertainty``, and in the third column of tables; slopes also in um/m."""
    layout, page = layout_of(name), page_of(name)
    shown = []
    for predicted in predictions_of(name):
        for part in predicted.components:
            scale = scale_of(part.kind, part.limit, layout.units)
            shown += [scale.number(part.standard_uncertainty), 1e6 * part.standard_uncertainty]
    shown = np.array(shown)
    told = re.findall(r"standard uncertainty(?: x)?\s+(\d+(?:\.\d+)?)", page)
    for table in re.findall(r"\| task \| limit \| standard uncertainty .*?\n\|[-|]+\n((?:\|.*\n)+)", page):
        for row in table.splitlines():
            told += re.findall(r"\d+(?:\.\d+)?", row.split("|")[3])
    assert told
    for figure in told:
        step = 0.5 * 10.0 ** -len(figure.partition(".")[2])
        assert np.abs(shown - float(figure)).min() <= step + SCATTER * float(figure), figure


@each
def test_the_plan_settles_every_task(name):
    for predicted in predictions_of(name):
        assert predicted.can_be_proven, predicted.task.name
        assert not predicted.unreached


@each
def test_every_beam_arrives(name):
    plan = traced_plan(layout_of(name))
    assert (plan.sight.sight == Sight.CLEAR).all()
    for channel in ("h", "v"):
        assert np.isfinite(getattr(plan.spots, channel)).all()


@each
def test_the_page_has_its_picture(name):
    data = (EXAMPLES / name / "picture.png").read_bytes()
    assert data.startswith(b"\x89PNG\r\n\x1a\n")
    assert struct.unpack(">II", data[16:24]) == (1200, 750)
    assert len(data) < LARGEST_PICTURE
    assert "](picture.png)" in page_of(name)
    assert f"datumray picture examples/{name}/layout.yaml" in page_of(name)


@each
def test_every_file_is_copied(name, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    example(name, None)
    files = {path.relative_to(EXAMPLES / name) for path in (EXAMPLES / name).rglob("*") if path.suffix != ".pyc"}
    assert {path.relative_to(tmp_path / name) for path in (tmp_path / name).rglob("*")} == {
        path for path in files if "__pycache__" not in path.parts
    }


def setups():
    return [(layout, setup) for name in NAMES for layout in (layout_of(name),) for setup in layout.setups.values()]


def test_no_method_is_left_out():
    """Each way of reading that the model knows is used by some set-up of some example."""
    every = [setup for _, setup in setups()]
    assert {setup.method for setup in every} == set(Method)
    assert {setup.level_by for setup in every if setup.base} == set(LevelBy)
    assert any(setup.base and setup.reversed for setup in every)
    lines = [setup for setup in every if setup.method is Method.LINE]
    assert any(setup.near and setup.far for setup in lines)
    assert any(setup.reversed and not setup.prism for setup in lines)
    assert any(len(setup.through) > 2 for setup in lines)
    fixed = [setup.prism for setup in every if setup.method is Method.PRISM_LINE and setup.reversed]
    assert {len(prism.stops) > 1 for prism in fixed} == {False, True}
    stations = [layout.stations[station] for layout, setup in setups() for station in setup.reads]
    assert any(len(station.clocks) > 2 for station in stations)
    targets = {layout.targets[layout.stations[station].target] for layout, setup in setups() for station in setup.reads}
    assert any(target.reads_angles and target.step for target in targets)


def anchor(title):
    """Anchor of a heading, as it is made where the pages are read."""
    return re.sub(r"[^a-z0-9 -]", "", title.lower()).replace(" ", "-")


def test_every_method_has_one_home_in_the_readme():
    methods = (ROOT / "README.md").read_text(encoding="utf-8").split("## Methods")[1].split("\n## ")[0]
    listed = re.findall(r"\(examples/(\w+)/README\.md#([\w-]+)\)", methods)
    assert sorted(listed) == sorted((name, anchor(title)) for name in NAMES for title in sections(name))


@each
def test_links_of_a_page_lead_somewhere(name):
    for target in re.findall(r"\]\(([^)#]+)", page_of(name)):
        assert (EXAMPLES / name / target).exists(), target


@each
def test_the_truth_is_of_this_layout(name):
    truth = read_truth(EXAMPLES / name / "truth.csv", layout_of(name))
    assert max(map(abs, truth.up.values())) > 1e-6
