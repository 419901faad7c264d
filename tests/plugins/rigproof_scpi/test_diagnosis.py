"""Why an instrument does not answer, over real sockets of the loopback and over a scripted serial line."""

from __future__ import annotations

import contextlib
import socket
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

import pytest

from rigproof.clock import WallClock
from rigproof.errors import InstrumentError
from rigproof.instruments import Connection, Settings
from rigproof_scpi.command_map import MeterMap
from rigproof_scpi.described_meter import DescribedMeter
from rigproof_scpi.diagnosis import before_it, diagnose
from rigproof_scpi.ohmmeter import Ohmmeter
from rigproof_scpi.settings import VisaSettings

from .conftest import loopback

if TYPE_CHECKING:
    from .conftest import Bench

IDENTITY = b"Test bay,meter,X-1,1.0"
Answer = Callable[[bytes], bytes]  # of all that came in one go
SERIAL = "ASRL1::INSTR"


@contextlib.contextmanager
def peer(answer: Answer) -> Iterator[int]:
    """A peer of bytes, not of lines, on a free port; yields the port."""

    def talk(line: socket.socket) -> None:
        with line, contextlib.suppress(OSError):
            while data := line.recv(1000):
                line.sendall(answer(data))

    with loopback(talk) as port:
        yield port


def at(port: int, host: str = "127.0.0.1") -> Connection:
    return Connection("meter", f"TCPIP::{host}::{port}::SOCKET", "@py", 0.2, WallClock())


def asked_with(terminator: bytes, reply: bytes) -> Answer:
    """Answers messages that end with just this terminator."""
    return lambda data: reply if data == b"*IDN?" + terminator else b""


@pytest.mark.network
@pytest.mark.parametrize(
    ("answer", "told"),
    [
        (asked_with(b"\r", IDENTITY + b"\r"), "wrong terminator: .*X-1,1.0' answers to CR and ends with CR;"),
        (asked_with(b"\r\n", IDENTITY + b"\r\n"), "answers to CR LF and ends with CR LF;"),
        (asked_with(b"\n", IDENTITY + b"\r"), "answers to LF and ends with CR;"),
        (asked_with(b"\n", IDENTITY), "answers to LF and ends with nothing; .*here: set the instrument to LF"),
        (lambda _: IDENTITY + b"\r\n", "answers to CR LF and ends with CR LF; .*write `terminator: CR LF`"),
        (lambda _: b"", "connected, and silent to .*LF, CR or CR LF"),
        (lambda _: b"\x00\xff\x83\x10\n", r"garbage .*another service or protocol"),
        (lambda _: b"220 mail ready\n", "'220 mail ready' answers to .*no identity"),
        (lambda _: IDENTITY + b"\n", "it was slow or busy"),
    ],
)
def test_what_a_peer_tells(answer: Answer, told: str) -> None:
    with peer(answer) as port:
        connection = at(port)
        assert Ohmmeter(connection, Settings()).diagnose() == diagnose(connection, VisaSettings())
        with pytest.raises(AssertionError, match=told):
            raise AssertionError(diagnose(connection, VisaSettings()))


@pytest.mark.network
def test_the_driver_itself_gives_up_first() -> None:
    with peer(asked_with(b"\r", IDENTITY + b"\r")) as port:
        meter = Ohmmeter(at(port), Settings())
        with pytest.raises(InstrumentError, match="VI_ERROR_TMO"):
            meter.look()
        assert "wrong terminator" in meter.diagnose()


