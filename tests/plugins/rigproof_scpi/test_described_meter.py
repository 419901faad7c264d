"""A meter that speaks by the words of its map: readings with units, overload, garbage, time-outs, complaints."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rigproof.errors import InstrumentError
from rigproof.instruments import NOT_ASKED, Identity
from rigproof_scpi.command_map import MeterMap
from rigproof_scpi.described_meter import DescribedMeter
from rigproof_scpi.patterns import number_text

if TYPE_CHECKING:
    from .conftest import Bench

SOCKET = "TCPIP::192.0.2.15::4001::SOCKET"
BUS = "GPIB0::9::INSTR"
MAP: dict[str, Any] = {
    "quantity": "temperature",
    "unit": "°C",
    "identity": {"ask": "ID?", "reply": "{maker}/{model}/{serial number}/{firmware}"},
    "error": {"ask": "ERR?", "none": ["0", "OK*"]},
    "read": {"ask": "T{input}?", "reply": "T{input}={value} C", "overload": ["T{input}=OPEN", "-----"]},
}
WHO = ("ID?", "Test bay/thermometer/T-0031/1.0")
WELL = ("ERR?", "0")


def opened(bench: Bench, where: str = SOCKET, **changes: Any) -> DescribedMeter:
    described = MeterMap.model_validate({**MAP, **changes})
    meter = DescribedMeter(bench.connection(where), described)
    if described.identity is not None and where == SOCKET:
        bench.script(where, WHO)
    meter.open()
    return meter


def reads(bench: Bench, reply: object, **changes: Any) -> float:
    """One reading of input 1."""
    meter = opened(bench, **changes)
    bench.script(SOCKET, ("T1?", reply), WELL)
    return float(meter.read([1], 1, 0.0)[0, 0])


def test_it_says_who_it_is(bench: Bench) -> None:
    bench.script(SOCKET, WHO)
    meter = DescribedMeter(bench.connection(SOCKET), MeterMap.model_validate(MAP))
    assert meter.open() == Identity("Test bay", "thermometer", "T-0031", "1.0")


@pytest.mark.parametrize(
    ("identity", "exchanges", "found"),
    [
        ("cannot say", [], Identity("", "", "", NOT_ASKED)),
        ({"ask": "ID?", "reply": "*S/N {serial number}"}, [("ID?", "METER S/N 31")], Identity("", "", "31", "")),
        ({"ask": "VER", "reply": "TH-*"}, [("VER", "TH-2")], Identity("", "", "", "")),
    ],
)
def test_it_says_no_more_than_it_can(
    bench: Bench, identity: object, exchanges: list[tuple[str, object]], found: Identity
) -> None:
    bench.script(SOCKET, *exchanges)
    meter = DescribedMeter(bench.connection(SOCKET), MeterMap.model_validate({**MAP, "identity": identity}))
    assert meter.open() == found


def test_another_instrument_is_found_out_at_once(bench: Bench) -> None:
    bench.script(SOCKET, ("ID?", "Test bay,thermometer,T-0031,1.0"))
    meter = DescribedMeter(bench.connection(SOCKET), MeterMap.model_validate(MAP))
    with pytest.raises(InstrumentError, match=r"reply was 'Test bay,.*who it is has the form '\{maker\}/"):
        meter.open()
    assert bench.library.open_sessions == 0


def test_a_block_of_inputs_is_read_in_order(bench: Bench) -> None:
    meter = opened(bench)
    bench.script(SOCKET, *[(f"T{i}?", f"T{i}= {20 + i}.5 C") for i in (1, 3, 1, 3)], ("ERR?", "OK 7"))
    assert meter.read([1, 3], 2, 0.5).tolist() == [[21.5, 23.5], [21.5, 23.5]]
    assert 1.0 <= bench.clock.now() < 1.01  # a thousandth each to see that no old reply waits


@pytest.mark.parametrize(
    ("changes", "reply", "value"),
    [
        ({}, "T1=23.45 C", 23.45),
        ({}, "T1=-0 C", 0.0),
        ({}, "T1=+2.3E+01 C", 23.0),
        ({"scale": "0.1"}, "T1=235 C", 23.5),
        ({"unit": "K"}, "T1=293.15 C", 20.0),
        ({"decimal": "comma"}, "T1=23,45 C", 23.45),
        ({"quantity": "gauge pressure", "unit": "psi"}, "T1=1 C", 6894.757),  # NIST SP 811 (2008), B.8
        ({"quantity": "resistance", "unit": "kΩ", "scale": "10"}, "T1=3.5 C", 35_000.0),
    ],
)
def test_numbers_come_in_base_units(bench: Bench, changes: dict[str, Any], reply: str, value: float) -> None:
    assert reads(bench, reply, **changes) == pytest.approx(value, rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("reply", ["T1=OPEN", "-----", "T1=9.9E37 C", "T1=-9.9E37 C", "T1=9.91E37 C"])
def test_no_number_is_nan(bench: Bench, reply: str) -> None:
    assert math.isnan(reads(bench, reply))


@pytest.mark.parametrize(
    "reply",
    ["", "T1=", "T1=C", "T2=23 C", "T1=23", "T1=23 C ", "xT1=23 C", "T1=23,4 C", "T1=nan C", "T1=inf C", "T1=0x10 C",
     "T1=1_0 C", "T1=1 2 C", "T1=23 C\x00", "T2=OPEN", "T1=9E40 C", "T1=\t23 C", "T1=٣ C".encode().decode("latin-1"),
     b"\xff\xfe\n", b"T1=23 C\r\n", b"T1=2\x813 C\n", b"9" * 600 + b"\n"],
)  # fmt: skip
def test_garbage_is_never_a_number(bench: Bench, reply: object) -> None:
    meter = opened(bench)
    bench.script(SOCKET, ("T1?", reply))
    with pytest.raises(InstrumentError, match=r"^meter: T1\?: the reply was "):
        meter.read([1], 1, 0.0)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=200)
@given(reply=st.binary(max_size=60))
def test_no_bytes_break_it(bench: Bench, reply: bytes) -> None:
    """Whatever comes: a number, nan or an InstrumentError; and the next reading has its own reply."""
    bench.script(SOCKET, WHO)
    meter = DescribedMeter(bench.connection(SOCKET, timeout_s=0.1), MeterMap.model_validate(MAP))
    meter.open()
    bench.script(SOCKET, ("T1?", reply))
    with pytest.raises(InstrumentError):
        meter.read([1], 1, 0.0)
    bench.script(SOCKET, WHO, ("T1?", "T1=5 C"), WELL)
    assert meter.read([1], 1, 0.0)[0, 0] == 5.0
    meter.close()


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=200)
@given(value=st.floats(-1e6, 1e6), decimals=st.integers(0, 6), comma=st.booleans())
def test_what_is_sent_is_what_is_read(bench: Bench, value: float, decimals: int, comma: bool) -> None:
    bench.script(SOCKET, WHO)
    described = MeterMap.model_validate({**MAP, "decimal": "comma" if comma else "point"})
    meter = DescribedMeter(bench.connection(SOCKET), described)
    meter.open()
    bench.script(SOCKET, ("T1?", f"T1={number_text(value, decimals, comma)} C"), WELL)
    assert meter.read([1], 1, 0.0)[0, 0] == pytest.approx(value, abs=0.500001 * 10.0**-decimals)
    meter.close()


def test_a_late_reply_ends_the_reading_and_is_never_taken_for_the_next(bench: Bench) -> None:
    meter = opened(bench)
    bench.script(SOCKET, ("T1?", bench.late("T1=11 C", 3.0)))
    with pytest.raises(InstrumentError, match=r"T1\?: .*within 2 s; check power and cable"):
        meter.read([1], 1, 0.0)
    bench.script(SOCKET, WHO, ("T1?", "T1=12 C"), WELL)
    assert meter.read([1], 1, 0.0).tolist() == [[12.0]]  # on a fresh connection


def test_another_instrument_after_a_failed_reading_is_not_read(bench: Bench) -> None:
    meter = opened(bench)
    bench.script(SOCKET, ("T1?", None), ("ID?", "Test bay/thermometer/T-0032/1.0"))
    with pytest.raises(InstrumentError, match="within"):
        meter.read([1], 1, 0.0)
    with pytest.raises(InstrumentError, match=r"T-0032 answers, and .* T-0031 was opened: another instrument"):
        meter.read([1], 1, 0.0)
    assert bench.library.open_sessions == 0


def test_a_second_reply_to_one_question_is_found(bench: Bench) -> None:
    """It would be taken for the reply to the next question, and every reading be an old one."""
    meter = opened(bench, error=None)
    bench.script(SOCKET, ("T1?", b"T1=11 C\nT1=11 C\n"))
    assert meter.read([1], 1, 0.0).tolist() == [[11.0]]
    with pytest.raises(InstrumentError, match="was waiting before the question"):
        meter.read([1], 1, 0.0)


def test_a_look_sends_nothing_of_at_start_and_a_connection_made_again_neither(bench: Bench) -> None:
    meter = DescribedMeter(bench.connection(SOCKET), MeterMap.model_validate({**MAP, "at start": "REMOTE"}))
    bench.script(SOCKET, WHO)
    assert meter.look().serial_number == "T-0031"
    meter.close()
    bench.script(SOCKET, ("REMOTE", None), WELL, WHO)
    meter.open()
    bench.script(SOCKET, WHO)
    assert meter.resume().serial_number == "T-0031"


def test_what_was_never_opened_is_not_connected_again(bench: Bench) -> None:
    with pytest.raises(InstrumentError, match="open it first"):
        DescribedMeter(bench.connection(SOCKET), MeterMap.model_validate(MAP)).resume()


def test_what_the_instrument_complains_of_is_told(bench: Bench) -> None:
    meter = opened(bench)
    bench.script(SOCKET, ("T1?", "T1=23 C"), ("ERR?", "12 SENSOR"), ("ERR?", "13 LATE"), ("ERR?", "OK"))
    with pytest.raises(InstrumentError, match="'12 SENSOR' and '13 LATE'; every message must be accepted"):
        meter.read([1], 1, 0.0)


def test_a_complaint_that_stays_is_told_once(bench: Bench) -> None:
    """A state, not a queue: it says the same again and again."""
    meter = opened(bench)
    bench.script(SOCKET, ("ERR?", "12"), ("ERR?", "12"))
    assert meter.errors() == ["12"]


@pytest.mark.parametrize(
    ("reply", "told"),
    [("0", []), ("OK then", []), ("E12 SENSOR", ["E12 SENSOR"]), ("23.5", None), ("", None)],
)
def test_what_is_no_reply_to_the_error_query_is_a_fault(bench: Bench, reply: str, told: list[str] | None) -> None:
    meter = opened(bench, error={**MAP["error"], "some": "E*"})
    bench.script(SOCKET, ("ERR?", reply))
    if told is None:
        with pytest.raises(InstrumentError, match=r"ERR\?: the reply was .*the map knows '0', 'OK\*', 'E\*'"):
            meter.errors()
        return
    if told:
        bench.script(SOCKET, ("ERR?", "0"))
    assert meter.errors() == told


def test_an_empty_complaint_is_one(bench: Bench) -> None:
    meter = opened(bench)
    bench.script(SOCKET, ("ERR?", ""), ("ERR?", "0"))
    assert len(meter.errors()) == 1


def test_an_error_query_without_end_is_left(bench: Bench) -> None:
    meter = opened(bench)
    bench.script(SOCKET, *[("ERR?", f"E{number}") for number in range(64)])
    assert len(meter.errors()) == 64


def test_nobody_greets_on_a_bus() -> None:
    greets = MeterMap.model_validate({**MAP, "greeting": "*"})
    DescribedMeter.check_settings(SOCKET, greets)
    with pytest.raises(ValueError, match="nobody sends without being asked on 'GPIB0::9::INSTR'"):
        DescribedMeter.check_settings(BUS, greets)


def test_messages_at_start_and_a_delay(bench: Bench) -> None:
    bench.script(SOCKET, ("REMOTE", None), ("RANGE 2", None), WELL, WHO, end="\r\n")
    changes = {"at start": ["REMOTE", "RANGE 2"], "delay": "50 ms", "terminator": "CR LF"}
    meter = DescribedMeter(bench.connection(SOCKET), MeterMap.model_validate({**MAP, **changes}))
    meter.open()
    assert bench.clock.waits == [0.05] * 4
    bench.script(SOCKET, ("T1?", "T1=23 C"), WELL, end="\r\n")
    assert meter.read([1], 1, 0.0).tolist() == [[23.0]]


@pytest.mark.parametrize(("word", "end"), [("LF", "\n"), ("CR", "\r"), ("CR LF", "\r\n")])
def test_terminators_of_a_stream(bench: Bench, word: str, end: str) -> None:
    bench.script(SOCKET, WHO, ("T1?", "T1=1 C"), WELL, end=end)
    meter = DescribedMeter(bench.connection(SOCKET), MeterMap.model_validate({**MAP, "terminator": word}))
    meter.open()
    assert meter.read([1], 1, 0.0).tolist() == [[1.0]]


@pytest.mark.parametrize(("word", "end"), [("LF", "\n"), ("none", "")])
def test_terminators_of_a_bus(bench: Bench, word: str, end: str) -> None:
    bench.script(BUS, WHO, ("T1?", "T1=1 C"), WELL, end=end)
    meter = DescribedMeter(bench.connection(BUS), MeterMap.model_validate({**MAP, "terminator": word}))
    meter.open()
    assert meter.read([1], 1, 0.0).tolist() == [[1.0]]


def test_what_a_channel_may_ask_of_it() -> None:
    one = MeterMap.model_validate({**MAP, "read": {"ask": "T?", "reply": "{value}"}})
    assert DescribedMeter.unreadable(one, 1, "temperature") == ""
    assert "input 1 only" in DescribedMeter.unreadable(one, 2, "temperature")
    assert "gives temperature" in DescribedMeter.unreadable(one, 1, "resistance")
    assert DescribedMeter.unreadable(MeterMap.model_validate(MAP), 7, "temperature") == ""
