"""Peers that refuse, fall silent, break off or answer nonsense: always an InstrumentError in words, never a number."""

from __future__ import annotations

import socket
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from rigproof.commands.check import command as check_command
from rigproof.errors import InstrumentError, NumberError
from rigproof_modbus import client

from .conftest import HOST, Scripted, framed, meter, words

pytestmark = pytest.mark.network
Start = Callable[..., Scripted]
GOOD = framed(b"\x04\x04" + b"".join(word.to_bytes(2, "big") for word in words(">f", 35.75)))


def fault(peer: Scripted, timeout_s: float = 0.2, **settings: Any) -> str:
    with pytest.raises(InstrumentError) as told:
        meter(peer.resource, timeout_s, **settings).read([1], 1, 0.0)
    message = str(told.value)
    assert message.startswith(f"meter: read input 0 (unit 1 at {peer.resource}): ")
    assert message.count(";") >= 2  # what came; the rule; the remedy
    return message


def test_the_request_is_the_standards(scripted: Start) -> None:
    """MODBUS Application Protocol V1.1b3, 6.4: function, starting address, quantity; framed as in the TCP guide."""
    peer = scripted(GOOD)
    assert meter(peer.resource, unit_id="17").read([1], 1, 0.0).tolist() == [[35.75e5]]
    assert peer.requests[0][2:] == bytes.fromhex("0000 0006 11 04 0000 0002")


@pytest.mark.parametrize(
    ("code", "meaning"),
    [
        (1, "illegal function; .*no such table"),
        (2, "illegal data address; .*counted from 0"),
        (3, "illegal data value"),
        (4, "server device failure; .*check `unit id:` and `address:`, then look for a fault on the instrument"),
        (5, "acknowledge"),
        (6, "server device busy"),
        (8, "memory parity"),
        (10, "gateway path unavailable"),
        (11, "gateway target device failed to respond; .*unit id"),
        (99, "not of the standard"),
    ],
)
def test_exception_codes_in_words(scripted: Start, code: int, meaning: str) -> None:
    peer = scripted(framed(bytes([0x84, code])), GOOD)
    driver = meter(peer.resource, 1.0)
    with pytest.raises(InstrumentError, match=f"exception {code}, {meaning}"):
        driver.read([1], 1, 0.0)
    assert driver.read([1], 1, 0.0).tolist() == [[35.75e5]]
    assert peer.connections == 1  # a refusal is a whole reply: the connection is good


def test_nobody_there() -> None:
    with socket.create_server((HOST, 0)) as listener:
        port = listener.getsockname()[1]
    with pytest.raises(
        InstrumentError,
        match=f"meter: connect .*no connection to {HOST} port {port}: .*Connection refused; .*`resource:`",
    ):
        meter(f"tcp://{HOST}:{port}").open()


def test_silence_ends_with_the_timeout(scripted: Start) -> None:
    began = time.monotonic()
    assert "no whole reply within 0.2 s" in fault(scripted(None))
    assert time.monotonic() - began < 1.0


@pytest.mark.parametrize(
    "answer",
    [
        framed(b"\x04\x04\x42\x0f"),  # fewer bytes than it says
        framed(b"\x04\x02\x42\x0f"),  # one register where two were asked for
        framed(b"\x04\x06" + bytes(6)),  # three
        framed(b"\x03\x04" + bytes(4)),  # the reply to another function
        framed(b"\x83\x02"),  # its refusal
        framed(b"\x04"),  # nothing but the function
        framed(b"\x04\x04" + bytes(4), unit=2),  # another unit
        framed(b"\x04\x04" + bytes(4), transaction=1),  # another transaction
        b"HTTP/1.1 400 Bad Request\r\n\r\n",
        b"\x00\x01\x00\x00\x00",  # breaks off in the header
        b"",  # hangs up
        lambda request: request[:4] + b"\x00\x09" + request[6:7] + b"\x04\x04" + bytes(4),  # longer than it is
    ],
)
def test_nonsense_is_no_number_and_the_next_reading_is_on_a_fresh_connection(scripted: Start, answer: Any) -> None:
    peer = scripted(answer, GOOD)
    driver = meter(peer.resource, 0.2)
    with pytest.raises(InstrumentError) as told:
        driver.read([1], 1, 0.0)
    assert str(told.value).startswith(f"meter: read input 0 (unit 1 at {peer.resource}): ")
    assert driver.read([1], 1, 0.0).tolist() == [[35.75e5]]
    assert peer.connections == 2


def test_a_late_reply_is_not_taken_for_the_next(scripted: Start) -> None:
    """The first reply comes after the timeout, with 1 bar; the second question gets 35.75 bar."""

    def late(request: bytes) -> bytes:
        time.sleep(0.3)
        return framed(b"\x04\x04\x3f\x80\x00\x00")(request)

    peer = scripted(late, GOOD)
    driver = meter(peer.resource, 0.2)
    with pytest.raises(InstrumentError):
        driver.read([1], 1, 0.0)
    assert driver.read([1], 1, 0.0).tolist() == [[35.75e5]]


