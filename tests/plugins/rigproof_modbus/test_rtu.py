"""RTU over a pseudo-terminal pair: frames with their CRC, several units on one line, late and broken replies."""

from __future__ import annotations

import os
import select
import struct
import threading
import time
import tty
from collections.abc import Callable, Iterator

import pytest
import serial

from rigproof.errors import InstrumentError
from rigproof_modbus import client
from rigproof_modbus.meter import ModbusMeter

from .conftest import PRESSURE, meter, source, words


def crc(data: bytes) -> bytes:
    """Low byte first (MODBUS over Serial Line V1.02, 6.2.2, bit by bit)."""
    register = 0xFFFF
    for byte in data:
        register ^= byte
        for _ in range(8):
            register = (register >> 1) ^ (0xA001 if register & 1 else 0)
    return struct.pack("<H", register)


def test_the_crc_is_the_standards() -> None:
    """02 07 → 41 12 (Serial Line V1.02, 6.2.2); 01 03 00 00 00 0A → C5 CD (common in makers' manuals); from memory."""
    assert crc(bytes.fromhex("02 07")) == bytes.fromhex("41 12")
    assert crc(bytes.fromhex("01 03 00 00 00 0A")) == bytes.fromhex("C5 CD")


Answer = Callable[[bytes], bytes]  # unit and request, without CRC -> what is sent back


class Line:
    """Units at the far end of a serial line; by id, what each answers."""

    def __init__(self) -> None:
        self._master, self._slave = os.openpty()
        tty.setraw(self._slave)
        self.port = os.ttyname(self._slave)
        self.resource = f"serial://{self.port}?baud rate=19200&parity=none"  # a pseudo-terminal knows no parity
        self.units: dict[int, Answer] = {}
        self.requests: list[bytes] = []
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def _serve(self) -> None:
        received = b""
        while not self._stop.is_set():
            if not select.select([self._master], [], [], 0.02)[0]:
                received = b""  # silence ends a frame
                continue
            received += os.read(self._master, 256)
            if len(received) < 4 or crc(received[:-2]) != received[-2:]:
                continue
            frame, received = received[:-2], b""
            self.requests.append(frame)
            if frame[0] in self.units:
                self.send(self.units[frame[0]](frame))

    def send(self, data: bytes) -> None:
        if data:
            os.write(self._master, data)

    def close(self) -> None:
        self._stop.set()
        self._thread.join(5.0)
        os.close(self._master)
        os.close(self._slave)


def reading(bar: float) -> Answer:
    data = b"".join(word.to_bytes(2, "big") for word in words(">f", bar))

    def answer(frame: bytes) -> bytes:
        reply = frame[:2] + b"\x04" + data
        return reply + crc(reply)

    return answer


@pytest.fixture
def line() -> Iterator[Line]:
    line = Line()
    yield line
    line.close()


def test_a_reading(line: Line) -> None:
    line.units[17] = reading(35.75)
    assert meter(line.resource, unit_id="17").read([1], 2, 0.0).tolist() == [[35.75e5]] * 2
    assert line.requests == [bytes.fromhex("11 04 0000 0002")] * 2


def test_units_on_one_line_share_its_port(line: Line) -> None:
    line.units |= {1: reading(1.0), 2: reading(2.0)}
    one, two = meter(line.resource, unit_id="1"), meter(line.resource, unit_id="2")
    one.open()
    two.open()
    for _ in range(3):
        assert (one.read([1], 1, 0.0)[0, 0], two.read([1], 1, 0.0)[0, 0]) == (1e5, 2e5)
    one.close()
    assert two.read([1], 1, 0.0)[0, 0] == 2e5
    two.close()
    assert client._serial_lines == {}


def test_two_settings_on_one_line_are_refused(line: Line) -> None:
    line.units[1] = reading(1.0)
    meter(line.resource).open()
    with pytest.raises(
        InstrumentError, match=r"open at 19200 baud, parity none, stop bits 2, and 9600 .*write the same baud"
    ):
        meter(line.resource.replace("19200", "9600"), unit_id="2").open()


def broken(frame: bytes) -> bytes:
    return reading(1.0)(frame)[:-1] + b"\x00"


