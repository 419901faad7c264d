"""A plugin's stand-in reads what the twin's own instrument would read at the same terminals."""

from __future__ import annotations

import math
import re
import socket
from collections.abc import Callable, Iterator, Sequence
from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path

import pytest

from rigproof.documents import load_rig
from rigproof.errors import DocumentError, InstrumentError
from rigproof.instruments import NOT_ASKED, Driver, FloatArray, Identity, Loads, Reads
from rigproof.plugins import Registry
from rigproof.run.opening import Reach, expect_right
from rigproof.run.plan import Plan
from rigproof.simulation import StandIn
from rigproof_twin.clock import VirtualClock
from rigproof_twin.document import READS
from rigproof_twin.instruments.terminals import QUANTITIES
from rigproof_twin.simulator import SimulatedRig, StrainRig
from rigproof_twin.wire import Exchange

SPOOL = Path(__file__).parents[3] / "tests" / "rigs" / "spool"


class Words(StandIn):
    """An input is asked for by its number."""

    message_end, reply_end = b"\r", b"\r\n"

    def answer(self, message: str) -> str | bytes | None:
        return repr(self.reading(int(message))) if message != "0" else None


class AnyMeter(Driver, Reads):
    kind = "any meter"

    @classmethod
    def stand_in(cls) -> type[StandIn] | None:
        return Words

    def open(self) -> Identity:
        raise NotImplementedError("nobody opens it here")

    def close(self) -> None:
        raise NotImplementedError("nobody opens it here")

    def errors(self) -> list[str]:
        raise NotImplementedError("nobody opens it here")

    def read(self, inputs: Sequence[int], count: int, interval_s: float) -> FloatArray:
        raise NotImplementedError("nobody opens it here")


Opened = Callable[..., SimulatedRig]


@pytest.fixture
def opened(registry: Registry) -> Iterator[Opened]:
    """A function: changes (old, new) of the spool's rig.yaml -> its twin, with `any meter` among the drivers."""
    made: list[SimulatedRig] = []

    def make(*changes: tuple[str, str], driver: type[Driver] = AnyMeter) -> SimulatedRig:
        text = (SPOOL / "rig.yaml").read_text("utf-8")
        for old, new in changes:
            assert old in text
            text = text.replace(old, new)
        with_mine = replace(registry, drivers=registry.drivers | {driver.kind: driver})
        rig = StrainRig().open(load_rig(text=text, registry=with_mine), SPOOL / "twin.yaml", 1, ())
        assert isinstance(rig, SimulatedRig)
        made.append(rig)
        return rig

    yield make
    for rig in made:
        rig.close()


def line(rig: SimulatedRig, number: int) -> Exchange:
    """A stream to the instrument at 192.0.2.`number`."""
    return rig.bench.connect(f"TCPIP::192.0.2.{number}::5025::SOCKET", bus=False)


def said(exchange: Exchange, message: str) -> bytes:
    exchange.write(message.encode() + b"\r")
    return exchange.read(1000, ord("\n"), 1.0)[0]


@pytest.mark.parametrize(
    ("kind", "number", "wanted", "within"),
    [
        ("ohmmeter", 12, 350.0, 3.5),
        ("pressure transmitter", 14, 0.0, 2500.0),
        ("thermometer", 15, 20.0, 0.3),
    ],
)
def test_it_reads_what_stands_at_its_terminals(
    opened: Opened, kind: str, number: int, wanted: float, within: float
) -> None:
    """rig.yaml and twin.yaml: 350 Ω, no load, 20 °C; noise and errors are small beside `within`."""
    exchange = line(opened((f"driver: {kind}", "driver: any meter")), number)
    first, second = said(exchange, "1"), said(exchange, "1")
    assert first.endswith(b"\r\n")
    assert first != second  # it has the noise of twin.yaml
    assert float(first) == pytest.approx(wanted, abs=within)
    assert math.isinf(float(said(exchange, "9")))


