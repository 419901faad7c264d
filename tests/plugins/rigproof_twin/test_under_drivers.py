"""The drivers of the rig over the simulated instruments, in process and over TCP: both ends speak the same messages."""

from __future__ import annotations

import math
import socket
from collections.abc import Callable, Iterator
from typing import TypeVar

import numpy as np
import pytest

from rigproof.errors import InstrumentError
from rigproof.instruments import Connection, Identity, Settings
from rigproof_scpi.bridge_amplifier import BridgeAmplifier
from rigproof_scpi.driver import ScpiDriver
from rigproof_scpi.insulation_tester import InsulationTester
from rigproof_scpi.ohmmeter import Ohmmeter
from rigproof_scpi.pressure_source import PressureSource
from rigproof_scpi.pressure_transmitter import PressureTransmitter
from rigproof_scpi.thermometer import Thermometer
from rigproof_twin.instruments import KINDS, build
from rigproof_twin.interface import Appearance
from rigproof_twin.registry import Bench, add, remove
from rigproof_twin.serve import HOST, Server
from rigproof_twin.still import StillWorld

NAMES = {kind: f"TCPIP::192.0.2.{11 + number}::5025::SOCKET" for number, kind in enumerate(KINDS)}
D = TypeVar("D", bound=ScpiDriver)


class Rig:
    """All kinds of simulated instruments, and the drivers opened on them."""

    def __init__(self, world: StillWorld, bench: Bench, where: Callable[[str], tuple[str, str]]) -> None:
        self.world = world
        self.bench = bench
        self._where = where  # resource name and VISA library of a kind
        self.opened: list[ScpiDriver] = []

    def open(self, driver: type[D], **settings: str) -> D:
        resource, library = self._where(driver.kind)
        connection = Connection(driver.kind, resource, library, 2.0, self.world.clock)
        made = driver(connection, driver.settings_model.model_validate(settings) if settings else Settings())
        assert made.open() == Identity("Test bay", driver.kind, "1", "1.0")
        self.opened.append(made)
        return made


@pytest.fixture(params=["in process", pytest.param("over TCP", marks=pytest.mark.network)])
def rig(request: pytest.FixtureRequest) -> Iterator[Rig]:
    world = StillWorld()
    looks = {kind: Appearance("Test bay", kind, "1", "1.0", latency_s=0.002, upper=1e12) for kind in NAMES}
    instruments = {name: build(k, world, looks[k], np.random.default_rng(1)) for k, name in NAMES.items()}
    bench = Bench(world.clock, instruments)
    token, server = add(bench), Server(bench)
    with socket.create_connection((HOST, server.clock_port)) as control:
        control.sendall(b"now?\n")
        control.recv(100)  # from now on time is steered
        rig = Rig(
            world,
            bench,
            (lambda kind: (NAMES[kind], f"{token}@rigproof"))
            if request.param == "in process"
            else (lambda kind: (f"TCPIP::{HOST}::{server.ports[NAMES[kind]]}::SOCKET", "@py")),
        )
        yield rig
        for driver in rig.opened:
            assert driver.errors() == []
            driver.close()
    server.close()
    remove(token)


def test_bridge_amplifier(rig: Rig) -> None:
    amplifier = rig.open(BridgeAmplifier, excitation="5 V")
    started_s = rig.world.clock.now()
    readings = amplifier.read([1, 2, 4], 50, 0.1)
    assert rig.world.clock.now() - started_s == pytest.approx(5.0, abs=0.1)
    assert readings[:, :2].tolist() == [[1.25e-4, -3.5e-5]] * 50
    assert np.isnan(readings[:, 2]).all()
    assert amplifier.excitation_v(1) == rig.world.excitation_v[1] == 5.0
    amplifier.shunt(1, True)
    assert rig.world.shunted == {1}
    assert amplifier.read([1], 1, 0.0)[0, 0] == pytest.approx(1.25e-4 - 5e-4)
    amplifier.shunt(1, False)
    assert rig.world.shunted == set()


def test_ohmmeter_thermometer_and_transmitter(rig: Rig) -> None:
    rig.world.source.enabled, rig.world.source.target_pa = True, 2.5e6
    assert rig.open(Ohmmeter).read([1, 3], 2, 0.5).tolist() == [[350.0, 107.79]] * 2
    assert math.isnan(rig.open(Ohmmeter).read([4], 1, 0.0)[0, 0])
    assert rig.open(Thermometer).read([1], 1, 0.0).tolist() == [[20.0]]
    assert rig.open(PressureTransmitter).read([1], 1, 0.0).tolist() == [[2.5e6]]


def test_insulation_tester(rig: Rig) -> None:
    tester = rig.open(InsulationTester)
    assert tester.insulation_ohm(1, 50.0, 15.0) == 2e10
    assert rig.world.clock.now() > 15.0
    rig.world.insulations_ohm[2] = 1e15
    assert tester.insulation_ohm(2, -50.0, 1.0) == math.inf


def test_pressure_source(rig: Rig) -> None:
    pump = rig.open(PressureSource)
    assert pump.is_safe()
    rig.world.source.busy = True
    pump.rise_to(2.5e6, 5e4)
    assert (rig.world.source.target_pa, rig.world.source.rate_pa_per_s) == (2.5e6, 5e4)
    assert not pump.settled()
    rig.world.source.busy = False
    assert pump.settled()
    pump.isolate(True)
    assert not rig.world.source.connected
    pump.isolate(False)
    pump.go_safe()
    assert pump.is_safe()
    assert not rig.world.source.enabled


def test_a_setting_out_of_range_comes_out_as_an_error_of_the_instrument(rig: Rig) -> None:
    pump = rig.open(PressureSource)
    with pytest.raises(InstrumentError, match=r"-222,.Data out of range"):
        pump.rise_to(2.5e6, 1e9)
    assert rig.world.source.target_pa == 0.0
