"""Serial lines through pyvisa-py and a pseudo terminal: settings, terminators, instruments that only talk."""

from __future__ import annotations

import contextlib
import os
import threading
import time
import tty
from collections.abc import Callable, Iterator
from typing import Any

import pytest
import serial

from rigproof.clock import WallClock
from rigproof.errors import InstrumentError
from rigproof.instruments import Connection
from rigproof_scpi.command_map import MeterMap
from rigproof_scpi.described_meter import DescribedMeter
from rigproof_scpi.ohmmeter import Ohmmeter
from rigproof_scpi.settings import VisaSettings

ASKED: dict[str, Any] = {
    "quantity": "temperature",
    "unit": "°C",
    "terminator": "CR LF",
    "identity": "cannot say",
    "read": {"ask": "T?", "reply": "T={value} C", "overload": "T=OPEN"},
}
TALKS: dict[str, Any] = {
    "quantity": "temperature",
    "unit": "°C",
    "terminator": "CR",
    "identity": "cannot say",
    "read": {"listen": "*,{value},C", "overload": "*,-----,C"},
}

Answer = Callable[[bytes], bytes]


class Wire:
    """The instrument's end of a serial line."""

    def __init__(self) -> None:
        self.here, there = os.openpty()
        tty.setraw(there)
        self.port = os.ttyname(there)
        self._there = there  # held open, so that the line survives a driver that closes it
        self._over = threading.Event()
        self._threads: list[threading.Thread] = []

    def answers(self, end: bytes, answer: Answer) -> None:
        """Reply to each message."""
        self._run(lambda: self._answer(end, answer))

    def sends(self, line: Callable[[int], bytes], period_s: float = 0.02) -> None:
        """Send a line again and again."""

        def talk() -> None:
            number = 0
            while not self._over.wait(period_s):
                os.write(self.here, line(number))
                number += 1

        self._run(talk)

    def close(self) -> None:
        self._over.set()
        for thread in self._threads:
            thread.join()
        os.close(self._there)
        os.close(self.here)

    def connection(self, timeout_s: float = 0.5) -> Connection:
        return Connection("meter", f"ASRL{self.port}::INSTR", "@py", timeout_s, WallClock())

    def _answer(self, end: bytes, answer: Answer) -> None:
        os.set_blocking(self.here, False)
        received = b""
        while not self._over.wait(0.002):
            with contextlib.suppress(BlockingIOError):
                received += os.read(self.here, 1000)
            while end in received:
                message, received = received.split(end, 1)
                os.write(self.here, answer(message))

    def _run(self, work: Callable[[], None]) -> None:
        thread = threading.Thread(target=work, daemon=True)
        thread.start()
        self._threads.append(thread)


@pytest.fixture
def wire() -> Iterator[Wire]:
    wire = Wire()
    yield wire
    wire.close()


@pytest.fixture
def ports(monkeypatch: pytest.MonkeyPatch) -> list[serial.Serial]:
    """Every port that is opened, each pyserial's own loop in the place of hardware: it takes all settings."""
    opened: list[serial.Serial] = []
    real = serial.serial_for_url

    def open_port(*_: Any, **options: Any) -> serial.Serial:
        opened.append(real("loop://", **options))
        return opened[-1]

    monkeypatch.setattr(serial, "serial_for_url", open_port)
    return opened


@contextlib.contextmanager
def opened(wire: Wire, written: dict[str, Any], timeout_s: float = 0.5) -> Iterator[DescribedMeter]:
    meter = DescribedMeter(wire.connection(timeout_s), MeterMap.model_validate(written))
    meter.open()
    try:
        yield meter
    finally:
        meter.close()


def test_it_is_asked_and_answers(wire: Wire) -> None:
    wire.answers(b"\r\n", lambda message: {b"T?": b"T= 23.5 C\r\n"}.get(message, b"?\r\n"))
    with opened(wire, ASKED) as meter:
        assert meter.read([1], 3, 0.01).tolist() == [[23.5]] * 3