def test_a_bridge_is_fed_by_whoever_reads_it(opened: Opened) -> None:
    """An output of an unloaded bridge is small, and there: 2000 µε of start offset are about 1 mV/V."""
    rig = opened(("driver: bridge amplifier", "driver: any meter"), ("    settings: {excitation: 2.5 V}\n", ""))
    assert abs(float(said(line(rig, 11), "1"))) < 1e-3


def test_it_may_say_nothing(opened: Opened) -> None:
    exchange = line(opened(("driver: thermometer", "driver: any meter")), 15)
    assert said(exchange, "0") == b""


def test_it_greets_whoever_connects(opened: Opened) -> None:
    class Greeting(Words):
        greeting = b"THERMOMETER READY"

    class Greeter(AnyMeter):
        kind = "greeter"

        @classmethod
        def stand_in(cls) -> type[StandIn]:
            return Greeting

    exchange = line(opened(("driver: thermometer", "driver: greeter"), driver=Greeter), 15)
    assert exchange.read(1000, ord("\n"), 1.0)[0] == b"THERMOMETER READY\r\n"
    assert float(said(exchange, "1")) == pytest.approx(20.0, abs=0.3)


def test_its_defect_has_its_name(opened: Opened) -> None:
    exchange = line(opened(("driver: thermometer", "driver: any meter")), 15)
    with pytest.raises(InstrumentError, match="thermometer: T1: its stand-in Words raised ValueError: invalid literal"):
        said(exchange, "T1")


def test_its_defect_has_its_place_and_what_is_no_reply_is_one(opened: Opened) -> None:
    class Counts(Words):
        def answer(self, message: str) -> str | bytes | None:
            return 5  # type: ignore[return-value]

    class Counter(AnyMeter):
        kind = "counter"

        @classmethod
        def stand_in(cls) -> type[StandIn] | None:
            return Counts

    exchange = line(opened(("driver: thermometer", "driver: counter"), driver=Counter), 15)
    with pytest.raises(InstrumentError, match="5 is no reply: text, bytes, or None for silence"):
        said(exchange, "1")
    exchange = line(opened(("driver: thermometer", "driver: any meter")), 15)
    with pytest.raises(InstrumentError, match=rf"\(at {re.escape(__file__)}:\d+\); a simulated"):
        said(exchange, "T1")


@pytest.mark.network
def test_its_defect_is_one_line_at_a_bench_and_the_others_go_on(
    opened: Opened, capsys: pytest.CaptureFixture[str]
) -> None:
    ports = opened(("driver: thermometer", "driver: any meter")).serve(0).ports
    port = ports["TCPIP::192.0.2.15::5025::SOCKET"]
    for _ in range(2):
        with socket.create_connection(("127.0.0.1", port), timeout=10.0) as asks, asks.makefile("rb") as hears:
            asks.sendall(b"1\r")
            assert float(hears.readline()) == pytest.approx(20.0, abs=0.3)
            asks.sendall(b"T1\r")
            assert hears.readline() == b""  # the line is closed: nobody waits for a reply that will not come
    told = capsys.readouterr().err.splitlines()
    assert len(told) == 2
    assert all(each.startswith("thermometer: T1: its stand-in Words raised ValueError: invalid lit") for each in told)


def test_who_loads_is_refused_at_its_place(opened: Opened) -> None:
    class AnyPump(AnyMeter, Loads):
        kind = "any pump"

    with pytest.raises(DocumentError) as told:
        opened(("driver: pressure source", "driver: any pump"), driver=AnyPump)
    assert "instruments.pump.driver: driver 'any pump' has a stand-in and Loads" in str(told.value)


class Deflected(Words):
    """A pointer that goes 2 mm for every bar."""

    def at_load(self, channel_input: int, load: float) -> float:
        assert channel_input == 1
        return 2e-3 * load / 1e5


