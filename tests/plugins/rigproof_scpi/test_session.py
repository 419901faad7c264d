"""Every exchange that goes wrong ends in an InstrumentError that says what, and in a session not trusted any more."""

from __future__ import annotations

import errno
import struct
from typing import TYPE_CHECKING

import pytest
import pyvisa
from pyvisa.constants import StatusCode

from rigproof.errors import InstrumentError, Stopped
from rigproof.instruments import Identity
from rigproof_scpi import replies
from rigproof_scpi.session import Session

if TYPE_CHECKING:
    from .conftest import Bench

SOCKET = "TCPIP::192.0.2.15::5025::SOCKET"
BUS = "GPIB0::7::INSTR"
SERIAL = "ASRL3::INSTR"
NO_ERROR = '0,"No error"'


def opened(bench: Bench, resource: str = SOCKET) -> Session:
    session = Session(bench.connection(resource))
    bench.greet(resource)
    session.open()
    return session


@pytest.mark.parametrize("resource", [SOCKET, BUS, SERIAL])
def test_open_says_who_answered(bench: Bench, resource: str) -> None:
    session = Session(bench.connection(resource))
    line = bench.greet(resource, "Test bay,thermometer,T-0031,1.0")
    assert session.open() == Identity("Test bay", "thermometer", "T-0031", "1.0")
    assert line.opened == 1
    assert line.cleared == (0 if resource == SOCKET else 1)
    session.close()
    session.close()
    assert bench.library.open_sessions == 0


def test_constructing_touches_nothing(bench: Bench) -> None:
    Session(bench.connection(SOCKET))
    assert bench.line(SOCKET).opened == 0


def test_open_close_open(bench: Bench) -> None:
    session = opened(bench)
    session.close()
    bench.greet(SOCKET)
    session.open()
    bench.greet(SOCKET)
    session.open()  # an open session is opened anew
    assert bench.line(SOCKET).opened == 3
    assert bench.library.open_sessions == 1


def test_two_sessions_on_one_library(bench: Bench) -> None:
    first, second = opened(bench), opened(bench, BUS)
    first.close()
    bench.script(BUS, ("MEAS:TEMP? (@1)", "20.1"))
    assert second.ask("MEAS:TEMP? (@1)", replies.number) == 20.1
    bench.greet(SOCKET)
    first.open()
    second.close()
    bench.script(SOCKET, ("MEAS:TEMP? (@1)", "20.2"))
    assert first.ask("MEAS:TEMP? (@1)", replies.number) == 20.2


def test_a_strangers_session_survives_ours(bench: Bench) -> None:
    manager = pyvisa.ResourceManager(bench.library_name)
    bench.connection(BUS)
    stranger = manager.open_resource(BUS)
    opened(bench).close()
    assert stranger.session
    stranger.close()


def test_a_manager_closed_by_somebody_else(bench: Bench) -> None:
    session = opened(bench)
    pyvisa.ResourceManager(bench.library_name).close()
    with pytest.raises(InstrumentError, match=r"meter: MEAS:TEMP\?: Invalid session handle"):
        session.ask("MEAS:TEMP?", replies.number)
    bench.greet(SOCKET)
    session.open()
    bench.script(SOCKET, ("MEAS:TEMP?", "20.1"))
    assert session.ask("MEAS:TEMP?", replies.number) == 20.1


def test_not_open(bench: Bench) -> None:
    session = Session(bench.connection(SOCKET))
    with pytest.raises(InstrumentError, match="must be open"):
        session.write("*RST")


@pytest.mark.parametrize(
    ("resource", "library", "why"),
    [
        ("TCPIP::192.0.2.99::5025::SOCKET", None, "VI_ERROR_RSRC_NFOUND"),
        ("nothing of the kind", None, "VI_ERROR_RSRC_NFOUND"),
        (SOCKET, "@no_such_backend", "pyvisa_no_such_backend"),
    ],
)
def test_a_resource_that_cannot_be_opened(bench: Bench, resource: str, library: str | None, why: str) -> None:
    connection = bench.connection(SOCKET)
    changed = {"resource": resource, "visa_library": library or connection.visa_library}
    session = Session(type(connection)(**{**vars(connection), **changed}))
    with pytest.raises(InstrumentError, match=why) as caught:
        session.open()
    assert "check power, cable and `resource:` in rig.yaml" in str(caught.value)
    assert caught.value.instrument == "meter"


