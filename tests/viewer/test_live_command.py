"""``datumray live`` as a crew uses it: a growing file, a sender, Ctrl-C; and ``reduce`` of spreadsheets and pastes."""

from __future__ import annotations

import io
import json
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import openpyxl
import pytest

from scenes.layout.read import read_layout
from scenes.readings.read import read_readings
from viewer.commands.main import run

ROOT = Path(__file__).parents[2]
BED = ROOT / "examples" / "press_bed" / "layout.yaml"
FOUND = ROOT / "examples" / "press_bed" / "readings" / "as_found.csv"
SENDER = ROOT / "examples" / "live" / "send_readings.py"
SECONDS = 30.0


class Session:
    """``datumray live`` in a process of its own."""

    def __init__(self, *arguments: object) -> None:
        command = [sys.executable, "-m", "viewer.commands.main", "live", str(BED), *map(str, arguments)]
        self.process = subprocess.Popen(
            command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, encoding="utf-8"
        )
        self.lines: list[str] = []

    def until(self, part: str) -> str:
        """The next line with ``part`` in it."""
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.lines.append(line.rstrip("\n"))
            if part in line:
                return line
        _, err = self.process.communicate()
        raise AssertionError("\n".join([*self.lines, err]))

    def end(self, how: signal.Signals = signal.SIGINT) -> int:
        """Stop it, and return its exit code; ``lines`` then has all it said."""
        self.process.send_signal(how)
        out, err = self.process.communicate(timeout=SECONDS)
        self.lines += out.splitlines()
        assert err == ""
        return self.process.returncode


@pytest.fixture
def session():
    """Make sessions that end with the test."""
    made: list[Session] = []

    def start(*arguments: object) -> Session:
        made.append(Session(*arguments))
        return made[-1]

    yield start
    for each in made:
        if each.process.poll() is None:
            each.process.kill()
            each.process.communicate()


def send(path: Path, port: int) -> None:
    command = [sys.executable, str(SENDER), str(path), "--port", str(port), "--pace", "0"]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=SECONDS)
    assert done.returncode in (0, 1), done.stderr


def test_a_sender_a_journal_and_going_on_after_a_break(session, tmp_path):
    """Half of the readings, Ctrl-C, the other half: nothing is lost, nothing counts twice, all ends well."""
    journal, lines = tmp_path / "taken.csv", FOUND.read_text().splitlines(keepends=True)
    (tmp_path / "first.csv").write_text("".join(lines[:20]))
    (tmp_path / "second.csv").write_text("".join([lines[0], *lines[20:]]))
    first = session("--listen", 0, "--journal", journal)
    port = int(re.search(r"127\.0\.0\.1, port (\d+)", first.until("listening at"))[1])
    assert "next: A1 (set-up plane, target t1)" in first.until("next")
    send(tmp_path / "first.csv", port)
    first.until("  19  ")
    assert first.end() == 1  # stations are missing
    assert any(line.startswith("missing in set-up plane: C6, C7, D1") for line in first.lines)
    second = session("--listen", 0, "--journal", journal, "--json")
    port = json.loads(second.until("listening"))["listening"]["port"]
    send(tmp_path / "second.csv", port)
    second.until('"taken": 37')
    assert second.end(signal.SIGTERM) == 0
    said = [json.loads(line) for line in second.lines]
    assert said[-1]["ended"]["missing"] == []
    assert said[-1]["ended"]["records"] == 37
    assert {each["format"] for each in said} == {1}
    last = next(each for each in said if each.get("taken") == 37)
    assert (last["station"], last["again"], last["channels"]["v"]["count"]) == ("E7", False, 2)
    assert last["channels"]["v"]["mean"]["unit"] == "um"
    wanted, found = (read_readings([path], read_layout(BED)) for path in (FOUND, journal))
    assert found.station == wanted.station
    assert found.v == pytest.approx(wanted.v, abs=1e-9)
    assert found.time == pytest.approx(wanted.time, abs=1e-3)


