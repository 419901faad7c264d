"""Simulated instruments that speak by a command map: told in messages, without the drivers."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from rigproof.documents import load_rig
from rigproof.errors import DocumentError
from rigproof.plugins import Registry
from rigproof_scpi.command_map import MeterMap, SourceMap
from rigproof_twin.instruments import build
from rigproof_twin.instruments.described import Described, agreed
from rigproof_twin.instruments.talk import MOST_WAITING, TalkOnly
from rigproof_twin.interface import Appearance
from rigproof_twin.simulator import StrainRig
from rigproof_twin.still import StillWorld

SPOOL = Path(__file__).parents[3] / "tests" / "rigs" / "spool"
METER: dict[str, Any] = {
    "quantity": "temperature",
    "unit": "°C",
    "identity": {"ask": "ID?", "reply": "{maker};{serial number};*"},
    "error": {"ask": "ERR?", "none": ["OK*", "0"]},
    "at start": "REMOTE",
    "read": {"ask": "T{input}?", "reply": "T{input}={value} C", "overload": "T{input}=OPEN"},
}
TALKS: dict[str, Any] = {
    "quantity": "gauge pressure", "unit": "bar", "identity": "cannot say", "read": {"listen": "P {value} BAR"},
}  # fmt: skip
PUMP: dict[str, Any] = {
    "quantity": "gauge pressure",
    "unit": "bar",
    "identity": "cannot say",
    "error": {"ask": "ERR?", "none": "0"},
    "rate": {"send": "RAMP {rate}", "unit": "bar/min", "ask": "RAMP", "reply": "{rate}"},
    "target": {"send": "GOTO {value}", "ask": "GOTO", "reply": "{value}"},
    "start": ["ARM", "RUN"],
    "settled": {"ask": "STATE", "is": ["HOLD"], "is not": "MOVE*"},
    "safe": {"send": ["STOP", "VENT"], "ask": "STATE", "is": "VENTED", "is not": "*"},
    "isolate": {"send": "SHUT", "send back": "OPEN", "ask": "VALVE", "is": "SHUT", "is not": "OPEN"},
}


def made(kind: str, written: dict[str, Any], world: StillWorld | None = None, **look: Any) -> Described:
    words = (SourceMap if kind == "pressure source" else MeterMap).model_validate(written)
    looks = Appearance("Test bay", "sim", "7", "simulated", **look)
    found = build(kind, world or StillWorld(), looks, np.random.default_rng(1), words)
    assert isinstance(found, Described)
    return found


def said(instrument: Described, *messages: str) -> str:
    """The reply to the last of some messages."""
    for message in messages:
        reply, _ = instrument.execute(message.encode("latin-1"), False)
    return reply.decode("latin-1")


def test_a_meter_answers_in_its_own_words() -> None:
    meter = made("thermometer", METER)
    assert said(meter, "ID?") == "Test bay;7;x"
    assert said(meter, "T1?") == "T1=20 C"
    assert said(meter, "T9?") == "T9=OPEN"
    assert said(meter, "REMOTE") == ""
    assert said(meter, "ERR?") == "OKx"


def test_an_input_is_selected_and_settings_are_acknowledged() -> None:
    read = {"select": ["FRONT", "CH{input}"], "ask": "RD", "reply": "{value}", "overload": "OL"}
    meter = made("thermometer", {**METER, "read": read, "acknowledged": ["OK", "DONE"]})
    assert [said(meter, message) for message in ("RD", "REMOTE", "CH2", "CH", "RD")] == ["20", "OK", "OK", "", "OL"]
    assert said(meter, "FRONT", "RD") == "OL"
    assert said(meter, "CH1", "RD") == "20"


def test_it_repeats_in_an_acknowledgement_what_the_message_said() -> None:
    pump = made("pressure source", {**PUMP, "acknowledged": ["SET {value}", "AT {rate}", "{message} OK"]}, upper=60e5)
    assert [said(pump, message) for message in ("GOTO 20.5", "RAMP 30", "SHUT")] == ["SET 20.5", "AT 30", "SHUT OK"]


def test_a_setting_out_of_range_is_not_acknowledged() -> None:
    pump = made("pressure source", {**PUMP, "acknowledged": "OK"}, upper=60e5)
    assert [said(pump, message) for message in ("GOTO 10", "GOTO 61", "RUN")] == ["OK", "unknown message", "OK"]
    assert said(pump, "GOTO") == "10"


def test_a_stream_begins_with_a_greeting_and_a_bus_does_not() -> None:
    meter = made("thermometer", {**METER, "greeting": "METER * READY"})
    stream, bus = meter.connect(bus=False), meter.connect(bus=True)
    stream.write(b"T1?\n")
    assert stream.read(100, ord("\n"), 1.0)[0] == b"METER x READY\n"
    assert stream.read(100, ord("\n"), 1.0)[0] == b"T1=20 C\n"
    assert bus.next_ready() is None


@pytest.mark.parametrize("message", ["T1 ?", "t1?", "T1?x", "T?", "T{input}?", "", "ID? "])
def test_what_it_does_not_know_is_passed_over_and_complained_of_once(message: str) -> None:
    meter = made("thermometer", METER)
    assert said(meter, message) == ""
    assert said(meter, "ERR?") == "unknown message"
    assert said(meter, "ERR?") == "OKx"


@pytest.mark.parametrize(
    ("changes", "reply"),
    [
        ({"unit": "K"}, "T1=293.15 C"),
        ({"scale": "0.1"}, "T1=200 C"),
        ({"unit": "K", "decimal": "comma"}, "T1=293,15 C"),
    ],
)
def test_units_scale_and_comma(changes: dict[str, Any], reply: str) -> None:
    assert said(made("thermometer", {**METER, **changes}), "T1?") == reply


def test_an_overload_without_a_form_is_no_number() -> None:
    read = {"ask": "T{input}?", "reply": "T{input}={value} C"}
    assert said(made("thermometer", {**METER, "read": read, "decimal": "comma"}), "T9?") == "T9=99E36 C"


def test_a_source_does_as_it_is_told() -> None:
    world = StillWorld()
    pump = made("pressure source", PUMP, world)
    assert said(pump, "STATE") == "VENTED"
    assert said(pump, "RAMP 30", "RAMP") == "30"
    assert said(pump, "GOTO 35.75", "GOTO") == "35.75"
    assert (world.source.rate_pa_per_s, world.source.target_pa) == pytest.approx((0.5e5, 35.75e5))
    assert said(pump, "ARM", "STATE") == "VENTED"
    world.source.busy = True
    assert said(pump, "RUN", "STATE") == "MOVEx"
    world.source.busy = False
    assert said(pump, "STATE") == "HOLD"
    assert said(pump, "SHUT", "VALVE") == "SHUT"
    assert said(pump, "OPEN", "VALVE") == "OPEN"
    assert said(pump, "STOP", "STATE") == "HOLD"
    assert said(pump, "VENT", "STATE") == "VENTED"
    assert said(pump, "ERR?") == "0"


@pytest.mark.parametrize("message", ["RAMP 0", "RAMP -5", "GOTO -1", "GOTO 61", "GOTO x"])
def test_a_source_refuses_what_is_out_of_range(message: str) -> None:
    world = StillWorld()
    pump = made("pressure source", PUMP, world, upper=60e5)
    assert said(pump, "GOTO 10", message, "ERR?") == "unknown message"
    assert world.source.target_pa == 10e5


def test_where_no_word_says_both_the_first_state_has_it() -> None:
    words = SourceMap.model_validate(PUMP)
    assert agreed([(words.safe, lambda: True), (words.settled, lambda: True)]) == "VENTED"
    assert agreed([(words.safe, lambda: False), (words.settled, lambda: True)]) == "HOLD"
    assert agreed([(words.safe, lambda: False), (words.settled, lambda: False)]) == "MOVEx"


def test_a_talker_sends_every_half_second_and_the_first_line_is_cut() -> None:
    world = StillWorld()
    world.clock.wait(10.2)
    talker = made("pressure transmitter", TALKS, world).connect(bus=False)
    assert isinstance(talker, TalkOnly)
    talker.write(b"P?\n")  # it has no ears
    assert talker.next_ready() == 10.5
    assert talker.take_ready() == b""
    world.clock.wait(0.3)
    assert talker.take_ready() == b"BAR\n"
    assert talker.next_ready() == 11.0
    world.clock.wait(1.0)
    assert talker.take_ready() == b"P 0 BAR\n" * 2


def test_lines_that_nobody_reads_are_lost() -> None:
    world = StillWorld()
    talker = made("pressure transmitter", TALKS, world).connect(bus=False)
    world.clock.wait(3600.0)
    assert talker.take_ready().count(b"\n") == MOST_WAITING


def test_a_dead_talker_is_mute() -> None:
    world = StillWorld()
    meter = made("pressure transmitter", TALKS, world)
    talker = meter.connect(bus=False)
    meter.alive = False
    world.clock.wait(10.0)
    assert talker.next_ready() is None


def test_the_twin_says_what_it_has_no_instrument_of_at_its_place(registry: Registry) -> None:
    text = (SPOOL / "rig.yaml").read_text("utf-8")
    words = "{quantity: bridge output, unit: mV/V, identity: cannot say, read: {ask: R, reply: '{value}'}}"
    mine = f"  cell: {{driver: described meter, resource: 'TCPIP::192.0.2.9::7::SOCKET', settings: {words}}}\n"
    rig = load_rig(text=text.replace("\ninstruments:\n", f"\ninstruments:\n{mine}", 1), registry=registry)
    with pytest.raises(DocumentError) as told:
        StrainRig().open(rig, SPOOL / "twin.yaml", 1, ())
    (fault,) = told.value.faults
    assert fault.where == "instruments.cell.settings.quantity"
    assert fault.value == "bridge output"
    assert fault.message == "the twin has no described meter of bridge output"
    assert "temperature, resistance, gauge pressure" in fault.remedy
