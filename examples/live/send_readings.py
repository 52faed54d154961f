"""Sends the rows of a readings file, one after the other, to ``datumray live LAYOUT --listen PORT`` on this machine.

    python send_readings.py as_found.csv --port 40123 --pace 0.5

It needs nothing but Python, so that it can be taken as the start of a sender for a detector of your own: connect, write
one line of JSON for each reading, read one line of answer.

    {"station": "A1", "v": {"value": 12.3, "unit": "um"}, "time": "08:15:30", "id": "a7f3-1"}
    {"taken": 1}

Where the connection breaks, the record that had no answer yet is sent once more with the same ``id``; it counts once.
"""

from __future__ import annotations

import argparse
import contextlib
import csv
import json
import re
import secrets
import socket
import sys
import time
from collections.abc import Iterator
from pathlib import Path

TEXTS = {"visit", "setup", "station", "position", "target", "side", "note"}
NUMBERS = {"h", "v", "pitch", "yaw", "clock", "h zero", "v zero", "mount offset"}
TRIES = 5
HEADER = re.compile(r"(?P<name>[^\[(]*)(?:[\[(](?P<unit>[^\])]*)[\])])?")

Record = dict[str, object]


def records_of(path: Path) -> Iterator[Record]:
    """Record of each row: texts as they are, numbers with the unit of their header; blank cells are left out."""
    text = path.read_text(encoding="utf-8-sig")
    header = text.partition("\n")[0]
    delimiter = max(";\t,", key=header.count)
    rows = csv.reader(text.splitlines(), delimiter=delimiter)
    columns = [column_of(cell) for cell in next(rows, [])]
    for row in rows:
        record: Record = {}
        for (name, unit), cell in zip(columns, row, strict=False):
            if not cell.strip():
                continue
            if name in TEXTS or (name == "time" and not unit):
                record[name] = cell.strip()
            elif name in NUMBERS or name == "time":
                record[name] = {"value": float(cell.replace(",", ".")), "unit": unit}
        if record:
            yield record


def column_of(header: str) -> tuple[str, str]:
    """Name and unit of a header such as ``v [um]``."""
    found = HEADER.match(header.strip())
    name, unit = (found["name"], found["unit"] or "") if found else (header, "")
    return " ".join(name.replace("_", " ").casefold().split()), unit.strip()


class Sender:
    """A connection that is made anew where it breaks."""

    def __init__(self, host: str, port: int) -> None:
        self.address = (host, port)
        self.stream = None

    def answer(self, record: Record) -> dict[str, object]:
        """Send a record, and return what is answered; raises ``OSError`` where nobody answers."""
        line = json.dumps(record, ensure_ascii=False).encode() + b"\n"
        for left in reversed(range(TRIES)):
            try:
                if self.stream is None:
                    with socket.create_connection(self.address, timeout=10.0) as connection:
                        self.stream = connection.makefile("rwb")  # keeps the connection open
                self.stream.write(line)
                self.stream.flush()
                said = self.stream.readline()
                if said:
                    return json.loads(said)
                raise ConnectionError("the connection was closed")
            except OSError:
                self.close()
                if not left:
                    raise
                time.sleep(0.2)
        raise ConnectionError

    def close(self) -> None:
        """Close the connection."""
        if self.stream is not None:
            with contextlib.suppress(OSError):
                self.stream.close()
            self.stream = None


def main() -> int:
    """Send all rows; 0: all were taken, 1: some were not, 2: nobody listens."""
    arguments = argparse.ArgumentParser(description="Send the rows of a readings file to datumray live.")
    arguments.add_argument("file", type=Path, help="readings file (CSV), units in its headers")
    arguments.add_argument("--port", type=int, required=True, help="port that datumray live says it listens at")
    arguments.add_argument("--host", default="127.0.0.1", help="address of this machine")
    arguments.add_argument("--pace", type=float, default=1.0, help="seconds from one record to the next")
    asked = arguments.parse_args()
    sender, run, refused = Sender(asked.host, asked.port), secrets.token_hex(4), 0
    try:
        for number, record in enumerate(records_of(asked.file), start=1):
            if number > 1:
                time.sleep(asked.pace)
            answer = sender.answer({**record, "id": f"{run}-{number}"})
            refused += "problem" in answer
            print(f"{record.get('station', '?')}: {json.dumps(answer, ensure_ascii=False)}", flush=True)
    except OSError as error:
        print(f"nobody answers at {asked.host}, port {asked.port}: {error}", file=sys.stderr)
        return 2
    except ValueError as error:
        print(f"{asked.file}: {error}", file=sys.stderr)
        return 2
    finally:
        sender.close()
    return 1 if refused else 0


if __name__ == "__main__":
    raise SystemExit(main())