def test_a_growing_file_is_followed_and_what_is_wrong_is_said(session, tmp_path):
    path = tmp_path / "as_left.csv"
    path.write_text("station,v [um],time [s]\nA1,100,0\n")
    live = session("--follow", path)
    live.until("following")
    live.until("   1  A1: v 100.0 um")
    assert "A2" in live.until("next:")
    start = time.monotonic()
    with path.open("a") as stream:
        stream.write("A9,5,60\nA1,101,120\nA1,900,180\nA2,7")
    assert "station 'A9' is not in the layout" in live.until("?")
    assert "did you mean A7" in live.until("did you mean")
    assert "mean 367.0 um of 3, scatter" in live.until("   2  A1")
    assert "! v does not agree with the earlier readings: off by +799.5 um" in live.until("   3  A1") + live.until("!")
    assert time.monotonic() - start < 10.0  # a second on a machine that is not busy
    assert live.end() == 1
    ending = "\n".join(live.lines)
    assert "3 records of the visit 'as left'" in ending
    assert "readings that do not agree with earlier ones: A1" in ending
    assert "drift of v in set-up plane" in ending
    assert "A2,7" in ending  # the last line has no end


@pytest.fixture
def datumray(monkeypatch, capsys):
    """Call the command in this process: exit code, standard output, standard error."""

    def call(*arguments: object, typed: bytes = b"") -> tuple[int, str, str]:
        monkeypatch.setattr("sys.argv", ["datumray", *map(str, arguments)])
        if typed:
            monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(typed)))
        code = 0
        try:
            run()
        except SystemExit as end:
            code = end.code or 0
        out, err = capsys.readouterr()
        assert "Traceback" not in out + err
        return code, out, err

    return call


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ((), "state --follow FILE or --listen PORT"),
        (("--follow", "-"), "is not followed"),
        (("--follow", "a.csv", "--listen", "0"), "state --follow FILE or --listen PORT"),
        (("--listen", "0", "--journal", "/no/such/folder/x.csv"), "cannot be written"),
        (("--listen", "70000"), "65535"),
    ],
)
def test_wrong_options_are_told(datumray, arguments, message):
    code, _, err = datumray("live", BED, *arguments)
    assert code == 2
    assert message in err


def test_a_journal_with_other_columns_is_refused(datumray, tmp_path):
    (tmp_path / "mine.csv").write_text("a,b\n1,2\n")
    code, _, err = datumray("live", BED, "--listen", 0, "--journal", tmp_path / "mine.csv")
    assert code == 2
    assert "other columns" in err
    assert (tmp_path / "mine.csv").read_text() == "a,b\n1,2\n"


def spreadsheet(path: Path) -> Path:
    book = openpyxl.Workbook()
    for line in FOUND.read_text().splitlines():
        book.active.append([float(cell) if re.fullmatch(r"-?[\d.]+", cell) else cell for cell in line.split(",")])
    book.save(path)
    return path


def test_reduce_gives_the_same_from_text_spreadsheet_and_paste(datumray, tmp_path):
    def reduced(*arguments: object, typed: bytes = b"") -> dict:
        code, out, err = datumray("reduce", BED, *arguments, "--trials", 1000, "--json", "-", typed=typed)
        assert code == 0, err
        return json.loads(out)

    def values(document: dict) -> str:
        text = json.dumps(document)
        return re.sub(r'"[^"]*(as_found\.(csv|xlsx)|standard input)[^"]*"', '""', text)

    wanted = values(reduced(FOUND))
    assert values(reduced(spreadsheet(tmp_path / "as_found.xlsx"))) == wanted
    lines = FOUND.read_text().replace(",", "\t")
    header, _, block = lines.partition("\n")
    columns = header.replace("\t", ", ")
    assert values(reduced("-", "--columns", columns, typed=block.encode())) == wanted


def test_a_broken_spreadsheet_is_one_error(datumray, tmp_path):
    path = spreadsheet(tmp_path / "bed.xlsx")
    path.write_bytes(path.read_bytes()[:2000])
    code, _, err = datumray("reduce", BED, path)
    assert code == 2
    assert "the spreadsheet is damaged" in err