@pytest.mark.network
def test_a_greeting_is_no_reply() -> None:
    """It comes on every connection, and the question is asked behind it."""

    def talk(line: socket.socket) -> None:
        with line, contextlib.suppress(OSError):
            line.sendall(b"METER 2.0 READY\r\n")
            while data := line.recv(1000):
                line.sendall({b"ID?\r\n": b"Test bay/T/7/1\r\n"}.get(data, b""))

    words = {
        "quantity": "temperature",
        "unit": "°C",
        "greeting": "METER * READY",
        "identity": {"ask": "ID?", "reply": "{maker}/{model}/{serial number}/{firmware}"},
        "read": {"ask": "T?", "reply": "{value}"},
    }
    with loopback(talk) as port:
        meter = DescribedMeter(at(port), MeterMap.model_validate(words))
        with pytest.raises(InstrumentError, match=r"its greeting: .* a reply ends with LF, and this one with CR LF"):
            meter.look()
        assert meter.diagnose().startswith("wrong terminator: 'Test bay/T/7/1' answers to CR LF and ends with CR LF")
        meter = DescribedMeter(at(port), MeterMap.model_validate({**words, "terminator": "CR LF"}))
        assert meter.look().serial_number == "7"
        meter.close()


@pytest.mark.network
@pytest.mark.parametrize(
    ("greets", "words", "told"),
    [
        (b"", {"greeting": "METER * READY"}, "no greeting comes after connecting, and ID? is answered: leave the "),
        (
            b"METER 2.0 READY\n",
            {},
            "'METER 2.0 READY' comes unasked after connecting: if the instrument greets so, write the form of "
            "each of its lines as `greeting:` under `settings:`; or end the mode",
        ),
        (
            b"METER 2.0 READY\n",
            {"greeting": "HELLO*"},
            "'METER 2.0 READY' comes after connecting, and its greeting has the form 'HELLO*': if the instrument "
            "greets so, write the form of each of its lines as `greeting:` under `settings:`",
        ),
        (
            b"METER 2.0\r\nREADY\r\n",
            {},
            "'METER 2.0' and more lines come unasked after connecting: if the instrument greets so, write the form of ",
        ),
        (
            b"METER 2.0\nREADY\n",
            {"greeting": "METER *"},
            "more lines come after 'METER 2.0', its greeting: write the form of each of its lines as `greeting:`",
        ),
        (
            b"METER 2.0\nREADY\n3\n",
            {"greeting": ["METER *", "READY"]},
            "more lines come after 'READY', its greeting: write the form of each of its lines as `greeting:`",
        ),
        (
            b"METER 2.0\nREADY\n",
            {"greeting": ["METER *", "STEADY"]},
            "'READY' comes after connecting, and line 2 of its greeting has the form 'STEADY': if the instrument",
        ),
        (
            b"METER 2.0\n",
            {"greeting": ["METER *", "READY"]},
            "no more comes after 'METER 2.0', and its greeting has 2 lines: correct the list",
        ),
    ],
)
def test_a_greeting_that_is_not_as_declared(greets: bytes, words: dict[str, str | list[str]], told: str) -> None:
    def talk(line: socket.socket) -> None:
        with line, contextlib.suppress(OSError):
            line.sendall(greets)
            while data := line.recv(1000):
                line.sendall({b"ID?\n": b"Test bay/T/7/1\n"}.get(data, b""))

    asked = {"identity": {"ask": "ID?", "reply": "{maker}/{model}/{serial number}/{firmware}"}}
    reads = {"quantity": "temperature", "unit": "°C", "read": {"ask": "T?", "reply": "{value}"}}
    with loopback(talk) as port:
        meter = DescribedMeter(at(port), MeterMap.model_validate({**reads, **asked, **words}))
        with pytest.raises(InstrumentError):
            meter.look()
        assert meter.diagnose().startswith(told)


