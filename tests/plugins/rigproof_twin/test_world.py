"""What the instruments find at their terminals, against textbook figures for the drawn truth."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from rigproof_twin.as_built import AsBuilt, Pipe
from rigproof_twin.clock import VirtualClock
from rigproof_twin.world import RigWorld, Terminals

BAR = 1e5


def now(world: RigWorld) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return np.array([world.clock.now()])


def bridge(world: RigWorld) -> Terminals:
    terminals = world.at_terminals("bridge")
    for i in (1, 2):
        terminals.set_excitation(i, 2.5)
    return terminals


def raise_to(world: RigWorld, pa: float) -> None:
    world.source.set_rate(0.5 * BAR)
    world.source.set_target(pa)
    world.source.enable(True)
    world.clock.wait(pa / (0.5 * BAR) + 60.0)


def strain(world: RigWorld, output: float, zero: float, name: str) -> float:
    """Quarter bridge, three wires: exact inverse and gain Rg/(Rg + RL) (textbook, from memory)."""
    gauge = world.built.gauges[name]
    change = (output - zero) / ((0.5 - output) * (0.5 + zero))
    return change * (gauge.packet_ohm + gauge.near_ohm) / gauge.packet_ohm / gauge.gauge_factor


@pytest.mark.parametrize(("channel_input", "name"), [(1, "hoop"), (2, "axial")])
def test_strain_under_pressure_is_that_of_the_textbook(world: RigWorld, channel_input: int, name: str) -> None:
    """Lamé outside, closed (from memory), transverse sensitivity to first order; the rest is the bond's creep."""
    terminals = bridge(world)
    zero = terminals.bridge_output([channel_input], now(world))[0, 0]
    raise_to(world, 25 * BAR)
    shown = strain(world, terminals.bridge_output([channel_input], now(world))[0, 0], zero, name)
    part, gauge = world.built.part, world.built.gauges[name]
    assert isinstance(part, Pipe)
    nu, b = part.poisson_ratio, part.outside_diameter_m / 2
    unit = 25 * BAR / (part.elastic_modulus_pa * ((b / (b - part.wall_m)) ** 2 - 1))
    hoop, axial = unit * (2 - nu), unit * (1 - 2 * nu)
    along, across = (hoop, axial) if name == "hoop" else (axial, hoop)
    kt = gauge.transverse_sensitivity
    expected = (along + kt * across) / (1 - 0.285 * kt)
    assert shown == pytest.approx(expected, rel=1.5e-3)
    assert shown < expected * (1 + 1e-5)


def test_a_shunt_lowers_the_output_of_its_own_input_only(world: RigWorld) -> None:
    terminals = bridge(world)
    before = terminals.bridge_output([1, 2], now(world))[0]
    terminals.close_shunt(1, True)
    after = terminals.bridge_output([1, 2], now(world))[0]
    terminals.close_shunt(1, False)
    gauge, port = world.built.gauges["hoop"], world.built.bridges["bridge", 1]
    gauge_ohm = world.at_terminals("ohmmeter").resistance_ohm(1)
    # Thevenin seen between signal and earthed excitation terminal: R1 R2/(R1 + R2) + third wire (from memory).
    arms = gauge_ohm + gauge.near_ohm, port.completion_ohm + gauge.far_ohm
    source = arms[0] * arms[1] / sum(arms) + gauge.signal_ohm
    assert after[0] - before[0] == pytest.approx(-(0.5 + before[0]) * source / (source + port.shunt_ohm), rel=2e-5)
    assert after[1] == before[1]
    assert np.array_equal(terminals.bridge_output([1, 2], now(world))[0], before)