class Pointer(AnyMeter):
    kind = "pointer"

    @classmethod
    def stand_in(cls) -> type[StandIn]:
        return Deflected


def pointer(driver: str, measures: str, accuracy: str) -> tuple[tuple[str, str], tuple[str, str]]:
    """Changes of rig.yaml: one more instrument, and what it reads at its only input."""
    return (
        ("\nchannels:\n", f"\nchannels:\n  there: {{measures: {measures}, instrument: mine, input: 1, {accuracy}}}\n"),
        (
            "\ninstruments:\n",
            f"\ninstruments:\n  mine: {{driver: {driver}, resource: 'TCPIP::192.0.2.9::5025::SOCKET'}}\n",
        ),
    )


def test_a_quantity_that_the_twin_does_not_have_is_the_stand_ins_own(opened: Opened) -> None:
    """At 10 bar it stands at 20 mm, within what rig.yaml states; the pressure itself within 0.2 %."""
    rig = opened(*pointer("pointer", "length", "accuracy: {fixed: 0.1 mm}"), driver=Pointer)
    assert float(said(line(rig, 9), "1")) == pytest.approx(0.0, abs=0.1e-3)
    rig.world.source.set_rate(1e5)
    rig.world.source.set_target(10e5)
    rig.world.source.enable(True)
    rig.clock.wait(120.0)
    assert float(said(line(rig, 9), "1")) == pytest.approx(20e-3, abs=0.14e-3)
    assert math.isinf(float(said(line(rig, 9), "2")))


def test_who_does_not_say_it_is_told_how_at_the_channel(opened: Opened) -> None:
    with pytest.raises(DocumentError) as told:
        opened(*pointer("any meter", "length", "accuracy: {fixed: 0.1 mm}"))
    assert "channels.there.measures: the twin has no length, and Words has no `at_load`" in str(told.value)


def test_volume_is_read_as_volume(opened: Opened) -> None:
    """1 L at 10 bar: water 4.6e-10 1/Pa, wall D/(E t)·(5/4 - ν) (closed thin cylinder): 0.46 + 0.22 mL; from memory."""
    rig = opened(
        *pointer("any meter", "volume", "accuracy: {fixed: 1e-6 mL}"),
        ("\n  filling: water\n", "\n  filling: water\n  volume: 1 L\n"),
    )
    assert float(said(line(rig, 9), "1")) == pytest.approx(0.0, abs=1e-11)
    rig.world.source.set_rate(1e5)
    rig.world.source.set_target(10e5)
    rig.world.source.enable(True)
    rig.clock.wait(120.0)
    assert float(said(line(rig, 9), "1")) == pytest.approx(0.68e-6, rel=0.05)


def test_every_quantity_of_the_twin_has_its_terminals() -> None:
    assert set(QUANTITIES) == set(READS.values())


def test_a_driver_without_one_is_told_of_it(opened: Opened) -> None:
    class Alone(AnyMeter):
        kind = "alone"

        @classmethod
        def stand_in(cls) -> None:
            return None

    with pytest.raises(DocumentError, match="the twin has no instrument for the driver 'alone'") as told:
        opened(("driver: thermometer", "driver: alone"), driver=Alone)
    assert "or let the driver name a `stand_in`" in told.value.faults[0].remedy


@pytest.mark.parametrize(("firmware", "right"), [("simulated", True), ("2.1", False), ("", True), (NOT_ASKED, True)])
def test_it_must_not_look_like_the_instrument_itself(spool: Plan, firmware: str, right: bool) -> None:
    instrument = spool.rig.instruments["thermometer"].model_copy(update={"driver": AnyMeter})
    identity = Identity("Test bay", "thermometer", "T-0031", firmware)
    told = (
        nullcontext() if right else pytest.raises(InstrumentError, match=r"its stand-in answers with firmware='2\.1'")
    )
    with told:
        expect_right(instrument, identity, Reach(VirtualClock(), simulated=True))
