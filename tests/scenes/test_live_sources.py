"""Where live readings come from: a file that grows, is cut short or replaced, and senders on this machine."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pytest

from scenes.errors import InputError, Problem
from scenes.layout.read import read_layout
from scenes.live import LiveReadings, RecordFile, Taken, follow, listen
from scenes.live.follow import Follower
from scenes.live.listen import LONGEST_RECORD, MOST_SENDERS
from scenes.live.tail import Tail
from scenes.readings import read_readings

ROOT = Path(__file__).parents[2]
BED = read_layout(ROOT / "examples" / "press_bed" / "layout.yaml")
SENDER = ROOT / "examples" / "live" / "send_readings.py"
SECONDS = 10.0  # longest wait for anything that comes within milliseconds


def wait_for(true, seconds: float = SECONDS) -> None:
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "it did not come"
        time.sleep(0.005)


# --- a growing file --------------------------------------------------------------------------------------------------


@pytest.fixture
def bed(tmp_path):
    """A file, a follower of it that looks when asked, and all that it told."""

    class Bed:
        path = tmp_path / "as_left.csv"

        def __init__(self):
            self.said = []
            self.live = LiveReadings(BED)
            self.follower = Follower(self.path, self.live, self.said.append)

        def add(self, text: str | bytes) -> None:
            with self.path.open("ab") as stream:
                stream.write(text if isinstance(text, bytes) else text.encode())
            self.follower.look()

        def replace(self, text: str) -> None:
            """Write another file and put it in the place of the first, as editors do."""
            other = self.path.with_suffix(".new")
            other.write_text(text)
            other.replace(self.path)
            self.follower.look()

        @property
        def stations(self) -> str:
            return " ".join(self.live.readings.station)

        @property
        def told(self) -> list[str]:
            return [each.message for each in self.said if isinstance(each, Problem)]

    made = Bed()
    yield made
    made.follower.close()


def test_a_file_is_waited_for_and_read_as_it_grows(bed):
    bed.follower.look()
    assert not bed.said
    bed.add("station,v [um]\nA1,1\nA2,")
    assert bed.stations == "A1"
    bed.add("2\nA3,3\n")
    assert bed.stations == "A1 A2 A3"
    assert bed.live.readings.visit[0] == "as left"  # the name of the file says so
    assert not bed.told


def test_a_letter_may_be_cut_in_two(bed):
    text = "station,v [µm],note\nA1,1,größer\n".encode()
    for k in range(len(text)):
        bed.add(text[k : k + 1])
    assert bed.live.readings.note == ("größer",)


def test_a_file_cut_short_is_read_from_its_start(bed):
    bed.add("station,v [um],time\nA1,1,08:00\nA2,2,08:01\n")
    bed.path.write_text("")
    bed.follower.look()
    bed.add("A3,3,08:02\n")  # no headers: the old ones hold
    assert bed.stations == "A1 A2 A3"
    assert not bed.told


def test_a_file_saved_anew_by_an_editor_counts_once(bed):
    bed.add("station,v [um]\nA1,1\nA2,2\n")
    bed.replace("station,v [um]\nA1,1\nA2,2\nA3,3\n")
    assert bed.stations == "A1 A2 A3"
    assert not bed.told
    bed.add("A4,4\n")
    assert bed.stations == "A1 A2 A3 A4"


def test_a_change_in_the_middle_of_a_longer_file_is_noticed(bed):
    bed.add("station,v [um]\nA1,1\nA2,2\n")
    bed.path.write_text("station,v [um]\nA1,1\nA2,222\nA3,3\n")
    bed.follower.look()
    assert bed.stations == "A1 A2 A2 A3"
    assert bed.live.readings.v == pytest.approx([1e-6, 2e-6, 222e-6, 3e-6], abs=1e-15)
    assert ["was changed" in each for each in bed.told] == [True]


def test_a_changed_first_line_looks_like_another_file_and_is_told_so(bed):
    bed.add("station,v [um]\nA1,1\nA2,2\n")
    bed.path.write_text("station,v [um]\nA1,111\nA2,2\nA3,3\n")
    bed.follower.look()
    assert bed.stations == "A1 A2 A1 A3"
    assert ["counts once" in each for each in bed.told] == [True]


def test_another_file_in_its_place_goes_on(bed):
    bed.add("station,v [um],time\nA1,1,08:00\nA2,2,08:01\n")
    bed.replace("station;v [um];time\nA3;3;08:02\n")
    assert bed.stations == "A1 A2 A3"


def test_a_renamed_file_is_read_to_its_end_before_the_one_in_its_place(bed):
    bed.add("station,v [um],time\nA1,1,08:00\n")
    with bed.path.open("a") as old:
        bed.path.rename(bed.path.with_suffix(".1"))
        old.write("A2,2,08:01\n")
    bed.path.write_text("station,v [um],time\nA3,3,08:02\n")
    bed.follower.look()
    bed.follower.look()
    assert bed.stations == "A1 A2 A3"
    assert not bed.told


def test_a_file_is_followed_where_open_files_cannot_be_renamed(bed, monkeypatch):
    monkeypatch.setattr("scenes.live.tail.KEEPS_OPEN", False)
    bed.add("station,v [um],time\nA1,1,08:00\n")
    bed.add("A2,2,08:01\n")
    bed.replace("station,v [um],time\nA3,3,08:02\n")
    bed.add("A4,4,08:03\n")
    assert bed.stations == "A1 A2 A3 A4"
    assert not bed.told


def test_a_file_that_is_gone_for_a_while_is_waited_for(bed):
    bed.add("station,v [um],time\nA1,1,08:00\n")
    bed.path.unlink()
    bed.follower.look()
    bed.add("station,v [um],time\nA2,2,08:01\n")
    assert bed.stations == "A1 A2"


def test_the_last_line_counts_at_the_end_if_it_has_settled(bed, monkeypatch):
    bed.add("station,v [um]\nA1,1\nA2,2")
    monkeypatch.setattr(sys.modules[Follower.__module__], "SETTLED", 0.0)
    bed.follower.close()
    assert bed.stations == "A1 A2"


def test_a_last_line_that_is_still_young_is_told(bed):
    bed.add("station,v [um]\nA1,1\nA2,2")
    bed.follower.close()
    assert bed.stations == "A1"
    assert "the last line has no end yet and is left out: 'A2,2'" in bed.told


@pytest.mark.parametrize("start", [b"PK\x03\x04", b"\xff\xfe", b"\xd0\xcf\x11\xe0"])
def test_a_file_that_is_no_text_is_told_once(bed, start):
    bed.add(start + b"\x00\n" * 20)
    assert len(bed.told) == 1
    bed.replace("station,v [um]\nA1,1\n")
    assert bed.stations == "A1"


def test_a_folder_is_told_once(tmp_path):
    said = []
    follower = Follower(tmp_path, LiveReadings(BED), said.append)
    follower.look()
    follower.look()
    follower.close()
    assert ["cannot be read" in each.message for each in said] == [True]


def test_a_follower_at_work_brings_records_within_a_second(tmp_path):
    path, said, live = tmp_path / "bed.csv", [], LiveReadings(BED)
    with follow(path, live, said.append, interval=0.01), path.open("w") as stream:
        for k in range(1, 6):
            stream.write(f"{'station,v [um]' + chr(10) if k == 1 else ''}A{k},{k}\n")
            stream.flush()
            wait_for(lambda wanted=k: len(live) == wanted)
    assert [each.number for each in said] == [1, 2, 3, 4, 5]


def test_the_tail_reads_large_files_in_pieces_and_whole(tmp_path, monkeypatch):
    monkeypatch.setattr("scenes.live.tail.AT_ONCE", 1000)
    monkeypatch.setattr("scenes.live.tail.COMPARED", 300)
    path = tmp_path / "large.csv"
    data = os.urandom(5500)
    path.write_bytes(data)
    tail, found = Tail(path), b""
    while (grown := tail.grown()).data:
        assert not grown.anew
        found += grown.data
    tail.close()
    assert found == data


# --- senders ---------------------------------------------------------------------------------------------------------


class Talk:
    """A connection to a listener."""

    def __init__(self, listener, host="127.0.0.1"):
        self.socket = socket.create_connection((host, listener.port), timeout=SECONDS)
        self.stream = self.socket.makefile("rb")

    def say(self, *lines: str | bytes) -> list[dict]:
        """Send lines in one piece, and return their answers."""
        sent = b"".join((line if isinstance(line, bytes) else line.encode()) + b"\n" for line in lines)
        self.socket.sendall(sent)
        return [json.loads(self.stream.readline()) for _ in lines]

    def close(self) -> None:
        self.stream.close()
        self.socket.close()


@pytest.fixture
def line():
    """A listener on any free port, with its readings and what it told."""

    class Line:
        def __init__(self):
            self.said, self.live, self.talks = [], LiveReadings(BED), []
            self.listener = listen(self.live, 0, self.said.append)

        def talk(self) -> Talk:
            self.talks.append(Talk(self.listener))
            return self.talks[-1]

    made = Line()

    yield made
    for talk in made.talks:
        talk.close()
    made.listener.close()


def record(station: str, value: float, **more: object) -> str:
    return json.dumps({"station": station, "v": {"value": value, "unit": "um"}, **more})


def test_each_line_is_answered_by_one_line(line):
    answers = line.talk().say(record("A1", 1), record("A9", 2), "", "{", record("A2", 3))
    assert answers[0] == {"taken": 1}
    assert answers[1] == {"problem": answers[1]["problem"], "line": 2}
    assert "'A9' is not in the layout" in answers[1]["problem"]
    assert [("problem" in each, each.get("line")) for each in answers[2:4]] == [(True, 3), (True, 4)]
    assert answers[4] == {"taken": 2}
    assert line.live.readings.station == ("A1", "A2")


def test_a_record_may_come_byte_by_byte(line):
    talk = line.talk()
    for byte in (record("A1", 1, note="größer") + "\r\n").encode():
        talk.socket.sendall(bytes([byte]))
    assert json.loads(talk.stream.readline()) == {"taken": 1}


def test_a_sender_that_goes_in_the_middle_of_a_line_costs_only_that_line(line):
    talk = line.talk()
    talk.socket.sendall((record("A1", 1) + "\n" + record("A2", 2)[:20]).encode())
    talk.close()
    wait_for(lambda: len(line.said) == 2)
    assert isinstance(line.said[0], Taken)
    assert "ended in the middle of a line" in line.said[1].message
    assert line.talk().say(record("A3", 3)) == [{"taken": 2}]


def test_a_sender_that_does_not_wait_for_answers_loses_nothing(line):
    talk = line.talk()
    talk.socket.sendall("".join(record("A1", k) + "\n" for k in range(200)).encode())
    talk.socket.shutdown(socket.SHUT_WR)
    wait_for(lambda: len(line.live) == 200)


def test_a_line_that_is_too_long_is_told_and_the_next_one_taken(line):
    answers = line.talk().say(b"x" * (LONGEST_RECORD + 1), record("A1", 1), b"\xff\xfe")
    assert "longer than" in answers[0]["problem"]
    assert answers[1] == {"taken": 1}
    assert "not UTF-8" in answers[2]["problem"]


def test_several_senders_at_once_lose_and_double_nothing(line):
    def send(name: str) -> None:
        talk = line.talk()
        for k in range(25):
            talk.say(record("A1", k, note=f"{name} {k}"))

    threads = [threading.Thread(target=send, args=(name,)) for name in "abcd"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(line.live.readings.note) == sorted(f"{name} {k}" for name in "abcd" for k in range(25))
    assert sorted(each.number for each in line.said) == list(range(1, 101))


def test_an_idle_sender_is_kept(line):
    talk = line.talk()
    time.sleep(0.5)  # longer than the listener waits at a time
    assert talk.say(record("A1", 1)) == [{"taken": 1}]


def test_what_speaks_http_is_closed(line):
    talk = line.talk()
    body = record("A1", 1)
    talk.socket.sendall(f"POST / HTTP/1.1\r\nHost: localhost\r\n\r\n{body}\r\n".encode())
    assert talk.stream.read() == b""
    assert len(line.live) == 0


def test_too_many_senders_are_told(line):
    for _ in range(MOST_SENDERS):
        line.talk()
    wait_for(lambda: len(line.listener._senders) == MOST_SENDERS)
    answer = json.loads(line.talk().stream.readline())
    assert "senders are connected" in answer["problem"]


@pytest.mark.parametrize("host", ["0.0.0.0", "192.168.1.4", "::", "example.org", "", "10.0.0.1", "fe80::1"])
def test_addresses_that_others_could_reach_are_refused(host):
    with pytest.raises(InputError, match="only taken from this machine"):
        listen(LiveReadings(BED), host=host)


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "::1"])
def test_loopback_is_listened_on(host):
    try:
        listener = listen(LiveReadings(BED), host=host)
    except InputError:
        assert host == "::1"
        pytest.skip("no IPv6 here")
    with listener:
        talk = Talk(listener, listener.host)
        assert talk.say(record("A1", 1)) == [{"taken": 1}]
        talk.close()


def test_a_port_in_use_is_told(line):
    with pytest.raises(InputError, match="cannot be listened on"):
        listen(LiveReadings(BED), line.listener.port)


def test_what_came_before_the_end_is_taken_before_it(line):
    talk = line.talk()
    talk.say(record("A1", 0))
    talk.socket.sendall("".join(record("A1", k) + "\n" for k in range(100)).encode())
    line.listener.close()
    assert len(line.live) == 101


# --- the sender of the examples --------------------------------------------------------------------------------------


def send(path: Path, port: int, *more: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, str(SENDER), str(path), "--port", str(port), "--pace", "0", *more]
    return subprocess.run(command, capture_output=True, text=True, check=False, timeout=30)


def test_the_sender_brings_a_file_over(tmp_path):
    path = ROOT / "examples" / "press_bed" / "readings" / "as_found.csv"
    file = RecordFile(tmp_path / "taken.csv", BED)
    live = LiveReadings(BED, record_file=file)
    with listen(live) as listener:
        done = send(path, listener.port)
    assert (done.returncode, done.stderr) == (0, "")
    wanted, again = read_readings([path], BED), read_readings([tmp_path / "taken.csv"], BED)
    for name in ("h", "v", "time"):
        np.testing.assert_allclose(getattr(live.readings, name), getattr(wanted, name), rtol=0, atol=1e-12)
        np.testing.assert_allclose(getattr(again, name), getattr(wanted, name), rtol=0, atol=1e-9)
    assert live.readings.station == again.station == wanted.station
    file.close()


def test_the_sender_says_what_was_refused_and_that_nobody_listens(tmp_path):
    path = tmp_path / "some.csv"
    path.write_text("station;v [um];note\nA1;1,5;x\nA9;2;\n", encoding="utf-8")
    with listen(LiveReadings(BED)) as listener:
        done = send(path, listener.port)
        assert done.returncode == 1
        assert '{"taken": 1}' in done.stdout
        assert "not in the layout" in done.stdout
    gone = send(path, listener.port)
    assert gone.returncode == 2
    assert "nobody answers" in gone.stderr


def test_the_sender_sends_again_what_had_no_answer(tmp_path):
    """A listener that takes the first record and breaks off: the record counts once."""
    path = tmp_path / "some.csv"
    path.write_text("station,v [um]\nA1,1\nA2,2\n")
    live, broken = LiveReadings(BED), []
    server = socket.create_server(("127.0.0.1", 0))

    def serve() -> None:
        for _ in range(2):
            connection, _ = server.accept()
            with connection, connection.makefile("rwb") as stream:
                for sent in stream:
                    said = live.take_record(sent)
                    if not broken:
                        broken.append(sent)
                        break
                    stream.write(json.dumps({"taken": said.number}).encode() + b"\n")
                    stream.flush()

    thread = threading.Thread(target=serve, daemon=True)
    thread.start()
    done = send(path, server.getsockname()[1])
    thread.join(SECONDS)
    server.close()
    assert done.returncode == 0, done.stderr
    assert live.readings.station == ("A1", "A2")
