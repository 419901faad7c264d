"""The twin's force cell: its bridge against the textbook laws, its body, its press, and what it refuses."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from math import pi, radians, sqrt

import numpy as np
import pytest

from rigproof.documents import load_rig
from rigproof.errors import DocumentError, NumberError, UsageError
from rigproof.plugins import Registry
from rigproof_twin.as_built import AsBuilt, Cell
from rigproof_twin.clock import VirtualClock
from rigproof_twin.document import read_twin
from rigproof_twin.draw import Streams
from rigproof_twin.force_cell import CellAtWork
from rigproof_twin.physics.full_bridge import FullBridge, between_supplies
from rigproof_twin.physics.press import Press
from rigproof_twin.survey import survey
from rigproof_twin.world import RigWorld, Terminals

from .conftest import FORCE_CELL
from .planted import flaw

Build = Callable[..., AsBuilt]
R, GF, NU = 350.0, 2.0, 0.29


def bridge(strain: float = 0.0, lead: float = 0.1, shunt_s: float = 0.0, sensed: bool = True) -> float:
    x = GF * strain
    arms = R * np.array([[1 + x, 1 - NU * x, 1 + x, 1 - NU * x]])
    return float(
        FullBridge(arms, np.array([lead]), np.array([lead]), np.array([lead]), 0.0, shunt_s, sensed).output()[0]
    )


@pytest.mark.parametrize("strain", [1e-4, 1500e-6, -1500e-6])
def test_along_and_across_is_the_exact_law(strain: float) -> None:
    """r = (k(1+nu)/2)/(1 + k(1-nu)/2), k = GF e (trade.md 2.1, against a nodal solution there)."""
    k = GF * strain
    assert bridge(strain) == pytest.approx(k * (1 + NU) / 2 / (1 + k * (1 - NU) / 2), abs=2e-11)


def test_six_wires_sense_what_four_lose() -> None:
    """Without sense the gain is Rb/(Rb + 2 RL) (trade.md 2.3); Rb at this strain is R (1 + k (1 - nu)/2)."""
    whole = bridge(1500e-6)
    assert bridge(1500e-6, lead=2.0) == pytest.approx(whole, abs=2e-11)
    loaded = R * (1 + GF * 1500e-6 * (1 - NU) / 2)
    assert bridge(1500e-6, lead=2.0, sensed=False) == pytest.approx(whole * loaded / (loaded + 4.0), abs=2e-11)


def test_a_shunt_across_arm_1_lowers_the_output() -> None:
    """r = -R/(4 Rc + 2 R) (trade.md 2.4)."""
    assert bridge(shunt_s=1 / 100e3, lead=1e-3) == pytest.approx(-R / (4 * 100e3 + 2 * R), rel=2e-5)


def test_an_ohmmeter_finds_the_bridge() -> None:
    assert between_supplies(np.array([[1.0, 2.0, 3.0, 4.0]])) == pytest.approx([3 * 7 / 10])


def test_an_open_gauge_gives_nothing(build_cell: Build) -> None:
    built = build_cell()
    built.gauges["bridge"].opens_at_s = 0.0
    assert np.isnan(output(RigWorld(VirtualClock(), built)))


def output(world: RigWorld) -> float:
    at = amplifier(world)
    return float(at.bridge_output([1], np.array([world.clock.now()]))[0, 0])


def amplifier(world: RigWorld) -> Terminals:
    at = world.at_terminals("amplifier")
    at.set_excitation(1, 5.0)
    return at


def go(world: RigWorld, newton: float, wait_s: float = 60.0) -> None:
    world.press.set_rate(5e3)
    world.press.set_target(newton)
    world.press.enable(True)
    world.clock.wait(abs(newton - world.press.force_n()) / 5e3 + wait_s)


def part(built: AsBuilt) -> Cell:
    assert isinstance(built.part, Cell)
    return built.part


@pytest.mark.parametrize("seed", range(3))
def test_the_column_is_fitted_to_the_true_rated_output(build_cell: Build, seed: int) -> None:
    built = build_cell(seed)
    cell = part(built)
    assert 2e-3 * 0.999 <= cell.rated_output <= 2e-3 * 1.001
    work = CellAtWork(replace(cell, eccentricity_m=0.0), built.gauges["bridge"])
    assert work.output_at(100e3) - work.output_at(0.0) == pytest.approx(cell.rated_output, rel=1e-9)
    stress = 100e3 / (pi * cell.diameter_m**2 / 4)
    assert stress < cell.yield_strength_pa / 1.5  # the safe load limit of rig.yaml is 1.5 times the rated load


def test_an_eccentric_force_bends_by_its_place_in_the_section(build_cell: Build) -> None:
    """A round section under a force d beside its axis: 1 ± 8 d/D of the strain at the skin (kernel of D/8, statics)."""
    column = replace(part(build_cell()), eccentricity_m=1e-3, towards_rad=0.0).build()
    high, low = (column.response(arm, 0.0).along_per_load for arm in (0, 2))
    assert (high - low) / (high + low) == pytest.approx(8e-3 / column.diameter_m, rel=1e-9)
    quarter = column.response(0, radians(90)).along_per_load
    assert quarter == pytest.approx((high + low) / 2, rel=1e-9)


def test_the_position_shows_only_where_the_force_is_eccentric(build_cell: Build) -> None:
    def spread(built: AsBuilt) -> float:
        world = RigWorld(VirtualClock(), built)
        go(world, 50e3)
        shown = []
        for angle in (0.0, 120.0, 240.0):
            world.rotate_to(radians(angle))
            shown.append(output(world))
        return float(np.ptp(shown) / 1e-3)

    assert spread(build_cell(0)) < 3e-4
    assert spread(build_cell(0, flaw("eccentric-load", "0 mm"))) < 1e-12
    assert spread(build_cell(0, flaw("eccentric-load"))) > 2e-3


@pytest.mark.parametrize("share", [0.002, 0.01])
def test_the_loop_is_as_wide_as_told_at_half_load_and_closed_at_its_ends(build_cell: Build, share: float) -> None:
    built = build_cell()
    built.gauges["bridge"].give = 0.0
    part(built).hysteresis = share
    world = RigWorld(VirtualClock(), built)
    go(world, 100e3)
    go(world, 0.0)
    seen = []
    for newton in (0.0, 50e3, 100e3, 50e3, 0.0):
        go(world, newton)
        seen.append(output(world) - 0.0)
    width = (seen[3] - seen[1]) / (seen[2] - seen[0])
    assert width == pytest.approx(share, rel=5e-3)  # of a span that is bent by a thousandth
    assert seen[4] - seen[0] == pytest.approx(0.0, abs=1e-7)


def test_the_press_goes_straight_and_stays_a_little_past_for_a_while() -> None:
    clock = VirtualClock()
    press = Press(clock, 2.0, 0.01, 1.0)
    press.set_rate(1e3)
    press.set_target(10e3)
    assert not press.settling()
    press.enable(True)
    clock.wait(5.0)
    assert press.force_n() == pytest.approx(5e3)
    assert press.settling()
    clock.wait(5.1)
    assert press.force_n() == pytest.approx(10.1e3)
    assert press.kinks(0.0, 20.0) == pytest.approx([10.1])
    clock.wait(60.0)
    assert press.force_n() == pytest.approx(10e3, abs=1e-3)
    assert not press.settling()
    press.enable(False)
    clock.wait(1.0)
    assert press.force_n() == pytest.approx(10e3 / math.e, rel=1e-6)
    with pytest.raises(NumberError, match="pushes one way"):
        press.set_target(-1.0)
    with pytest.raises(NumberError, match="above 0"):
        press.set_rate(0.0)


def test_where_the_instruments_stand(build_cell: Build) -> None:
    world = RigWorld(VirtualClock(), build_cell())
    go(world, 20e3)
    assert world.at_terminals("reference").force_n() == pytest.approx(20e3, abs=1.0)
    assert world.at_terminals("ohmmeter").resistance_ohm(1) == pytest.approx(350.0, rel=6e-3)
    before = output(world)
    at = amplifier(world)
    at.close_shunt(1, True)
    shunted = float(at.bridge_output([1], np.array([world.clock.now()]))[0, 0])
    assert shunted - before == pytest.approx(-R / (4 * 174.8e3 + 2 * R), rel=0.01)


@pytest.mark.parametrize(
    ("written", "instead", "message"),
    [
        (
            "model: full bridge, arrangement: bending, wires: 6",
            "model: quarter bridge, wires: 3",
            "no quarter bridge on a",
        ),
        (
            "safe: {send: [",
            'isolate: {send: LOCK, send back: FREE, ask: "LOCK?", is: "1", is not: "0"}\n      safe: {send: [',
            "the twin's press has no valve",
        ),
    ],
)
def test_what_it_has_no_physics_for(registry: Registry, written: str, instead: str, message: str) -> None:
    text = (FORCE_CELL / "rig.yaml").read_text("utf-8")
    assert written in text
    rig = load_rig(text=text.replace(written, instead), registry=registry)
    twin = read_twin(FORCE_CELL / "twin.yaml", rig)
    with pytest.raises(DocumentError, match=message):
        survey(rig, twin, Streams(0))


@pytest.mark.parametrize("name", ["eccentric-load", "hysteretic-body"])
def test_flaws_of_a_cell_need_one(build: Build, name: str) -> None:
    with pytest.raises(UsageError, match=f"flaw {name}: the part of the rig is no force cell"):
        build(0, flaw(name))


def test_no_two_gauges_along_are_quite_alike(build_cell: Build) -> None:
    for seed in range(5):
        first, _, third, _ = part(build_cell(seed)).unlike
        assert 0.0015 <= abs(first) <= 0.003
        assert first == -third


def test_bending_has_the_kernel_of_a_round_section(build_cell: Build) -> None:
    """At d = D/8 the far skin carries nothing (statics)."""
    cell = part(build_cell())
    column = replace(cell, eccentricity_m=cell.diameter_m / 8, towards_rad=0.0).build()
    assert column.response(2, 0.0).along_per_load == pytest.approx(0.0, abs=1e-9 * column.strain_per_n)
    assert cell.diameter_m == pytest.approx(
        2 * sqrt(100e3 / (column.strain_per_n * 100e3 * cell.elastic_modulus_pa * pi))
    )
