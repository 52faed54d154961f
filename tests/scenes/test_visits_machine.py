"""The folder of a machine: names, dates and notes of visits, and what is wrong with them."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from scenes.errors import InputError, ReadingsError
from scenes.visits.machine import find_machines, is_machine, read_machine, readings_of_visit
from scenes.visits.visit_notes import KEYS, read_notes

EXAMPLES = Path(__file__).parents[2] / "examples"
LAYOUT = (EXAMPLES / "press_bed" / "layout.yaml").read_text(encoding="utf-8")
READINGS = (EXAMPLES / "press_bed" / "readings" / "as_found.csv").read_text(encoding="utf-8")


@pytest.fixture
def folder(tmp_path):
    """A machine, and a way to add files to it."""

    def add(name, text):
        path = tmp_path / "press 4" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
        return path

    add("layout.yaml", LAYOUT)
    return add


def machine_of(tmp_path):
    return read_machine(tmp_path / "press 4")


def refused(tmp_path):
    with pytest.raises(InputError) as error:
        machine_of(tmp_path)
    return str(error.value)


def test_visits_stand_in_the_order_of_time(folder, tmp_path):
    for name in ("2026-03-15 as left", "2025-01-02 as found", "2026-03-15 as found", "2026-03-16_yearly", "trial"):
        folder(f"visits/{name}.csv", READINGS)
    folder("visits/trial.yaml", "date: 2026-01-01\nnote: before the motor was changed\n")
    folder("visits/.2027-01-01.csv", "not a visit")
    folder("visits/README.md", "not a visit")
    machine = machine_of(tmp_path)
    assert [visit.name for visit in machine.visits] == [
        "2025-01-02 as found", "trial", "2026-03-15 as found", "2026-03-15 as left", "2026-03-16 yearly",
    ]  # fmt: skip
    assert [visit.date for visit in machine.visits] == [
        date(2025, 1, 2), date(2026, 1, 1), date(2026, 3, 15), date(2026, 3, 15), date(2026, 3, 16),
    ]  # fmt: skip
    assert [visit.adjusted for visit in machine.visits] == [False, False, False, True, False]
    assert machine.visits[1].notes.note == "before the motor was changed"


def test_readings_carry_the_name_of_their_file(folder, tmp_path):
    folder("visits/2025-01-02 yearly.csv", READINGS)
    layout, readings = readings_of_visit(machine_of(tmp_path).visits[0])
    assert set(readings.visit) == {"2025-01-02 yearly"}
    assert layout.title
    assert len(readings) > 30


def test_one_file_holds_one_visit(folder, tmp_path):
    folder("visits/2025-01-02.csv", READINGS + READINGS.splitlines()[1].replace("as found", "as left") + "\n")
    (visit,) = machine_of(tmp_path).visits
    assert visit.name == "2025-01-02"
    with pytest.raises(ReadingsError, match=r"it holds 2 visits: as found, as left\n.*keep one file per visit"):
        readings_of_visit(visit)


def test_notes_say_what_readings_cannot(folder, tmp_path):
    folder("visits/2026-01-02 as left.csv", READINGS)
    folder("layout_2026.yaml", LAYOUT)
    folder(
        "visits/2026-01-02 as left.yaml",
        "crew: two\nchanged: [mount, t1]\nadjusted: no\nlayout: layout_2026.yaml\n",
    )
    (visit,) = machine_of(tmp_path).visits
    assert visit.notes.changed == ("mount", "t1")
    assert visit.notes.crew == "two"
    assert not visit.adjusted
    assert visit.layout.name == "layout_2026.yaml"
    assert len(KEYS) == 6


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("dat: 2026-01-02\n", r"line 1, column 1: 'dat' is no key of the notes of a visit\n.*did you mean date"),
        ("date: 2.1.2026\n", "line 1, column 7: .*is no date"),
        ("date: 2026-02-30\n", "line 1, column 7: "),
        ("note: x\nadjusted: maybe\n", "line 2, column 11: adjusted is yes or no, not 'maybe'"),
        ("changed: {a: b}\n", "changed names words or devices"),
        ("- a\n", "notes of a visit are a mapping"),
        ("note: [a, b]\n", "note needs one value"),
    ],
)
def test_notes_that_are_wrong_are_told_with_their_place(folder, tmp_path, text, message):
    folder("visits/one.csv", READINGS)
    folder("visits/one.yaml", text)
    with pytest.raises(InputError, match=message):
        machine_of(tmp_path)


def test_empty_notes_say_nothing(folder):
    assert read_notes(folder("visits/x.yaml", "# nothing yet\n")).date is None


def test_all_that_is_wrong_with_names_is_told_at_once(folder, tmp_path):
    folder("visits/2026-13-45 as found.csv", READINGS)
    folder("visits/2026-01-02 as found.csv", READINGS)
    folder("visits/2026-01-02 as found.yaml", "date: 2026-01-03\n")
    folder("visits/lost.yaml", "note: whose?\n")
    folder("visits/2026-04-01 a.csv", READINGS)
    folder("readings/2026-04-01_a.csv", READINGS)
    folder("visits/other.csv", READINGS)
    folder("visits/other.yaml", "layout: missing.yaml\n")
    text = refused(tmp_path)
    for part in (
        "2026-13-45 as found.csv", "the notes say 2026-01-03, the name of the file 2026-01-02",
        "these notes belong to no visit", "the visit '2026-04-01 a' has two files", "there is no layout missing.yaml",
    ):  # fmt: skip
        assert part in text


def test_what_is_no_machine_is_told(tmp_path):
    assert not is_machine(tmp_path)
    with pytest.raises(InputError, match="this is no folder of a machine"):
        read_machine(tmp_path)
    with pytest.raises(InputError, match="there is no such folder"):
        list(find_machines(tmp_path / "none"))


def test_every_example_is_the_folder_of_a_machine():
    found = [folder.name for folder in find_machines(EXAMPLES)]
    assert found == sorted(path.parent.name for path in EXAMPLES.glob("*/layout.yaml"))
    assert len(found) == 8
    assert [visit.name for visit in read_machine(EXAMPLES / "press_bed").visits] == ["as found", "as left"]