def test_an_instrument_of_scpi_on_a_serial_line(wire: Wire) -> None:
    said = {
        b"*IDN?": b"Test bay,ohmmeter,R-1,1.0\r", b"SYST:ERR?": b'0,"No error"\r', b"MEAS:FRES? (@1)": b"350.1\r",
        b"*CLS": b"",
    }  # fmt: skip
    wire.answers(b"\r", lambda message: said[message])
    meter = Ohmmeter(wire.connection(), VisaSettings(terminator="CR"))
    assert meter.open().serial_number == "R-1"
    assert meter.read([1], 1, 0.0).tolist() == [[350.1]]
    meter.close()


@pytest.mark.parametrize(
    ("line", "settings"),
    [
        (None, (9600, 8, "N", 1, False, False, False)),
        ({"baud rate": 2400, "data bits": 7, "parity": "even"}, (2400, 7, "E", 1, False, False, False)),
        ({"parity": "odd", "stop bits": "2", "flow control": "RTS/CTS"}, (9600, 8, "O", 2, False, True, False)),
        ({"flow control": "XON/XOFF"}, (9600, 8, "N", 1, True, False, False)),
        ({"parity": "space", "data bits": 5, "stop bits": "1.5"}, (9600, 5, "S", 1.5, False, False, False)),
        ({"flow control": "DTR/DSR", "baud rate": 115200}, (115200, 8, "N", 1, False, False, True)),
    ],
)
def test_the_line_is_set_as_written(
    wire: Wire, ports: list[serial.Serial], line: dict[str, Any] | None, settings: tuple[object, ...]
) -> None:
    with opened(wire, {**ASKED, **({"line": line} if line else {})}):
        port = ports[-1]
        assert (
            port.baudrate, port.bytesize, port.parity, port.stopbits, port.xonxoff, port.rtscts, port.dsrdtr
        ) == settings  # fmt: skip


@pytest.mark.parametrize("reply", [b"T=23.5 C\r", b"T=23.5\r\n", b"\xff\xfe\r\n", b"", b"T=23.5 C\n"])
def test_garbage_and_silence_are_faults(wire: Wire, reply: bytes) -> None:
    wire.answers(b"\r\n", lambda message: reply)
    with opened(wire, ASKED, 0.1) as meter, pytest.raises(InstrumentError, match=r"^meter: T\?: "):
        meter.read([1], 1, 0.0)


def test_a_late_reply_is_not_taken_for_the_next(wire: Wire) -> None:
    asked = 0

    def answer(message: bytes) -> bytes:
        nonlocal asked
        asked += 1
        if asked == 1:
            time.sleep(0.2)
            return b"T=11 C\r\n"
        return b"T=12 C\r\n"

    wire.answers(b"\r\n", answer)
    with opened(wire, ASKED, 0.1) as meter:
        with pytest.raises(InstrumentError, match="within"):
            meter.read([1], 1, 0.0)
        time.sleep(0.2)  # now the late one waits on the line
        assert meter.read([1], 1, 0.0).tolist() == [[12.0]]


def test_a_talker_gives_its_latest_line(wire: Wire) -> None:
    wire.sends(lambda number: f"A,{number},C\r".encode())
    with opened(wire, TALKS) as meter:
        first = meter.read([1], 1, 0.0)[0, 0]
        time.sleep(0.3)
        later = meter.read([1], 2, 0.0)[:, 0]
        assert first + 10 <= later[0] < later[1]


def test_a_line_under_way_is_never_taken(wire: Wire) -> None:
    """Lines of digits alone come in two halves: the second half of 12345 has the same form, and is another number."""
    wire.sends(lambda number: b"45\r123", 0.005)
    with opened(wire, {**TALKS, "read": {"listen": "{value}"}}) as meter:
        assert set(meter.read([1], 20, 0.0)[:, 0]) == {12345.0}


