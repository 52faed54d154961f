"""The index of many machines follows from their files, is never half written, and works out only what changed."""

from __future__ import annotations

import shutil
import sqlite3
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest

from scenes.errors import InputError
from scenes.layout.read import read_layout
from scenes.readings.write import readings_text
from scenes.uncertainty.simulate import simulate_readings
from scenes.visits import index_rows
from scenes.visits.fingerprints import layout_fingerprint, named_files
from scenes.visits.index import build_index
from scenes.visits.index_file import OURS, SCHEMA, read_index
from scenes.visits.machine import read_machine
from scenes.visits.machine_results import changes_of, results_of, trends_of

EXAMPLES = Path(__file__).parents[2] / "examples"
LAYOUT = """
layout: 1
title: Small bed
machine:
  bed: {plate: {length: 2 m, width: 1 m, thickness: 300 mm}, at: [0 m, 0 m, 0.8 m]}
devices:
  laser: {emitter: block}
  base: {rotary base: standard}
  t1: {target: two axes}
stations:
  grid: {on: bed, grid: 4 x 3, margin: 200 mm, target: t1, mount: {post: 120 mm}}
setups:
  plane:
    emitter: {use: laser, on: floor, at: [0 m, -1.5 m, 0 m], mount: {tripod: 0.85 m}}
    turned by: base
    level by: three points
    reads: [grid, again: [A1, C4]]
tasks:
  flat: {flatness: bed, from: grid, limit: 60 um}
"""
SINKS = 40e-6
"""Sinking of B2 in a year, metres."""


@pytest.fixture(autouse=True)
def few_trials(monkeypatch):
    monkeypatch.setattr(index_rows, "TRIALS", 200)


def add_machine(root, name, visits):
    """A machine whose station B2 has sunk for some years at each visit."""
    folder = root / name
    (folder / "visits").mkdir(parents=True)
    (folder / "layout.yaml").write_text(LAYOUT, encoding="utf-8")
    layout = read_layout(folder / "layout.yaml")
    for seed, (visit, years) in enumerate(visits.items()):
        readings = simulate_readings(layout, {"B2": -SINKS * years}, "as found", np.random.default_rng(seed))
        (folder / "visits" / f"{visit}.csv").write_text(readings_text(readings, layout), encoding="utf-8")


@pytest.fixture(scope="module")
def plant(tmp_path_factory):
    """Two machines with their index: one of them sinks over three visits, the other was shimmed."""
    root = tmp_path_factory.mktemp("plant")
    add_machine(root, "hall 1/press 4", {"2021-03-01 yearly": 0, "2022-03-01 yearly": 1, "2023-03-01 yearly": 2})
    add_machine(root, "hall 2/press 7", {"2022-05-01 as found": 0, "2022-05-02 as left": 0})
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(index_rows, "TRIALS", 200)
        built(root)
    return root


@pytest.fixture
def root(plant, tmp_path):
    """A copy of the plant with its index."""
    return Path(shutil.copytree(plant, tmp_path / "plant"))


@pytest.fixture
def small(tmp_path):
    """One machine with one visit, without an index."""
    add_machine(tmp_path / "small", "press 1", {"2021-03-01": 0})
    return tmp_path / "small"


def built(root, **more):
    return build_index([root], root / "datumray.sqlite", "1", **more)


def dumped(file):
    with closing(sqlite3.connect(file)) as base:
        return list(base.iterdump())


