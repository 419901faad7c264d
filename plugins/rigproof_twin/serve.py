"""Serves a bench over TCP on 127.0.0.1: a raw socket per instrument, and a control port for its clock.

The control port speaks lines: `now?` → seconds since the start, `wait 5` → lets 5 s pass and answers the time then,
`utc?` → date and time, `ports?` → a JSON object of resource names and ports, `addresses?` → one of resource names and
what to open instead, with `{host}` for this machine, `rig?` → an object that says which rig it is (`name`, `file`,
`content`); anything else → `error: …`.
"""

from __future__ import annotations

import json
import socket
import sys
import threading
from collections.abc import Callable, Mapping
from contextlib import suppress

from rigproof.errors import InstrumentError, NumberError, UsageError
from rigproof_twin.instruments.talk import TalkOnly
from rigproof_twin.modbus import Station
from rigproof_twin.pace import Pace
from rigproof_twin.registry import Bench
from rigproof_twin.wire import Exchange

HOST = "127.0.0.1"
LINE_LENGTH = 1000

Talk = Callable[[socket.socket], None]


class Server:
    """A bench being served; `close` frees its ports.

    `first_port` is the control port, the instruments follow in the order of the bench; 0 takes free ones. `rig`: what
    it answers to `rig?`.
    `stations_only`: for a client in this process that reaches the others by itself and moves the clock.
    `UsageError` when a port is taken.
    """

    def __init__(
        self,
        bench: Bench,
        first_port: int = 0,
        stations_only: bool = False,
        rig: Mapping[str, object] | None = None,
    ) -> None:
        self._bench, self._rig = bench, rig or {}
        self._pace = Pace(bench, steered=stations_only)
        self._lock = threading.Lock()  # of what follows
        self._open: set[socket.socket] = set()
        self._threads: list[threading.Thread] = []
        self._closed = False
        served = [*([] if stations_only else bench.instruments), *bench.stations]
        talks: list[Talk] = [self._talk_of(resource) for resource in served]
        listeners = _listen(first_port, len(talks) + 1)
        ports = [listener.getsockname()[1] for listener in listeners]
        self.ports: dict[str, int] = dict(zip(served, ports[1:], strict=True))
        self.clock_port: int = ports[0]
        for listener, talk in zip(listeners, [self._control, *talks], strict=True):
            self._start(self._accept, listener, talk)

    def addresses(self, host: str = HOST) -> dict[str, str]:
        """What to open instead of each resource."""
        return {
            resource: f"tcp://{host}:{port}" if resource in self._bench.stations else f"TCPIP::{host}::{port}::SOCKET"
            for resource, port in self.ports.items()
        }

    def close(self) -> None:
        """Hang up on everybody and free the ports; may be called twice."""
        with self._lock:
            self._closed = True
            sockets, threads = list(self._open), list(self._threads)
        self._pace.stop()
        for each in sockets:
            _hang_up(each)
        for thread in threads:
            thread.join()

    def _start(self, work: Callable[..., None], at: socket.socket, *rest: Talk) -> None:
        """Run `work(at, …)` in a thread that closes `at` when it ends."""

        def run() -> None:
            try:
                with suppress(OSError):  # the other side, or `close`, hung up
                    work(at, *rest)
            finally:
                with self._lock:
                    self._open.discard(at)
                    self._threads.remove(threading.current_thread())
                at.close()

        with self._lock:
            if self._closed:
                at.close()
                return
            thread = threading.Thread(target=run, daemon=True)
            self._open.add(at)
            self._threads.append(thread)
            thread.start()

    def _accept(self, listener: socket.socket, talk: Talk) -> None:
        while True:
            connection, _ = listener.accept()
            connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            self._start(talk, connection)

    def _talk_of(self, resource: str) -> Talk:
        if resource in self._bench.stations:
            return lambda connection: self._talk_modbus(connection, self._bench.stations[resource])

        def talk(connection: socket.socket) -> None:
            try:
                exchange = self._bench.connect(resource, bus=False)
                if isinstance(exchange, TalkOnly):
                    self._recite(connection, exchange)
                else:
                    self._talk(connection, exchange)
            except ConnectionRefusedError:
                return
            except InstrumentError as error:  # a defect of a plugin's stand-in: whoever asked sees the line closed
                sys.stderr.write(f"{error}\n")

        return talk

    def _recite(self, connection: socket.socket, exchange: TalkOnly) -> None:
        """Lines as time brings them; while a client steers the clock, one after the other of this moment."""
        while True:
            with self._bench.lock:
                self._pace.catch_up()
                ready_s = exchange.next_ready()
                if ready_s is None or not self._pace.beat(ready_s):
                    return
                lines = exchange.now() if self._pace.steered else exchange.take_ready()
            connection.sendall(lines)

    def _talk(self, connection: socket.socket, exchange: Exchange) -> None:
        """Messages in, replies out as they become ready; a greeting goes before."""
        with self._bench.lock:
            greeting = exchange.take_ready()
        connection.sendall(greeting)
        while data := connection.recv(65_536):
            with self._bench.lock:
                self._pace.catch_up()
                exchange.write(data)
                if exchange.lost:
                    return
                ready_s = exchange.next_ready()
            while ready_s is not None:
                with self._bench.lock:
                    if not self._pace.until(ready_s):
                        return
                    replies = exchange.take_ready()
                    ready_s = exchange.next_ready()
                connection.sendall(replies)

    def _talk_modbus(self, connection: socket.socket, station: Station) -> None:
        """Frames in, one reply for each; bytes that are no frame end the connection."""
        received = bytearray()
        while data := connection.recv(65_536):
            received += data
            with suppress(ValueError):
                while frame := station.take(received):
                    with self._bench.lock:
                        self._pace.catch_up()
                        reply, takes_s = station.execute(frame)
                        if not self._pace.until(self._bench.clock.now() + takes_s):
                            return
                    connection.sendall(reply)
                continue
            return

    def _control(self, connection: socket.socket) -> None:
        self._pace.steer()
        with connection.makefile("rb") as lines:
            while line := lines.readline(LINE_LENGTH):
                connection.sendall(f"{self._answer(line)}\n".encode())

    def _answer(self, line: bytes) -> str:
        """The reply to one line of the control port."""
        word, _, rest = line.decode("ascii", "replace").strip().partition(" ")
        with self._bench.lock:
            try:
                if word == "wait":
                    return repr(self._pace.wait(float(rest)))
            except (ValueError, NumberError):
                return f"error: wait {rest[:40]}: give seconds, 0 or more"
            answers: dict[str, Callable[[], str]] = {
                "now?": lambda: repr(self._bench.clock.now()),
                "utc?": lambda: self._bench.clock.utc().isoformat(),
                "ports?": lambda: json.dumps(self.ports),
                "addresses?": lambda: json.dumps(self.addresses("{host}")),
                "rig?": lambda: json.dumps(self._rig),
            }
            if word in answers:
                return answers[word]()
        return f"error: {word[:40]}: say now?, wait SECONDS, utc?, ports?, addresses? or rig?"


def _listen(first_port: int, number: int) -> list[socket.socket]:
    """Listening sockets on `number` ports in a row, or on free ones."""
    if not 0 <= first_port <= 65_536 - number:
        raise UsageError(
            f"first_port={first_port}: {number} ports in a row end at 65535. Give 1..{65_536 - number}, or 0."
        )
    listeners: list[socket.socket] = []
    try:
        for index in range(number):
            port = first_port + index if first_port else 0
            listeners.append(socket.create_server((HOST, port)))
    except OSError as error:
        for listener in listeners:
            listener.close()
        message = f"first_port={first_port}: port {port} on {HOST} cannot be had ({error})."
        raise UsageError(f"{message} Choose another first port, or 0 for free ones.") from error
    return listeners


def _hang_up(connection: socket.socket) -> None:
    with suppress(OSError):  # the other side may have been quicker
        connection.shutdown(socket.SHUT_RDWR)
