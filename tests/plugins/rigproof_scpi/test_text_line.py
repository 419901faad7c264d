"""A driver on `TextLine` keeps the contract over a socket; a bus drops unread replies, so none is listened for."""

from __future__ import annotations

import math
import queue
import socket
import threading
from collections.abc import Sequence
from typing import TYPE_CHECKING, ClassVar

import pytest
import serial

from rigproof.clock import WallClock
from rigproof.errors import InstrumentError
from rigproof.instruments import Connection, Driver, FloatArray, Identity, Reads, Settings
from rigproof_pytest import DriverContract
from rigproof_scpi.settings import Line
from rigproof_scpi.text_line import TextLine, paced

from .conftest import loopback

if TYPE_CHECKING:
    from .conftest import Bench

BUS = "GPIB0::7::INSTR"
STREAM = "TCPIP::192.0.2.15::4001::SOCKET"


def celsius(reply: str) -> float:
    if reply == "open":
        return math.nan
    if not reply.endswith(" C"):
        raise ValueError("a temperature ends with C")
    return float(reply.removesuffix(" C"))


class Dial(Driver, Reads):
    """Two thermometers in one case."""

    kind = "dial"

    @classmethod
    def unreadable(cls, settings: Settings, channel_input: int, kind: str) -> str:
        return "" if channel_input in (1, 2) and kind == "temperature" else "two thermometers, at inputs 1 and 2"

    def __init__(self, connection: Connection, settings: Settings) -> None:
        super().__init__(connection, settings)
        self._line = TextLine(connection, message_end="\r", reply_end="\r\n")

    def open(self) -> Identity:
        return self._line.start("WHO", lambda reply: Identity("own make", reply, "", ""))

    def close(self) -> None:
        self._line.close()

    def errors(self) -> list[str]:
        return []

    def read(self, inputs: Sequence[int], count: int, interval_s: float) -> FloatArray:
        return paced(self.connection, inputs, (1, 2), count, interval_s, lambda i: self._line.ask(f"T{i}", celsius))


class TestDial(DriverContract):
    driver = Dial
    message_end, reply_end = "\r", "\r\n"
    identity = Identity("own make", "dial", "", "")
    inputs = (1, 2)
    measures = "temperature"
    shows: ClassVar = {1: "21.5 °C", 2: "-3 °C"}
    readings: ClassVar = {"21.5 C": "21.5 °C", "-3.0 C": "270.15 K"}
    overloads = ("open",)
    refusals = ("error 3", "21.5")

    def instrument(self) -> dict[str, str | bytes]:
        return {"WHO": "dial", "T1": "21.5 C", "T2": "-3.0 C"}


def greeting(reply: str) -> None:
    if not reply.endswith(" ready"):
        raise ValueError("a greeting ends with ready")


class Greeter(Dial):
    """Sends a line to whoever connects, before anything is asked."""

    kind = "greeter"

    def __init__(self, connection: Connection, settings: Settings) -> None:
        super().__init__(connection, settings)
        self._line = TextLine(connection, message_end="\r", reply_end="\r\n", greeting=greeting)


class TestGreeter(TestDial):
    driver = Greeter
    greeting = "Test bay dial 2.1 ready"


@pytest.mark.network
@pytest.mark.parametrize(
    ("sent", "told"),
    [
        (b"", "its greeting: VI_ERROR_TMO.*must answer within 0.2 s; leave the greeting out if it sends none"),
        (b"dial\r\n", "its greeting: the reply was 'dial.*a greeting ends with ready"),
    ],
)
def test_who_does_not_greet_is_not_spoken_to(sent: bytes, told: str) -> None:
    heard: queue.Queue[bytes] = queue.Queue()

    def talk(line: socket.socket) -> None:
        with line:
            line.sendall(sent)
            heard.put(line.recv(100))

    with loopback(talk) as port:
        where = Connection("dial", f"TCPIP::127.0.0.1::{port}::SOCKET", "@py", 0.2, WallClock())
        with pytest.raises(InstrumentError, match=told):
            Greeter(where, Settings()).open()
        assert heard.get(timeout=5.0) == b""