def test_a_broken_crc_a_wrong_unit_and_silence_are_no_number(line: Line) -> None:
    def other(frame: bytes) -> bytes:
        return reading(1.0)(bytes([9]) + frame[1:])

    for wrong in (broken, other, lambda frame: b"", lambda frame: reading(1.0)(frame)[:6]):
        line.units[1] = wrong
        driver = meter(line.resource, 0.2)
        with pytest.raises(
            InstrumentError, match=r"within 0\.2 s .*`unit id:`, .*port, baud rate, parity and stop bits"
        ):
            driver.read([1], 1, 0.0)
        line.units[1] = reading(3.0)
        assert driver.read([1], 1, 0.0).tolist() == [[3e5]]


def test_an_exception_in_words(line: Line) -> None:
    def refuse(frame: bytes) -> bytes:
        reply = bytes([frame[0], frame[1] | 0x80, 2])
        return reply + crc(reply)

    line.units[1] = refuse
    with pytest.raises(InstrumentError, match="exception 2, illegal data address"):
        meter(line.resource).read([1], 1, 0.0)


def test_a_late_reply_is_not_taken_for_the_next(line: Line) -> None:
    """On a serial line nothing but silence parts a late reply from the one that was asked for."""

    def late(frame: bytes) -> bytes:
        line.units[1] = reading(5.0)
        time.sleep(0.3)
        return reading(1.0)(frame)

    line.units[1] = late
    driver = meter(line.resource, 0.2)
    with pytest.raises(InstrumentError):
        driver.read([1], 1, 0.0)
    assert driver.read([1], 1, 0.0).tolist() == [[5e5]]


def test_a_line_that_is_never_silent(line: Line) -> None:
    stop = threading.Event()

    def babble() -> None:
        while not stop.wait(0.01):
            line.send(b"\x55" * 300)

    driver = meter(line.resource, 0.1)
    driver.open()
    thread = threading.Thread(target=babble)
    thread.start()
    for _ in range(2):
        with pytest.raises(InstrumentError):
            driver.read([1], 1, 0.0)
    stop.set()
    thread.join()


def test_the_safe_command_goes_out_before_the_line_is_silent(line: Line) -> None:
    """The pump's coils over RTU; the reply to one question is lost, and the stop must not wait for silence."""
    coils = {0: 0, 1: 1, 2: 1}
    heard: list[tuple[float, bytes]] = []

    def pump(frame: bytes) -> bytes:
        heard.append((time.monotonic(), frame))
        function, (address, value) = frame[1], struct.unpack(">HH", frame[2:6])
        if function == 2:
            return b""  # the settled bit never comes
        if function == 5:
            coils[address] = int(value > 0)
            return frame + crc(frame)
        reply = frame[:2] + bytes([1, coils[address]])
        return reply + crc(reply)

    line.units[1] = pump
    driver = source(line.resource, 0.5)
    driver.open()
    coils[0], coils[1] = 1, 0
    with pytest.raises(InstrumentError):
        driver.settled()
    began = time.monotonic()
    driver.go_safe()
    stops = [moment - began for moment, frame in heard if frame[1:] == bytes.fromhex("05 0000 0000")]
    assert coils == {0: 0, 1: 1, 2: 1}
    assert len(stops) == 2  # at once, and again once the line was silent
    assert stops[0] < 0.25
    assert stops[1] > 0.5
    assert driver.is_safe()


def test_no_such_port() -> None:
    with pytest.raises(InstrumentError, match=r"no connection to .*: there is no port /dev/no-such-port; .*plug it in"):
        meter("serial:///dev/no-such-port", inputs={"1": PRESSURE}).open()


def test_a_port_that_is_not_there_is_told_before_it_is_opened(line: Line) -> None:
    assert "no serial port '/dev/no-such-port' on this machine (here: " in ModbusMeter.obstacle(
        "serial:///dev/no-such-port?parity=none"
    )
    assert ModbusMeter.obstacle(line.resource) == ""
    assert ModbusMeter.obstacle("tcp://192.0.2.20") == ""


def test_a_port_that_another_program_has(line: Line) -> None:
    with (
        serial.Serial(line.port, exclusive=True),
        pytest.raises(InstrumentError, match=rf"another program, .* has {line.port} open; .*end that program"),
    ):
        meter(line.resource).open()


def test_a_parity_that_the_port_refuses(line: Line) -> None:
    with pytest.raises(
        InstrumentError, match=r"refuses the settings of the line .*this port can do in its `resource:`"
    ):
        meter(f"serial://{line.port}?parity=even").open()
