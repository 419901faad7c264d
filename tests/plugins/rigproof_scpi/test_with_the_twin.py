"""The same drivers against simulated instruments: over the in-process VISA library, and over TCP through pyvisa-py."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pytest

from rigproof.errors import InstrumentError
from rigproof.instruments import Connection, Driver, Settings
from rigproof_scpi import plugin
from rigproof_scpi.bridge_amplifier import BridgeAmplifier, BridgeSettings
from rigproof_scpi.described import Described
from rigproof_scpi.driver import Meter
from rigproof_scpi.insulation_tester import InsulationTester
from rigproof_scpi.ohmmeter import Ohmmeter
from rigproof_scpi.pressure_source import PressureSource
from rigproof_scpi.pressure_transmitter import PressureTransmitter
from rigproof_scpi.thermometer import Thermometer
from rigproof_twin import registry
from rigproof_twin.instruments import build
from rigproof_twin.interface import Appearance
from rigproof_twin.serve import Server
from rigproof_twin.still import StillWorld

DRIVERS = [driver for driver in plugin.rigproof_drivers() if not issubclass(driver, Described)]  # those have maps
SOCKETS = {driver.kind: f"TCPIP::192.0.2.{11 + number}::5025::SOCKET" for number, driver in enumerate(DRIVERS)}
BUSES = {driver.kind: f"GPIB::{1 + number}::INSTR" for number, driver in enumerate(DRIVERS)}


@dataclass
class Twin:
    """A still world with one instrument of each kind, and the drivers' way to it."""

    world: StillWorld
    bench: registry.Bench
    library: str
    resources: dict[str, str]

    def connection(self, kind: str, timeout_s: float = 2.0) -> Connection:
        return Connection(kind, self.resources[kind], self.library, timeout_s, self.world.clock)

    def bridge(self) -> BridgeAmplifier:
        driver = BridgeAmplifier(self.connection("bridge amplifier"), BridgeSettings(excitation="5 V"))
        driver.open()
        return driver

    def pump(self) -> PressureSource:
        driver = PressureSource(self.connection("pressure source"), Settings())
        driver.open()
        return driver

    def meter(self, driver: type[Meter]) -> Meter:
        meter = driver(self.connection(driver.kind), Settings())
        meter.open()
        return meter


@pytest.fixture(params=["socket", "bus"])
def twin(request: pytest.FixtureRequest) -> Iterator[Twin]:
    world, resources = StillWorld(), SOCKETS if request.param == "socket" else BUSES
    look = Appearance("Test bay", "simulated", "X-1", "1.0", latency_s=0.005)
    rng = np.random.default_rng(1)
    bench = registry.Bench(world.clock, {where: build(kind, world, look, rng) for kind, where in resources.items()})
    token = registry.add(bench)
    yield Twin(world, bench, f"{token}@rigproof", resources)
    registry.remove(token)


@pytest.mark.parametrize("driver", DRIVERS, ids=lambda driver: driver.kind)
def test_every_driver_opens_closes_and_opens_again(twin: Twin, driver: type[Driver]) -> None:
    settings = BridgeSettings(excitation="5 V") if driver is BridgeAmplifier else Settings()
    one = driver(twin.connection(driver.kind), settings)
    for _ in range(2):
        assert one.open().serial_number == "X-1"
        assert one.errors() == []
        one.close()


def test_meters_side_by_side_on_one_library(twin: Twin) -> None:
    ohmmeter, thermometer, transmitter = map(twin.meter, (Ohmmeter, Thermometer, PressureTransmitter))
    assert ohmmeter.read([1, 3, 2], 2, 0.1).tolist() == [[350.0, 107.79, 350.5]] * 2
    ohmmeter.close()
    assert thermometer.read([1], 1, 0.0).tolist() == [[20.0]]
    assert transmitter.read([1], 1, 0.0).tolist() == [[0.0]]
    assert np.isnan(thermometer.read([2], 1, 0.0)).all()  # nothing is wired to it


def test_readings_keep_their_interval_on_the_twins_clock(twin: Twin) -> None:
    thermometer, before = twin.meter(Thermometer), twin.world.clock.now()
    thermometer.read([1], 10, 0.2)
    assert twin.world.clock.now() - before == pytest.approx(2.0, abs=0.01)


def test_scans(twin: Twin) -> None:
    bridge = twin.bridge()
    readings = bridge.read([2, 1], 100, 0.02)
    assert readings.shape == (100, 2)
    np.testing.assert_array_equal(readings, [[-3.5e-5, 1.25e-4]] * 100)
    assert {k: v for k, v in twin.world.excitation_v.items() if k in {1, 2}} == {1: 5.0, 2: 5.0}
    assert bridge.excitation_v(1) == 5.0


def test_a_scan_of_ten_minutes_outlasts_the_timeout(twin: Twin) -> None:
    bridge, before = twin.bridge(), twin.world.clock.now()
    bridge.read([1], 600, 1.0)
    assert twin.world.clock.now() - before == pytest.approx(600.0, abs=0.1)