def test_what_it_holds(root):
    steps = []
    found = built(root, rebuild=True, progress=lambda done, total: steps.append((done, total)))
    assert list(found.machines) == ["hall 1/press 4", "hall 2/press 7"]
    assert steps == [(i, 5) for i in range(1, 6)]
    assert found.computed == 5
    sinking, other = found.machines.values()
    assert [row.date for row in sinking.visits] == ["2021-03-01", "2022-03-01", "2023-03-01"]
    results = results_of(read_machine(root / "hall 1" / "press 4"), lambda _: 200)
    for row in sinking.results:
        component = results.measured[row.visit, "flat"].components[0]
        assert row.value == pytest.approx(component.value, rel=1e-12)
        assert row.expanded_uncertainty == pytest.approx(component.expanded_uncertainty, rel=1e-12)
        assert row.verdict == component.verdict.word
        assert (row.unit, row.factor, row.upper_limit) == ("um", pytest.approx(1e6), pytest.approx(60e-6))
    assert len(sinking.changes) == len(changes_of(results)) == 2
    assert len(sinking.trends) == len(trends_of(results)) == 13
    (value,) = (row for row in sinking.trends if not row.station)
    assert value.outlook in ("will reach the limit", "beyond the limit already")
    assert next(row for row in sinking.trends if row.station == "B2").proven
    assert sinking.changes[-1].worse
    assert not other.changes[0].worse
    assert other.trends == ()
    assert not sinking.problems
    assert not other.problems


def test_rebuilt_from_the_files_it_is_the_same(root, tmp_path):
    first = dumped(root / "datumray.sqlite")
    moved = tmp_path / "elsewhere"
    shutil.copytree(root, moved, ignore=shutil.ignore_patterns("*.sqlite"))
    found = built(moved)
    assert dumped(moved / "datumray.sqlite") == first
    assert read_index(root / "datumray.sqlite").machines == found.machines
    assert len(first) > 35


def test_only_what_changed_is_worked_out(root):
    stamp = (root / "datumray.sqlite").stat().st_mtime_ns
    assert built(root).computed == 0
    assert (root / "datumray.sqlite").stat().st_mtime_ns == stamp
    visits = root / "hall 1" / "press 4" / "visits"
    shutil.copy(visits / "2023-03-01 yearly.csv", visits / "2024-03-01 yearly.csv")
    (visits / "2022-03-01 yearly.yaml").write_text("note: read twice\n", encoding="utf-8")
    assert built(root).computed == 2
    after = dumped(root / "datumray.sqlite")
    shutil.rmtree(root / "hall 2")
    assert built(root).computed == 0
    assert list(read_index(root / "datumray.sqlite").machines) == ["hall 1/press 4"]
    assert built(root, rebuild=True).computed == 4
    assert dumped(root / "datumray.sqlite") == [line for line in after if "hall 2/press 7" not in line]


def test_another_layout_or_program_says_something_else(small):
    file = small / "datumray.sqlite"
    assert built(small).computed == 1
    (small / "press 1" / "layout.yaml").write_text(LAYOUT.replace("60 um", "50 um"), encoding="utf-8")
    found = built(small)
    assert found.computed == 1
    assert found.machines["press 1"].results[0].upper_limit == pytest.approx(50e-6)
    assert build_index([small], file, "2").computed == 1
    assert build_index([small], file, "2").computed == 0


def test_files_that_a_layout_names_are_part_of_it(small):
    machine = small / "press 1"
    ours = small / "ours.yaml"
    text = "catalogue: 1\ntargets:\n  fine: {like: two axes, resolution: 0.5 um}\n"
    ours.write_text(text, encoding="utf-8")
    layout = machine / "layout.yaml"
    layout.write_text(LAYOUT.replace("layout: 1\n", "layout: 1\ncatalogue: [../ours.yaml]\n"), encoding="utf-8")
    assert named_files(layout) == {machine / "../ours.yaml"}
    before = layout_fingerprint(machine, {layout})
    assert layout_fingerprint(machine, {layout}) == before
    ours.write_text(text.replace("0.5", "0.6"), encoding="utf-8")
    assert layout_fingerprint(machine, {layout}) != before
    layout.write_text("layout: [", encoding="utf-8")
    assert named_files(layout) == set()


