"""The session over real sockets, through pyvisa-py: what a link does that no script does."""

from __future__ import annotations

import contextlib
import socket
import threading
from collections.abc import Callable, Iterator

import pytest

from rigproof.clock import WallClock
from rigproof.errors import InstrumentError
from rigproof.instruments import Connection, Settings
from rigproof_scpi import replies
from rigproof_scpi.pressure_source import PressureSource
from rigproof_scpi.session import Session

pytestmark = pytest.mark.network

Answer = Callable[[bytes], bytes | None]  # None: hang up


@contextlib.contextmanager
def served(answer: Answer) -> Iterator[int]:
    """A line-based peer on a free port of the loopback; yields the port."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        server.settimeout(0.05)
        over = threading.Event()

        def talk(peer: socket.socket) -> None:
            with peer, peer.makefile("rb") as lines, contextlib.suppress(OSError):
                for line in lines:
                    reply = answer(line)
                    if reply is None:
                        return
                    peer.sendall(reply)

        def accept() -> None:
            while not over.is_set():
                with contextlib.suppress(TimeoutError):
                    threading.Thread(target=talk, args=(server.accept()[0],), daemon=True).start()

        thread = threading.Thread(target=accept, daemon=True)
        thread.start()
        try:
            yield server.getsockname()[1]
        finally:
            over.set()
            thread.join()


def connection(port: int, timeout_s: float = 0.2) -> Connection:
    return Connection("pump", f"TCPIP::127.0.0.1::{port}::SOCKET", "@py", timeout_s, WallClock())


def polite(line: bytes) -> bytes | None:
    return {b"*IDN?\n": b"Test bay,pump,W-1,1.0\n", b"SYST:ERR?\n": b'0,"No error"\n', b"OUTP?\n": b"0\n"}.get(
        line, b""
    )


def test_open_close_open_and_two_on_one_library() -> None:
    with served(polite) as port:
        first, second = Session(connection(port)), Session(connection(port))
        assert first.open().serial_number == "W-1"
        second.open()
        first.close()
        assert second.errors() == []
        first.open()
        assert first.errors() == []
        first.close()
        second.close()


def test_nobody_at_the_port() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
    session = Session(connection(port))
    with pytest.raises(InstrumentError, match="pump: "):
        session.open()


def test_the_other_side_hangs_up_and_comes_back() -> None:
    hung_up = threading.Event()

    def answer(line: bytes) -> bytes | None:
        if line == b"STAT:OPER:COND?\n" and not hung_up.is_set():
            hung_up.set()
            return None
        return polite(line)

    with served(answer) as port:
        pump = PressureSource(connection(port), Settings())
        pump.open()
        with pytest.raises(InstrumentError, match=r"STAT:OPER:COND\?"):
            pump.settled()
        pump.go_safe()
        assert pump.is_safe()
        pump.close()


def test_a_silent_peer_costs_one_timeout() -> None:
    clock = WallClock()
    with served(lambda line: polite(line) if line != b"MEAS:PRES?\n" else b"") as port:
        session = Session(connection(port))
        session.open()
        before = clock.now()
        with pytest.raises(InstrumentError, match="VI_ERROR_TMO"):
            session.ask("MEAS:PRES?", replies.number)
        assert clock.now() - before < 2.0
        session.close()


def test_a_block_full_of_lf() -> None:
    data = b"\n" * 80
    with served(lambda line: b"#280" + data + b"\n" if line == b"READ?\n" else polite(line)) as port:
        session = Session(connection(port))
        session.open()
        values = session.ask_block("READ?", 10, 0.0)
        assert values.astype(">f8").tobytes() == data
        assert session.errors() == []
        session.close()