def test_an_acknowledgement_that_was_not_read_is_told_as_one(bench: Bench) -> None:
    line = TextLine(bench.connection(STREAM), "\n", "\n")
    bench.script(STREAM, ("WHO", "dial"), ("M2", "M2 OK"))
    line.start("WHO", str)
    line.write("M2")
    with pytest.raises(InstrumentError, match=r"R: b'M2 OK\\n' was waiting .*its reply to 'M2', send that with `ask`"):
        line.ask("R", celsius)


@pytest.mark.network
def test_a_greeting_that_nobody_has_declared_is_told_as_one() -> None:
    greeted = threading.Event()

    def talk(line: socket.socket) -> None:
        with line:
            line.sendall(b"ready\r\n")
            greeted.set()
            line.recv(100)

    with loopback(talk) as port:
        where = Connection("dial", f"TCPIP::127.0.0.1::{port}::SOCKET", "@py", 0.2, WallClock())
        line = TextLine(where, message_end="\r", reply_end="\r\n")
        line.reconnect()
        assert greeted.wait(5.0)
        with pytest.raises(
            InstrumentError, match=r"b'ready.*if this is its greeting, give the driver's `TextLine` a `gr"
        ):
            line.ask("WHO", str)
        line.close()


def test_on_a_bus_an_unread_reply_is_dropped_by_the_bus(bench: Bench) -> None:
    line = TextLine(bench.connection(BUS), "\n", "\n")
    bench.script(BUS, ("WHO", "dial"), ("T1", "21.5 C"))
    assert line.start("WHO", str) == "dial"
    assert line.ask("T1", celsius) == 21.5
    assert bench.clock.seconds == 0.0  # nothing was listened for


def test_a_reply_too_long_is_refused(bench: Bench) -> None:
    line = TextLine(bench.connection(BUS), "\n", "\n")
    bench.script(BUS, ("WHO", "x" * 600))
    with pytest.raises(InstrumentError, match=r"a reply ends with '\\n' within 512 bytes"):
        line.start("WHO", str)


def test_a_serial_line_runs_as_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """pyserial's own loop stands in for the port: it takes all settings."""
    port = serial.serial_for_url("loop://")
    monkeypatch.setattr(serial, "serial_for_url", lambda *_, **options: port)
    where = Connection("dial", "ASRL/dev/null::INSTR", "@py", 0.1, WallClock())
    line = TextLine(where, "\r", "\r", Line.model_validate({"baud rate": 2400, "data bits": 7, "parity": "even"}))
    line.reconnect()
    assert (port.baudrate, port.bytesize, port.parity) == (2400, 7, "E")
    line.close()


def test_a_missing_input_is_named_with_those_there_are(bench: Bench) -> None:
    with pytest.raises(InstrumentError, match=r"inputs=\[1, 7\]: there is no input 7; use \[1, 2\]"):
        paced(bench.connection(BUS), [1, 7], (1, 2), 1, 0.0, float)


def test_a_parse_that_fails_on_a_reply_is_told_as_a_defect_of_the_driver(bench: Bench) -> None:
    """And not as an instrument that does not answer."""
    line = TextLine(bench.connection(STREAM), "\r", "\r")
    bench.script(STREAM, ("WHO", "me"), ("T1", "+21.5"), end="\r")
    line.start("WHO", str)
    with pytest.raises(InstrumentError) as caught:
        line.ask("T1", lambda reply: float(reply.split(",")[1]))
    text = str(caught.value)
    assert "T1: the reply was '+21.5\\r', and the driver failed on it: IndexError: list index out of range (at " in text
    assert f"{__file__}:" in text
    assert text.endswith("mend the driver there: see that the reply has its form, or `raise ValueError` with the form")
    line.close()


def test_a_slow_instrument_stretches_the_interval(bench: Bench) -> None:
    def slow(_number: int) -> float:
        bench.clock.seconds += 3.0
        return 0.0

    paced(bench.connection(BUS), [1], (1,), 4, 1.0, slow)
    assert bench.clock.seconds == 12.0
    assert bench.clock.waits == []