@pytest.mark.network
def test_a_greeting_of_several_lines_is_heard_line_by_line() -> None:
    def talk(line: socket.socket) -> None:
        with line, contextlib.suppress(OSError):
            line.sendall(b"METER 2.0\r\nSelf test passed\r\nREADY\r\n")
            while data := line.recv(1000):
                line.sendall({b"ID?\r\n": b"Test bay/T/7/1\r\n", b"T?\r\n": b"21.5\r\n"}.get(data, b""))

    words = {
        "quantity": "temperature",
        "unit": "°C",
        "terminator": "CR LF",
        "greeting": ["METER *", "*", "READY"],
        "identity": {"ask": "ID?", "reply": "{maker}/{model}/{serial number}/{firmware}"},
        "read": {"ask": "T?", "reply": "{value}"},
    }
    with loopback(talk) as port:
        meter = DescribedMeter(at(port), MeterMap.model_validate(words))
        for way_in in (meter.open, meter.resume, meter.look):
            assert way_in().serial_number == "7"
            assert meter.read([1], 2, 0.0).tolist() == [[21.5], [21.5]]
        assert "answers now" in meter.diagnose()  # behind all three lines
        meter.close()
        short = DescribedMeter(at(port), MeterMap.model_validate({**words, "greeting": [*words["greeting"], "4"]}))
        with pytest.raises(InstrumentError, match=r"line 4 of its greeting: .*leave the greeting out if it sends none"):
            short.open()


@pytest.mark.network
def test_nobody_listens() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
    assert "connection refused" in diagnose(at(port), VisaSettings())


@pytest.mark.parametrize(("resource", "told"), [("TCPIP::h::7711", True), ("TCPIP::h::inst0::INSTR", False)])
def test_a_port_without_socket(resource: str, told: bool) -> None:
    """VISA takes it for the name of a LAN device (VPP-4.3, 4.3.1; from memory), and asks at another port."""
    said = before_it(Connection("meter", resource, "@py", 0.2, WallClock()))
    assert said.endswith("write `resource: TCPIP::h::7711::SOCKET`") is told


@pytest.mark.parametrize(
    ("error", "told"),
    [
        (socket.gaierror(-2, "Name or service not known"), "the name 'meter.invalid' cannot be resolved"),
        (TimeoutError(), "does not answer within 0.2 s"),
        (OSError(113, "No route to host"), "no way to meter.invalid"),
        (PermissionError(13, "Permission denied"), "meter.invalid: Permission denied"),
    ],
)
def test_nobody_is_reached(monkeypatch: pytest.MonkeyPatch, error: OSError, told: str) -> None:
    def fail(*_: object, **__: object) -> None:
        raise error

    monkeypatch.setattr(socket, "create_connection", fail)
    assert told in diagnose(at(5025, "meter.invalid"), VisaSettings())


def test_garbage_on_a_serial_line(bench: Bench) -> None:
    bench.script(SERIAL, ("*IDN?", b"\xf8\x80\xfe\x00\n"))
    assert "wrong baud rate" in diagnose(bench.connection(SERIAL), VisaSettings())


def test_on_a_bus_a_terminator_may_be_left_out(bench: Bench) -> None:
    bench.script("GPIB0::9::INSTR", ("*IDN?", IDENTITY))
    told = diagnose(bench.connection("GPIB0::9::INSTR"), VisaSettings())
    assert told.endswith("write `terminator: none` under `settings:`, or set the instrument to LF")


def test_a_look_clears_nothing(bench: Bench) -> None:
    bench.script(SERIAL, ("*IDN?", IDENTITY.decode()), ("SYST:ERR?", '-222,"Data out of range"'))
    bench.script(SERIAL, ("SYST:ERR?", '0,"No error"'))
    meter = Ohmmeter(bench.connection(SERIAL), Settings())
    assert meter.look().serial_number == "X-1"
    assert meter.errors() == ['-222,"Data out of range"']


@pytest.mark.network
def test_the_remedy_is_written_for_this_rig() -> None:
    """CR for both can be had by `terminator:`; a mixture on the instrument alone; what is written is no fault."""
    with peer(asked_with(b"\r", IDENTITY + b"\r")) as port:
        assert "write `terminator: CR` under `settings:`, or set the instrument to LF" in diagnose(
            at(port), VisaSettings()
        )
        assert "it was slow or busy" in diagnose(at(port), VisaSettings(terminator="CR"))
    with peer(asked_with(b"\n", IDENTITY + b"\r")) as port:
        assert diagnose(at(port), VisaSettings()).endswith("messages end with LF here: set the instrument to LF")