def test_inputs_come_in_the_order_asked_for(world: RigWorld) -> None:
    terminals = bridge(world)
    times = world.clock.now() + np.array([0.0, 0.1, 0.2])
    both = terminals.bridge_output([1, 2], times)
    assert both.shape == (3, 2)
    assert np.array_equal(terminals.bridge_output([2, 1], times), both[:, ::-1])
    assert np.isnan(terminals.bridge_output([3, 1], times)[:, 0]).all()
    assert np.array_equal(terminals.bridge_output([3, 1], times)[:, 1], both[:, 0])


def test_a_bridge_that_is_not_fed_gives_nothing(world: RigWorld) -> None:
    assert np.isnan(world.at_terminals("bridge").bridge_output([1], now(world))).all()


def test_the_ohmmeter_sees_gauge_and_sensor(world: RigWorld) -> None:
    terminals = world.at_terminals("ohmmeter")
    gauge = world.built.gauges["axial"]
    bonded = gauge.packet_ohm * (1 + gauge.gauge_factor * gauge.bonding_strain)
    assert terminals.resistance_ohm(2) == pytest.approx(bonded, rel=1e-5)
    assert terminals.resistance_ohm(3) == pytest.approx(107.79, abs=0.02)  # IEC 60751 at 20 °C (from memory)
    assert np.isnan(terminals.resistance_ohm(4))


def test_insulation_temperature_and_pressure(world: RigWorld) -> None:
    assert 20e9 <= world.at_terminals("insulation tester").insulation_ohm(1, 50.0) <= 40e9
    assert world.at_terminals("insulation tester").insulation_ohm(1, -50.0) > 20e9
    assert np.isnan(world.at_terminals("insulation tester").insulation_ohm(3, 50.0))
    assert world.at_terminals("thermometer").temperature_c(1) == pytest.approx(20.0, abs=0.021)
    assert np.isnan(world.at_terminals("thermometer").temperature_c(2))
    raise_to(world, 10 * BAR)
    assert world.at_terminals("transmitter").pressure_pa() == pytest.approx(10 * BAR, rel=1e-6)


def test_instruments_see_their_own_inputs_only(world: RigWorld) -> None:
    assert np.isnan(world.at_terminals("transmitter").resistance_ohm(1))
    assert np.isnan(world.at_terminals("ohmmeter").insulation_ohm(1, 50.0))


def test_thermal_output_follows_the_mismatch(build: Callable[..., AsBuilt]) -> None:
    """(a_part - a_gauge) dT, 10 K above the reference, the leads left cold."""
    shown = []
    for celsius in (20.0, 30.0):
        built = build(0)
        built.course = replace(built.course, start_c=celsius, swing_k=0.0)
        built.gauges["hoop"].lead_per_k = 0.0
        world = RigWorld(VirtualClock(), built)
        shown.append(bridge(world).bridge_output([1], now(world))[0, 0])
    mismatch = built.part.expansion_per_k - built.gauges["hoop"].compensated_for_per_k  # type: ignore[operator]
    transverse = built.gauges["hoop"].transverse_sensitivity * 1.3  # both directions grow
    assert strain(world, shown[1], shown[0], "hoop") == pytest.approx(10 * mismatch * (1 + transverse), rel=3e-3)


def test_what_lies_ahead_comes_true_if_nobody_intervenes(world: RigWorld) -> None:
    terminals = bridge(world)
    raise_to(world, 25 * BAR)
    world.source.set_target(0.0)
    ahead = terminals.bridge_output([1, 2], world.clock.now() + np.array([0.0, 20.0, 77.7]))
    world.clock.wait(77.7)
    assert terminals.bridge_output([1, 2], now(world))[0] == pytest.approx(ahead[2], rel=1e-12)


def test_a_command_after_looking_ahead_still_counts(world: RigWorld) -> None:
    terminals = bridge(world)
    raise_to(world, 25 * BAR)
    terminals.bridge_output([1], world.clock.now() + np.array([600.0]))
    world.source.enable(False)
    world.clock.wait(30.0)
    assert world.at_terminals("transmitter").pressure_pa() == pytest.approx(0.0, abs=1.0)