def test_a_reply_in_pieces_is_whole(scripted: Start) -> None:
    def pieces(request: bytes) -> bytes:
        return GOOD(request)[:5]

    peer = scripted(pieces)
    driver = meter(peer.resource, 1.0)

    def rest() -> None:
        while not peer.requests:
            time.sleep(0.01)
        time.sleep(0.1)
        peer._open[0].sendall(GOOD(peer.requests[0])[5:])

    thread = threading.Thread(target=rest)
    thread.start()
    assert driver.read([1], 1, 0.0).tolist() == [[35.75e5]]
    thread.join()


# -- identity ---------------------------------------------------------------------------------------------------------

# MODBUS Application Protocol V1.1b3, 6.21, the example of a basic device identification, from memory.
EXAMPLE = bytes.fromhex("2B 0E 01 01 00 00 03") + (
    b"\x00\x16Company identification" + b"\x01\x0dProduct code " + b"\x02\x05V2.11"
)


def test_the_standards_example_of_an_identity(scripted: Start) -> None:
    peer = scripted(framed(EXAMPLE))
    identity = meter(peer.resource, identity="ask").open()
    assert (identity.maker, identity.model, identity.serial_number, identity.firmware) == (
        "Company identification",
        "Product code",
        "",
        "V2.11",
    )
    assert peer.requests[0][7:] == bytes.fromhex("2B 0E 01 00")


def test_an_identity_in_two_replies_and_a_serial_number(scripted: Start) -> None:
    peer = scripted(
        framed(bytes.fromhex("2B 0E 01 81 FF 01 01 00 04") + b"Bay "),
        framed(bytes.fromhex("2B 0E 01 81 00 00 02 01 03") + b"T60" + b"\x02\x031.4"),
        framed(bytes.fromhex("2B 0E 04 81 00 00 01 80 06") + b"P-0220"),
    )
    identity = meter(peer.resource, identity="ask", serial_number_object="0x80").open()
    assert (identity.maker, identity.model, identity.serial_number) == ("Bay", "T60", "P-0220")
    assert [request[7:].hex() for request in peer.requests] == ["2b0e0100", "2b0e0101", "2b0e0480"]


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        (framed(b"\xab\x01"), "exception 1, illegal function; .*`identity: cannot say`"),
        (framed(b"\xab\x04"), "exception 4, .*check `unit id:`, or write `identity: cannot say`"),
        (framed(bytes.fromhex("2B 0E 01 01 00 00 00")), "maker '' and model ''; .*mandatory; .*`identity: cannot say`"),
        (framed(bytes.fromhex("2B 0E 01 01 00 00 02 00 01 FF 01 01 41")), "printable ASCII"),
        (framed(bytes.fromhex("2B 0E 01 01 00 00 01 00 09 41")), "no whole reply|maker"),
        (framed(bytes.fromhex("2B 0E")), "no whole reply"),
    ],
)
def test_no_identity(scripted: Start, answer: Any, said: str) -> None:
    peer = scripted(answer)
    with pytest.raises(InstrumentError, match=said):
        meter(peer.resource, 0.3, identity="ask").open()


# -- before anything is sent ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("inputs", "count", "interval_s"),
    [([2], 1, 0.0), ([], 1, 0.0), ([1], 0, 0.0), ([1], 1, -1.0), ([1], 1, float("nan"))],
)
def test_senseless_readings_send_nothing(scripted: Start, inputs: list[int], count: int, interval_s: float) -> None:
    peer = scripted()
    with pytest.raises(NumberError):
        meter(peer.resource).read(inputs, count, interval_s)
    assert peer.requests == []


def test_unit_0_has_no_place_on_a_serial_line() -> None:
    with pytest.raises(InstrumentError, match=r"unit id 0 on a serial line; .*write 1 to 247"):
        meter("serial:///dev/null", unit_id="0").open()


def test_without_the_library(monkeypatch: pytest.MonkeyPatch, scripted: Start, tmp_path: Path) -> None:
    """The plugin loads, opening says what to install, and `check` says so before any hardware."""
    from click.testing import CliRunner

    from .spool import SPOOL, modbus_rig

    monkeypatch.setattr(client, "find_spec", lambda name: None if name == "pymodbus" else object())
    monkeypatch.setitem(sys.modules, "pymodbus", None)
    with pytest.raises(InstrumentError, match=r'pymodbus is not installed: pip install "rigproof\[modbus\]"'):
        meter(scripted().resource).open()
    (tmp_path / "acceptance.yaml").write_text((SPOOL / "acceptance.yaml").read_text("utf-8"), "utf-8")
    (tmp_path / "rig.yaml").write_text(modbus_rig(), "utf-8")
    done = CliRunner().invoke(check_command, [str(tmp_path)], standalone_mode=False)
    assert done.return_value == 0, done.output  # no fault of the rig: it may run at another desk
    assert (
        'instruments.pump.resource: the library pymodbus is not installed: pip install "rigproof[modbus]"'
        in done.output
    )