def test_a_talker_out_of_range_is_nan_and_a_mute_or_mad_one_a_fault(wire: Wire) -> None:
    line = [b"A,-----,C\r"]
    wire.sends(lambda number: line[0])
    with opened(wire, TALKS, 0.15) as meter:
        assert str(meter.read([1], 1, 0.0)[0, 0]) == "nan"
        line[0] = b"A,hot,C\r"
        time.sleep(0.05)
        with pytest.raises(InstrumentError, match="listening: the reply was 'A,hot,C"):
            meter.read([1], 1, 0.0)
        line[0] = b"A,1"  # never an end
        with pytest.raises(InstrumentError, match="listening: "):
            meter.read([1], 1, 0.0)
        line[0] = b"\rA,2,C\r"
        time.sleep(0.05)
        assert meter.read([1], 1, 0.0)[0, 0] == 2.0


def test_a_talker_that_is_mute_is_not_opened(wire: Wire) -> None:
    meter = DescribedMeter(wire.connection(0.1), MeterMap.model_validate(TALKS))
    with pytest.raises(InstrumentError, match=r"listening: .*within 0\.1 s"):
        meter.open()


def test_a_port_that_is_not_there_says_so() -> None:
    gone = Connection("meter", "ASRL/dev/rigproof-nowhere::INSTR", "@py", 0.1, WallClock())
    with pytest.raises(InstrumentError, match=r"open ASRL.*: there is no port /dev/rigproof-nowhere; .*plug it in"):
        DescribedMeter(gone, MeterMap.model_validate(ASKED)).open()