def test_a_single_look_is_quick_even_after_a_slow_scan(twin: Twin) -> None:
    bridge = twin.bridge()
    bridge.read([1], 2, 10.0)
    before = twin.world.clock.now()
    bridge.read([1], 1, 0.0)
    assert twin.world.clock.now() - before < 0.05


def test_shunt(twin: Twin) -> None:
    bridge = twin.bridge()
    bridge.shunt(1, True)
    np.testing.assert_allclose(bridge.read([1, 2], 1, 0.0), [[1.25e-4 - 5e-4, -3.5e-5]])
    bridge.shunt(1, False)
    np.testing.assert_allclose(bridge.read([1, 2], 1, 0.0), [[1.25e-4, -3.5e-5]])


def test_a_shunt_left_closed_is_opened_at_first_use(twin: Twin) -> None:
    first = twin.bridge()
    first.shunt(1, True)
    first.close()
    np.testing.assert_allclose(twin.bridge().read([1], 1, 0.0), [[1.25e-4]])


@pytest.mark.parametrize("inputs", [[5], [1, 1]])
def test_inputs_that_the_amplifier_refuses(twin: Twin, inputs: list[int]) -> None:
    with pytest.raises(InstrumentError, match=r"SOUR:VOLT 5,\(@.*: its error queue then held -22[24]"):
        twin.bridge().read(inputs, 1, 0.0)


def test_insulation(twin: Twin) -> None:
    tester = InsulationTester(twin.connection("insulation tester"), Settings())
    tester.open()
    before = twin.world.clock.now()
    assert [tester.insulation_ohm(number, 50.0, 10.0) for number in (1, 2, 3)] == [2e10, 5e7, math.inf]
    assert twin.world.clock.now() - before == pytest.approx(30.0, abs=0.5)
    assert tester.errors() == []


def test_pressure_source(twin: Twin) -> None:
    pump, transmitter, source = twin.pump(), twin.meter(PressureTransmitter), twin.world.source
    source.busy = True
    pump.rise_to(35.75e5, 0.5e5)
    assert (source.enabled, source.target_pa, source.rate_pa_per_s) == (True, 35.75e5, 0.5e5)
    assert not pump.settled()
    source.busy = False
    assert pump.settled()
    assert transmitter.read([1], 1, 0.0).tolist() == [[35.75e5]]
    for isolated in (True, False):
        pump.isolate(isolated)
        assert source.connected is not isolated
    assert not pump.is_safe()
    pump.go_safe()
    assert pump.is_safe()
    assert not source.enabled


def test_a_rate_beyond_the_source(twin: Twin) -> None:
    pump = twin.pump()
    with pytest.raises(InstrumentError, match=r"SOUR:PRES:SLEW 2000000: .*-222"):
        pump.rise_to(1e5, 2e6)
    assert not twin.world.source.enabled


@pytest.mark.parametrize("how", ["slow", "dead for a while"])
def test_a_reply_that_comes_too_late_is_never_taken_for_another(twin: Twin, how: str) -> None:
    """The pump's late answer `0` (valve shut) would be a false "output off"."""
    pump, instrument = twin.pump(), twin.bench.instruments[twin.resources["pressure source"]]
    pump.rise_to(1e5, 1e5)
    if how == "slow":
        quick, instrument.appearance = instrument.appearance, Appearance("Test bay", "x", "X-1", "1.0", latency_s=3.0)
    else:
        instrument.alive = False
    with pytest.raises(InstrumentError, match=r"VI_ERROR_TMO .*completed, simulated: [^;]+; an instrument must answer"):
        pump.isolate(True)
    if how == "slow":
        instrument.appearance = quick
    else:
        instrument.alive = True
    assert pump.is_safe() is False
    pump.go_safe()
    assert pump.is_safe() is True
    assert not twin.world.source.enabled


def test_a_stranger_at_the_pressure_source_leaves_a_reply_unread(twin: Twin) -> None:
    """On a bus the next message meets it (-410): the safe state is reached all the same."""
    import pyvisa

    pump = twin.pump()
    pump.rise_to(1e5, 1e5)
    stranger = pyvisa.ResourceManager(twin.library).open_resource(twin.resources["pressure source"])
    stranger.write("ROUT:CLOS? (@1)")  # type: ignore[attr-defined]
    pump.go_safe()
    assert pump.is_safe()
    stranger.close()


@pytest.mark.network
def test_over_tcp(twin: Twin) -> None:
    server = Server(twin.bench)
    try:
        served = {kind: f"TCPIP::127.0.0.1::{server.ports[where]}::SOCKET" for kind, where in twin.resources.items()}
        over_tcp = Twin(twin.world, twin.bench, "@py", served)
        bridge, pump = over_tcp.bridge(), over_tcp.pump()
        np.testing.assert_array_equal(bridge.read([1, 2], 50, 0.001), [[1.25e-4, -3.5e-5]] * 50)
        pump.rise_to(1e5, 1e5)
        pump.go_safe()
        assert pump.is_safe()
        bridge.close()
        pump.close()
    finally:
        server.close()