def test_a_resource_that_takes_no_messages(bench: Bench) -> None:
    session = Session(bench.connection("VXI0::MEMACC"))
    with pytest.raises(InstrumentError, match="takes no messages"):
        session.open()
    assert bench.library.open_sessions == 0


@pytest.mark.parametrize("identity", ["Test bay,meter", "a,b,c,d,e", "", "METER"])
def test_a_wrong_identity_leaves_nothing_open(bench: Bench, identity: str) -> None:
    session = Session(bench.connection(SOCKET))
    bench.greet(SOCKET, identity)
    with pytest.raises(InstrumentError, match=r"\*IDN\?: the reply was .*four fields"):
        session.open()
    assert bench.library.open_sessions == 0


BAD_REPLIES = {
    "no reply": (None, "VI_ERROR_TMO"),
    "lost link on write": (StatusCode.error_connection_lost, "VI_ERROR_CONN_LOST"),
    "broken pipe": (BrokenPipeError("Broken pipe"), "Broken pipe"),
    "backend cannot": (NotImplementedError(), "NotImplementedError"),
    "garbage": ("%&§!", "the reply was"),
    "text": ("Overheated", "the reply was 'Overheated"),
    "not ASCII": (b"20.1\xb0C\n", "ascii"),
    "control characters": (b"20.1\x00\n", "printable"),
    "cut off": (b"20.", "VI_ERROR_TMO"),
    "two numbers": ("20.1,20.2", "one decimal number"),
    "empty": ("", "one decimal number"),
    "endless": (b"1" * 4000, "LF within 512 bytes"),
}


@pytest.mark.parametrize("case", BAD_REPLIES)
def test_a_bad_reply(bench: Bench, case: str) -> None:
    reply, why = BAD_REPLIES[case]
    session = opened(bench)
    bench.script(SOCKET, ("MEAS:TEMP? (@1)", reply))
    with pytest.raises(InstrumentError, match=why) as caught:
        session.ask("MEAS:TEMP? (@1)", replies.number)
    assert str(caught.value).startswith("meter: MEAS:TEMP? (@1): ")
    with pytest.raises(InstrumentError, match="may belong to the last question"):
        session.ask("MEAS:TEMP? (@1)", replies.number)


def test_a_reply_with_end_but_without_lf(bench: Bench) -> None:
    """On a bus END closes the message; without the LF of MESSAGES.md the reply may be cut off."""
    session = opened(bench, BUS)
    bench.script(BUS, ("MEAS:TEMP? (@1)", b"20."))
    with pytest.raises(InstrumentError, match="ends with LF"):
        session.ask("MEAS:TEMP? (@1)", replies.number)


def test_two_replies_in_one_message(bench: Bench) -> None:
    session = opened(bench, BUS)
    bench.script(BUS, ("MEAS:TEMP? (@1)", b"20.1\n20.2\n"))
    with pytest.raises(InstrumentError, match="one line"):
        session.ask("MEAS:TEMP? (@1)", replies.number)


@pytest.mark.parametrize("resource", [SOCKET, BUS])
def test_a_late_reply_is_never_taken_for_the_next_one(bench: Bench, resource: str) -> None:
    session = opened(bench, resource)
    bench.script(resource, ("MEAS:TEMP? (@1)", bench.late("20.1", after_s=3.0)))
    with pytest.raises(InstrumentError, match="within 2 s"):
        session.ask("MEAS:TEMP? (@1)", replies.number)
    assert bench.clock.now() == 2.0
    bench.clock.wait(5.0)
    with pytest.raises(InstrumentError, match="open the instrument again"):
        session.ask("MEAS:TEMP? (@2)", replies.number)
    bench.greet(resource)
    session.open()
    bench.script(resource, ("MEAS:TEMP? (@2)", "30.2"))
    assert session.ask("MEAS:TEMP? (@2)", replies.number) == 30.2