def test_a_port_that_this_account_may_not_open(wire: Wire, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(path: str, *_: object) -> int:
        raise PermissionError(13, "Permission denied", path)

    monkeypatch.setattr(os, "open", refuse)
    with pytest.raises(InstrumentError) as caught:
        DescribedMeter(wire.connection(), MeterMap.model_validate(ASKED)).open()
    monkeypatch.undo()
    assert str(caught.value) == (
        f"meter: open ASRL{wire.port}::INSTR: permission denied: this account may not open {wire.port}; the resource "
        f"must be there and take messages; see by `ls -l {wire.port}` which group may, have the account added to it, "
        "and log in again"
    )


def test_a_setting_that_the_port_refuses(wire: Wire) -> None:
    """A pseudo terminal knows no parity."""
    written = {**ASKED, "line": {"parity": "even"}}
    with pytest.raises(InstrumentError, match=r"refuses the settings of the line .*parity.* under `line:` of its"):
        DescribedMeter(wire.connection(), MeterMap.model_validate(written)).open()
    with opened(wire, ASKED):
        pass  # the port was let go


def test_a_port_is_held_and_one_that_another_holds_is_left_alone(wire: Wire) -> None:
    """Opened or only diagnosed: nothing is asked there, and nothing of its bytes is taken."""
    wire.answers(b"\r\n", lambda message: b"T=1 C\r\n")
    with opened(wire, ASKED) as meter:
        with pytest.raises(serial.SerialException, match="exclusively lock"):
            serial.Serial(wire.port, exclusive=True)
        with opened(wire, ASKED) as neighbour:  # of this rig, on a line with addresses
            assert neighbour.read([1], 1, 0.0).tolist() == [[1.0]]
        assert meter.read([1], 1, 0.0).tolist() == [[1.0]]
        with pytest.raises(serial.SerialException, match="exclusively lock"):
            serial.Serial(wire.port, exclusive=True)
    with serial.Serial(wire.port, exclusive=True) as other:
        os.write(wire.here, b"for another")
        mine = DescribedMeter(wire.connection(), MeterMap.model_validate({**ASKED, "identity": IDENTITY}))
        with pytest.raises(InstrumentError, match=rf"another program, .* has {wire.port} open; .*end that program"):
            mine.open()
        assert mine.diagnose() == ""
        other.timeout = 1.0
        assert other.read(11) == b"for another"


IDENTITY = {"ask": "ID?", "reply": "{maker}/{model}/{serial number}/{firmware}"}
ENDS = {"LF": b"\n", "CR": b"\r", "CR LF": b"\r\n"}


@pytest.mark.parametrize(
    ("written", "asked", "replied", "told"),
    [
        ("LF", "CR", "CR", "answers to CR and ends with CR; .*write `terminator: CR` under"),
        ("CR", "CR LF", "CR LF", "answers to CR LF and ends with CR LF; .*write `terminator: CR LF` under"),
        ("CR LF", "LF", "LF", "answers to LF and ends with LF; .*write `terminator: LF` under"),
        ("LF", "CR", "LF", "answers to CR and ends with LF; messages end with LF here: set the instrument to LF"),
        ("CR", "CR", "CR", "'Bay/T/1/2' answers now: it was slow or busy"),
    ],
)
def test_a_wrong_terminator_is_told_by_the_question_of_the_map(
    wire: Wire, written: str, asked: str, replied: str, told: str
) -> None:
    wire.answers(ENDS[asked], lambda message: b"Bay/T/1/2" + ENDS[replied] if message == b"ID?" else b"")
    described = MeterMap.model_validate({**ASKED, "identity": IDENTITY, "terminator": written})
    with pytest.raises(AssertionError, match=told):
        raise AssertionError(DescribedMeter(wire.connection(0.1), described).diagnose())


@pytest.mark.parametrize(
    ("reply", "told"),
    [
        (b"Bay,T,1,2\r\n", r"'Bay,T,1,2' answers to ID\?, which has not the form '{maker}/{model}/.*or a wrong map"),
        (b"\xf8\x80\x01\r\n", "garbage .*wrong baud rate, parity or number of bits"),
        (b"B\xe4y/T/1/2\r\n", "answers now"),  # Latin-1 is no garbage where it has the form
        (b"", r"connected, and silent to ID\? with LF, CR or CR LF"),
    ],
)
def test_what_a_reply_tells(wire: Wire, reply: bytes, told: str) -> None:
    wire.answers(b"\r\n", lambda message: reply)
    meter = DescribedMeter(wire.connection(0.1), MeterMap.model_validate({**ASKED, "identity": IDENTITY}))
    with pytest.raises(AssertionError, match=told):
        raise AssertionError(meter.diagnose())


@pytest.mark.parametrize(
    ("line", "told"),
    [
        (b"A,1.0,C\r\n", "wrong terminator: a line ends with CR LF, and with CR here: write `terminator: CR LF`"),
        (b"A,1.0,C\n", "a line ends with LF, and with CR here"),
        (b"\xf8\x80\x01\x83", "garbage .*wrong baud rate"),
        (b"A,20 \xb0C\n", "a line ends with LF"),
        (b"A,1.0,C;", "no end of a line among the 512 bytes that are heard"),
        (None, "connected, and nothing is heard"),
    ],
)
def test_what_is_heard_of_a_talker_tells(wire: Wire, line: bytes | None, told: str) -> None:
    if line is not None:
        wire.sends(lambda number: line, 0.005)
    meter = DescribedMeter(wire.connection(0.1), MeterMap.model_validate(TALKS))
    with pytest.raises(AssertionError, match=told):
        raise AssertionError(meter.diagnose())


def test_a_talker_that_is_well_has_nothing_in_its_way(wire: Wire) -> None:
    wire.sends(lambda number: b"A,1.0,C\r", 0.005)
    assert DescribedMeter(wire.connection(0.1), MeterMap.model_validate(TALKS)).diagnose() == ""


def test_nothing_is_asked_of_one_that_cannot_say_who_it_is(wire: Wire) -> None:
    heard: list[bytes] = []

    def keep(message: bytes) -> bytes:
        heard.append(message)
        return b""

    wire.answers(b"\r\n", keep)
    assert DescribedMeter(wire.connection(0.1), MeterMap.model_validate(ASKED)).diagnose() == ""
    assert heard == []


@pytest.mark.parametrize("written", ["LF", "CR"])
def test_a_cr_lf_that_is_not_written_is_named(wire: Wire, written: str) -> None:
    """Many instruments take CR or LF alone and yet reply with CR LF."""
    wire.answers(ENDS[written], lambda message: b"T=1 C\r\n")
    with opened(wire, {**ASKED, "terminator": written}) as meter, pytest.raises(InstrumentError, match="CR LF"):
        meter.read([1], 2, 0.0)
