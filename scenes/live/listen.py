"""A line protocol on this machine: senders connect, each line is a record in JSON, each is answered by one line.

Only programs on the same machine can connect. A connection that speaks HTTP is closed, so that no web page can slip
readings in through the browser of this machine.
"""

from __future__ import annotations

import ipaddress
import json
import math
import re
import socket
import threading
import time
from collections.abc import Callable, Iterator
from types import TracebackType

from ..errors import InputError, Problem
from .lines import LineCutter, WholeLine
from .reader import LiveReadings
from .taken import Taken

__all__ = ["LOOPBACK", "Listener", "listen"]

LOOPBACK = "127.0.0.1"
MOST_SENDERS = 32
LONGEST_RECORD = 16_384
"""Bytes of a line."""
ANSWER_SECONDS = 5.0
"""A sender that does not take its answers for so long is let go."""

LAST_SECONDS = 1.0
"""For so long a listener that ends still reads what has come."""

_HTTP = re.compile(rb"[A-Z]{3,10} \S+ HTTP/\d")
_WAKE_SECONDS = 0.2

Tell = Callable[[Taken | Problem], None]


def listen(live: LiveReadings, port: int = 0, tell: Tell | None = None, *, host: str = LOOPBACK) -> Listener:
    """Listener on ``port`` of this machine (0: any free one, see its ``port``), at work in threads of its own.

    Parameters
    ----------
    live : LiveReadings
        Where the records go.
    tell : callable, optional
        Called from those threads with each record taken and each problem.
    host : str
        ``127.0.0.1``, ``::1`` or ``localhost``.

    Raises
    ------
    InputError
        For an address of any other machine or network, and where the port is taken.
    """
    return Listener(live, port, tell, host=host).start()


def loopback_address(host: str) -> str:
    """Address of this machine for ``host``; raises ``InputError`` for any that others could reach."""
    try:
        address = ipaddress.ip_address(LOOPBACK if host == "localhost" else host)
    except ValueError:
        address = None
    if address is None or not address.is_loopback:
        message = f"readings are only taken from this machine, not at {host!r}"
        raise InputError([Problem("address", 0, 0, message, "use 127.0.0.1 or ::1")])
    return str(address)


class Listener:
    """Takes the records of any number of senders; a context manager that ends by ``close``."""

    def __init__(self, live: LiveReadings, port: int, tell: Tell | None = None, *, host: str = LOOPBACK) -> None:
        self._live = live
        self._tell = tell or (lambda _: None)
        self._stop = threading.Event()
        self._senders: set[threading.Thread] = set()
        self._count = 0
        address = loopback_address(host)
        family = socket.AF_INET6 if ":" in address else socket.AF_INET
        self._socket = socket.socket(family, socket.SOCK_STREAM)
        try:
            self._socket.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            self._socket.bind((address, port))
            self._socket.listen(MOST_SENDERS)
        except (OSError, OverflowError) as error:
            self._socket.close()
            reason = getattr(error, "strerror", None) or str(error)
            raise InputError([Problem("port", 0, 0, f"port {port} cannot be listened on: {reason}")]) from None
        self._socket.settimeout(_WAKE_SECONDS)
        self.host = address
        self.port = int(self._socket.getsockname()[1])
        self._thread = threading.Thread(target=self._run, name=f"listen {self.port}", daemon=True)

    def start(self) -> Listener:
        """Begin, in threads of its own."""
        self._thread.start()
        return self

    def close(self) -> None:
        """End; records that have come whole are taken first."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join()
        self._socket.close()
        for sender in tuple(self._senders):
            sender.join()

    def _run(self) -> None:
        while not self._stop.is_set():
            try:
                connection, _ = self._socket.accept()
            except TimeoutError:
                continue
            except OSError:
                return
            self._count += 1
            if len(self._senders) >= MOST_SENDERS:
                _refuse(connection)
                continue
            name = f"sender {self._count}"
            thread = threading.Thread(target=self._serve, args=(connection, name), name=name, daemon=True)
            self._senders.add(thread)
            thread.start()

    def _serve(self, connection: socket.socket, name: str) -> None:
        try:
            with connection:
                connection.settimeout(_WAKE_SECONDS)
                self._converse(connection, name)
        finally:
            self._senders.discard(threading.current_thread())

    def _converse(self, connection: socket.socket, name: str) -> None:
        cutter = LineCutter(LONGEST_RECORD)
        answers = True
        try:
            for data in self._pieces(connection):
                lines = cutter.lines(data)
                if lines and lines[0].number == 1 and lines[0].data is not None and _HTTP.match(lines[0].data):
                    return
                # Every whole line is taken, also those of a sender that has gone without its answers.
                said = [self._taken(line, name) for line in lines]
                answers = answers and self._answered(connection, said)
        finally:
            if cutter.is_cut:
                text = cutter.waiting[:60].decode("utf-8", errors="replace")
                self._tell(Problem(name, 0, 0, f"it ended in the middle of a line, which is left out: {text!r}"))

    def _pieces(self, connection: socket.socket) -> Iterator[bytes]:
        """What the sender sends, until it or the listener ends; what has come by then is still read."""
        ends = math.inf
        while time.monotonic() < ends:
            if self._stop.is_set() and ends == math.inf:
                ends = time.monotonic() + LAST_SECONDS
            try:
                data = connection.recv(65_536)
            except TimeoutError:
                if self._stop.is_set():
                    return
                continue
            except OSError:
                return  # the connection broke; what came whole is taken
            if not data:
                return
            yield data

    def _taken(self, line: WholeLine, name: str) -> dict[str, object]:
        if line.data is None:
            said: Taken | Problem = Problem(name, line.number, 0, f"the line is longer than {LONGEST_RECORD} bytes")
        else:
            said = self._record(line.data, name, line.number)
        self._tell(said)
        if isinstance(said, Taken):
            return {"taken": said.number}
        problem = f"{said.message} ({said.advice})" if said.advice else said.message
        return {"problem": problem, "line": line.number}

    def _record(self, data: bytes, name: str, number: int) -> Taken | Problem:
        try:
            text = data.decode("utf-8")
        except UnicodeDecodeError:
            return Problem(name, number, 0, "the line is not UTF-8")
        return self._live.take_record(text, name, number)

    def _answered(self, connection: socket.socket, answers: list[dict[str, object]]) -> bool:
        """Send the answers; False where the sender does not take them any more."""
        text = "".join(json.dumps(answer, ensure_ascii=False) + "\n" for answer in answers)
        try:
            connection.settimeout(ANSWER_SECONDS)
            connection.sendall(text.encode())
            connection.settimeout(_WAKE_SECONDS)
        except OSError:
            return False
        return True

    def __enter__(self) -> Listener:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def _refuse(connection: socket.socket) -> None:
    with connection:
        try:
            connection.settimeout(_WAKE_SECONDS)
            answer = json.dumps({"problem": f"{MOST_SENDERS} senders are connected", "line": 0})
            connection.sendall(answer.encode() + b"\n")
        except OSError:
            return