@pytest.mark.parametrize("how", ["garbage", "cut", "older", "emptied", "without a table", "empty file"])
def test_a_damaged_index_is_built_anew_with_one_message(small, how):
    file = small / "datumray.sqlite"
    built(small)
    good, whole = dumped(file), file.read_bytes()
    if how == "garbage":
        file.write_bytes(b"\x00garbage" * 500)
    elif how == "cut":
        file.write_bytes(whole[: len(whole) // 2])
    elif how == "emptied":
        file.write_bytes(whole[:100] + bytes(len(whole) - 100))
    elif how == "empty file":
        file.write_bytes(b"")
    else:
        with closing(sqlite3.connect(file)) as base:
            base.execute(f"PRAGMA user_version = {SCHEMA - 1}" if how == "older" else "DROP TABLE trend")
            base.commit()
    found = built(small)
    assert len(found.remarks) == 1
    assert found.remarks[0].startswith("the index datumray.sqlite is ")
    assert found.remarks[0].endswith("it is built anew from the files")
    assert found.computed == 1
    assert dumped(file) == good
    assert built(small).remarks == ()


def test_nothing_else_is_ever_written_over(small):
    text = small / "notes.txt"
    text.write_text("not an index", encoding="utf-8")
    with pytest.raises(InputError, match="it is no index and was left as it is"):
        build_index([small], text, "1")
    assert text.read_text(encoding="utf-8") == "not an index"
    other = small / "other.sqlite"
    with closing(sqlite3.connect(other)) as base:
        base.execute("CREATE TABLE mine (x)")
        base.commit()
    before = other.read_bytes()
    with pytest.raises(InputError, match="a database of something else"):
        build_index([small], other, "1")
    assert other.read_bytes() == before
    with pytest.raises(InputError, match="an index is a file"):
        build_index([small], small, "1")
    with pytest.raises(InputError, match="cannot be written"):
        build_index([small], small / "none" / "x.sqlite", "1")
    assert OURS


def test_who_reads_it_meanwhile_sees_a_whole_one(small):
    file = small / "datumray.sqlite"
    built(small)
    with closing(sqlite3.connect(f"{file.as_uri()}?mode=ro", uri=True)) as reader:
        before = reader.execute("SELECT count(*) FROM result").fetchone()
        cursor = reader.execute("SELECT machine FROM visit")
        first = cursor.fetchone()
        with ThreadPoolExecutor(2) as pool:
            jobs = [pool.submit(built, small, rebuild=True) for _ in range(2)]
            seen = [len(read_index(file).machines) for _ in range(20)]
            assert [job.result().computed for job in jobs] == [1, 1]
        assert set(seen) == {1}
        assert [first, *cursor.fetchall()] == [("press 1",)]
        assert reader.execute("SELECT count(*) FROM result").fetchone() == before
    assert not list(small.glob(".datumray*"))


def test_one_broken_visit_stops_no_other(root):
    visits = root / "hall 1" / "press 4" / "visits"
    (visits / "2022-03-01 yearly.csv").write_text("station,v [um]\nZ9,1.0\n", encoding="utf-8")
    (root / "hall 2" / "press 7" / "visits" / "x.yaml").write_text("note: of nothing\n", encoding="utf-8")
    found = built(root)
    first, second = found.machines.values()
    assert {row.visit for row in first.results} == {"2021-03-01 yearly", "2023-03-01 yearly"}
    assert first.problems[0].visit == "2022-03-01 yearly"
    assert "Z9" in first.problems[0].message
    assert str(root) not in first.problems[0].message
    assert len(first.changes) == 1
    assert second.results == ()
    assert "belong to no visit" in second.problems[0].message
    assert read_index(root / "datumray.sqlite").machines == found.machines


def test_a_post_changed_in_between_is_not_shared(root):
    folder = root / "hall 1" / "press 4"
    one = results_of(read_machine(folder), lambda _: 100)
    (folder / "visits" / "2022-03-01 yearly.yaml").write_text("changed: [base]\n", encoding="utf-8")
    two = results_of(read_machine(folder), lambda _: 100)
    before, after = changes_of(one), changes_of(two)
    assert before[0].common
    assert "beam not square to the base axis" not in after[0].common
    assert np.all(after[0].deviations[0].u >= before[0].deviations[0].u - 1e-12)
    assert after[0].deviations[0].u.max() > before[0].deviations[0].u.max()
    assert after[1].deviations[0].u == pytest.approx(before[1].deviations[0].u)


def test_there_must_be_a_machine(tmp_path):
    with pytest.raises(InputError, match="there is no machine in it"):
        build_index([tmp_path], tmp_path / "x.sqlite", "1")