def test_a_stop_in_the_middle_leaves_the_session_in_doubt(bench: Bench) -> None:
    session = opened(bench)
    bench.script(SOCKET, ("MEAS:TEMP? (@1)", Stopped("SIGTERM")))
    with pytest.raises(Stopped):
        session.ask("MEAS:TEMP? (@1)", replies.number)
    with pytest.raises(InstrumentError, match="nothing was sent"):
        session.write("OUTP OFF")


def test_an_entry_in_the_error_queue(bench: Bench) -> None:
    session = opened(bench)
    undefined, settings = '-113,"Undefined header"', '-221,"Settings conflict"'
    bench.script(SOCKET, ("OUTP UP", None), ("SYST:ERR?", undefined), ("SYST:ERR?", settings), ("SYST:ERR?", NO_ERROR))
    with pytest.raises(InstrumentError) as caught:
        session.command("OUTP UP")
    assert f"OUTP UP: its error queue then held {undefined} and {settings}" in str(caught.value)
    bench.accepted(SOCKET, "OUTP ON")
    session.command("OUTP ON")  # a refused message is no reason to distrust the session


def test_errors_come_oldest_first(bench: Bench) -> None:
    session = opened(bench)
    bench.script(SOCKET, ("SYST:ERR?", '-113,"a"'), ("SYST:ERR?", '-222,"b"'), ("SYST:ERR?", NO_ERROR))
    assert session.errors() == ['-113,"a"', '-222,"b"']


def test_an_error_queue_that_never_ends(bench: Bench) -> None:
    session = opened(bench)
    bench.script(SOCKET, *[("SYST:ERR?", '-350,"Queue overflow"')] * 65)
    with pytest.raises(InstrumentError, match=r"65 entries and no end, the last -350"):
        session.errors()


def test_an_error_queue_that_answers_something_else(bench: Bench) -> None:
    session = opened(bench)
    bench.script(SOCKET, ("OUTP ON", None), ("SYST:ERR?", "20.1"))
    with pytest.raises(InstrumentError, match="entry of the error queue"):
        session.command("OUTP ON")


# Doubles whose big-endian bytes are full of LF (0x0A), at the start, in the middle and at the end.
FULL_OF_LF = struct.unpack(">3d", b"\n" * 8 + b"\x3f\n\x00\n\n\x00\n\n" + b"\x3f\x00\x00\x00\x00\x00\x00\n")


@pytest.mark.parametrize("resource", [SOCKET, BUS, SERIAL])
@pytest.mark.parametrize("header", [b"#224", b"#3024"])
def test_a_block(bench: Bench, resource: str, header: bytes) -> None:
    session = opened(bench, resource)
    bench.script(resource, ("READ?", header + struct.pack(">3d", *FULL_OF_LF) + b"\n"))
    assert tuple(session.ask_block("READ?", 3, 0.0)) == FULL_OF_LF


def test_a_long_block(bench: Bench) -> None:
    """More than PyVISA's chunk of 20 480 bytes."""
    session = opened(bench)
    values = [1e-6 * k for k in range(5000)]
    bench.script(SOCKET, ("READ?", b"#540000" + struct.pack(">5000d", *values) + b"\n"))
    assert session.ask_block("READ?", 5000, 0.0).tolist() == values


@pytest.mark.parametrize(("duration_s", "after_s"), [(10.0, 11.9), (0.0, 1.9)])
def test_a_block_may_take_its_time(bench: Bench, duration_s: float, after_s: float) -> None:
    session = opened(bench)
    late = bench.late("", after_s)
    late.reply = b"#18" + struct.pack(">d", 1.0) + b"\n"
    bench.script(SOCKET, ("READ?", late), ("MEAS:TEMP?", bench.late("20.1", 1.9)), ("MEAS:TEMP?", bench.late("1", 2.1)))
    assert session.ask_block("READ?", 1, duration_s).tolist() == [1.0]
    assert session.ask("MEAS:TEMP?", replies.number) == 20.1
    with pytest.raises(InstrumentError, match="within 2 s"):  # the usual timeout holds again
        session.ask("MEAS:TEMP?", replies.number)


def test_a_block_that_comes_too_late(bench: Bench) -> None:
    session = opened(bench)
    bench.script(SOCKET, ("READ?", bench.late("#18........", 12.1)))
    with pytest.raises(InstrumentError, match="within 12 s"):
        session.ask_block("READ?", 1, 10.0)


TWO = struct.pack(">2d", 1.0, 2.0)
BAD_BLOCKS = {
    "no reply": (None, "VI_ERROR_TMO"),
    "header cut": (b"#2\n", "definite-length"),
    "no LF": (b"#216" + TWO, "VI_ERROR_TMO"),
    "cut block": (b"#216" + TWO[:9], "VI_ERROR_TMO"),
    "cut block, LF": (b"#216" + TWO[:9] + b"\n", "VI_ERROR_TMO"),
    "one too many": (b"#216" + TWO + b"\x00\n", "ends with LF"),
    "shorter than asked": (b"#18" + TWO[:8] + b"\n", "16 bytes, not 8"),
    "longer than asked": (b"#224" + TWO + TWO[:8] + b"\n", "16 bytes, not 24"),
    "indefinite": (b"#0" + TWO + b"\n", "definite-length"),
    "text": (b"1.0,2.0\n", "definite-length"),
    "absurd digits": (b"#9999999999" + TWO + b"\n", "not 999999999"),
    "wrong byte order": (b"#216" + b"\x7e" * 8 + TWO[:8] + b"\n", "big-endian"),
    "lost link": (StatusCode.error_connection_lost, "VI_ERROR_CONN_LOST"),
}


@pytest.mark.parametrize("case", BAD_BLOCKS)
def test_a_bad_block(bench: Bench, case: str) -> None:
    reply, why = BAD_BLOCKS[case]
    session = opened(bench)
    bench.script(SOCKET, ("READ?", reply))
    with pytest.raises(InstrumentError, match=why):
        session.ask_block("READ?", 2, 0.0)
    with pytest.raises(InstrumentError, match="may belong to the last question"):
        session.errors()


def test_a_block_cut_by_end(bench: Bench) -> None:
    session = opened(bench, BUS)
    bench.script(BUS, ("READ?", b"#216" + TWO[:9]))
    with pytest.raises(InstrumentError, match="VI_ERROR_TMO"):
        session.ask_block("READ?", 2, 0.0)


def test_a_block_that_ends_in_nothing(bench: Bench) -> None:
    session = opened(bench, BUS)
    bench.script(BUS, ("READ?", (b"#216" + TWO[:9], b"")))
    with pytest.raises(InstrumentError, match="the reply ended after 13 of 21 bytes"):
        session.ask_block("READ?", 2, 0.0)


def test_a_stop_while_connecting(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(*_: object) -> None:
        raise Stopped("SIGTERM")

    session = Session(bench.connection(SOCKET))
    monkeypatch.setattr(bench.library, "open", stop)
    with pytest.raises(Stopped):
        session.open()


def test_the_last_word_is_sent_in_doubt_and_never_raises(bench: Bench) -> None:
    session = opened(bench)
    bench.script(SOCKET, ("MEAS:TEMP?", None))
    with pytest.raises(InstrumentError):
        session.ask("MEAS:TEMP?", replies.number)
    bench.script(SOCKET, ("OUTP OFF", None), ("OUTP OFF", StatusCode.error_connection_lost))
    session.last_word("OUTP OFF")
    session.last_word("OUTP OFF")
    session.close()
    session.last_word("OUTP OFF")  # closed: nothing to send it through


def test_a_network_without_a_way_is_told_in_the_words_of_check_connect(bench: Bench) -> None:
    session = opened(bench)
    bench.script(SOCKET, ("MEAS:TEMP? (@1)", OSError(errno.EHOSTUNREACH, "No route to host")))
    with pytest.raises(
        InstrumentError, match=r"no way to .*: host or network unreachable; see cable, address"
    ) as caught:
        session.ask("MEAS:TEMP? (@1)", replies.number)
    assert "Errno" not in str(caught.value)
    assert "answer within" not in str(caught.value)
