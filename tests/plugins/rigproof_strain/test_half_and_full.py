from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from rigproof_strain import transverse
from rigproof_strain.arms import ArmsBridge
from rigproof_strain.full import FullBridge
from rigproof_strain.half import HalfBridge

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from rigproof.documents.rig import Gauge

    Resistors = list[tuple[str, str, float]]
    Solve = Callable[[Resistors, dict[str, float]], dict[str, float]]

GF, NU, RG = 2.08, 0.29, 350.0
ARRANGEMENTS = ("bending", "along and across")


def half(arrangement: str, **more: str) -> HalfBridge:
    poisson = {"poisson ratio": "0.29 ± 0.01"} if arrangement == "along and across" else {}
    return HalfBridge.model_validate({"arrangement": arrangement, "lead": "0.8 Ω ± 10 %"} | poisson | more)


def full(arrangement: str, wires: int = 4, **more: str) -> FullBridge:
    poisson = {"poisson ratio": "0.29 ± 0.01"} if arrangement == "along and across" else {}
    keys = {"arrangement": arrangement, "wires": str(wires), "lead": "0.8 Ω ± 10 %"}
    return FullBridge.model_validate(keys | poisson | more)


def values(model: ArmsBridge, lead: float, kt: float = 0.004) -> list[float]:
    return [RG, GF, kt, lead] + ([] if model.poisson_ratio is None else [NU])


def second(arrangement: str, strain: float) -> float:
    return -strain if arrangement == "bending" else -NU * strain


def half_circuit(r1: float, r2: float, lead: float, shunt: float = 0.0) -> Resistors:
    """Gauges r1, r2, each with a lead to its excitation terminal, a lead from between them to the signal terminal."""
    arms = [("top", "a", lead), ("a", "mid", r1), ("mid", "b", r2), ("b", "bottom", lead), ("mid", "signal", lead)]
    own = [("top", "other", 500.0), ("other", "bottom", 500.0)]
    return arms + own + ([("top", "signal", shunt)] if shunt else [])


def full_circuit(arms: Sequence[float], lead: float, shunt: float = 0.0) -> Resistors:
    """Arms 1, 2 on one side, 4, 3 on the other, and a lead from each corner to its terminal."""
    r1, r2, r3, r4 = arms
    bridge = [("p", "s", r1), ("s", "n", r2), ("o", "n", r3), ("p", "o", r4)]
    leads = [("top", "p", lead), ("n", "bottom", lead), ("s", "signal", lead), ("o", "other", lead)]
    return bridge + leads + ([("top", "signal", shunt)] if shunt else [])


def output(solve: Solve, resistors: Resistors, corners: tuple[str, str] = ("top", "bottom")) -> float:
    volt = solve(resistors, {"top": 1.0, "bottom": 0.0})
    return (volt["other"] - volt["signal"]) / (volt[corners[0]] - volt[corners[1]])


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
@pytest.mark.parametrize("strain", [-3000e-6, 10e-6, 1000e-6, 5000e-6])
@pytest.mark.parametrize("lead", [0.1, 5.0])
def test_half_bridge_strain_is_exact_against_the_node_equations(
    solve: Solve, arrangement: str, strain: float, lead: float
) -> None:
    model = half(arrangement)
    arms = RG * (1 + GF * strain), RG * (1 + GF * second(arrangement, strain))
    found = model.reduce(output(solve, half_circuit(*arms, lead)), 0.0, *values(model, lead))
    assert found == pytest.approx(strain, rel=1e-9, abs=3e-12)


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_half_bridge_takes_a_start_unbalance_out(solve: Solve, arrangement: str) -> None:
    """Gauges of unlike resistance: exact where leads are short, else wrong by unbalance times lead share."""
    model, strain = half(arrangement), 1000e-6
    for lead, wrong in ((1e-3, 1e-6), (5.0, 1e-4)):
        r1, r2 = 351.2, 349.1
        zero = output(solve, half_circuit(r1, r2, lead))
        moved = r1 * (1 + GF * strain), r2 * (1 + GF * second(arrangement, strain))
        found = model.reduce(output(solve, half_circuit(*moved, lead)), zero, *values(model, lead))
        assert found == pytest.approx(strain, rel=wrong)


@pytest.mark.parametrize("lead", [0.1, 0.8, 10.0])
@pytest.mark.parametrize("ratio", [1.0, 0.994, 1.011])
@pytest.mark.parametrize("shunt", [1e4, 174.8e3])
def test_half_bridge_shunt_is_exact_against_the_node_equations(
    solve: Solve, lead: float, ratio: float, shunt: float
) -> None:
    model, r2 = half("bending"), (RG + lead) * ratio - lead
    zero = output(solve, half_circuit(RG, r2, lead))
    step = output(solve, half_circuit(RG, r2, lead, shunt)) - zero
    assert model.shunt_reading(shunt, zero, *values(model, lead)) == pytest.approx(step, rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
@pytest.mark.parametrize("strain", [-3000e-6, 10e-6, 1000e-6, 5000e-6])
@pytest.mark.parametrize("lead", [0.1, 5.0])
@pytest.mark.parametrize("wires", [4, 6])
def test_full_bridge_strain_is_exact_against_the_node_equations(
    solve: Solve, arrangement: str, strain: float, lead: float, wires: int
) -> None:
    model = full(arrangement, wires)
    r1, r2 = RG * (1 + GF * strain), RG * (1 + GF * second(arrangement, strain))
    corners = ("p", "n") if wires == 6 else ("top", "bottom")
    reading = output(solve, full_circuit((r1, r2, r1, r2), lead), corners)
    assert model.reduce(reading, 0.0, *values(model, lead)) == pytest.approx(strain, rel=1e-9, abs=3e-12)


@pytest.mark.parametrize("wires", [4, 6])
@pytest.mark.parametrize("lead", [0.1, 0.8, 10.0])
@pytest.mark.parametrize("shunt", [1e4, 174.8e3])
@pytest.mark.parametrize("off", [0.0, 0.004])
def test_full_bridge_shunt_against_the_node_equations(
    solve: Solve, wires: int, lead: float, shunt: float, off: float
) -> None:
    """Exact when balanced; an unbalance in one half alone is shared out, and wrong by its own size at most."""
    model, corners = full("bending", wires), ("p", "n") if wires == 6 else ("top", "bottom")
    arms = (RG, RG * (1 - off), RG, RG)
    zero = output(solve, full_circuit(arms, lead), corners)
    step = output(solve, full_circuit(arms, lead, shunt), corners) - zero
    found = model.shunt_reading(shunt, zero, *values(model, lead))
    assert found == pytest.approx(step, rel=max(abs(zero), 1e-9), abs=1e-12)


@pytest.mark.parametrize("wires", [4, 6])
def test_full_bridge_shunt_is_exact_for_an_unbalance_alike_in_both_halves(solve: Solve, wires: int) -> None:
    model, corners, lead = full("bending", wires), ("p", "n") if wires == 6 else ("top", "bottom"), 0.1
    arms = (RG, RG * 0.99, RG, RG * 0.99)
    zero = output(solve, full_circuit(arms, lead), corners)
    step = output(solve, full_circuit(arms, lead, 174.8e3), corners) - zero
    assert zero == pytest.approx(5e-3, rel=0.01)
    assert model.shunt_reading(174.8e3, zero, *values(model, lead)) == pytest.approx(step, rel=1e-5)


@pytest.mark.parametrize("model", [half("bending"), full("bending"), full("bending", 6)])
def test_bending_is_linear(model: ArmsBridge) -> None:
    inputs = values(model, 0.0)
    strains = [float(model.reduce(n * 1e-3, 0.0, *inputs)) for n in range(-10, 11)]
    steps = [b - a for a, b in pairwise(strains)]
    assert steps == pytest.approx([steps[0]] * 20, rel=1e-9)


@given(st.floats(-5e-3, 5e-3), st.sampled_from(ARRANGEMENTS), st.sampled_from([half, full]))
def test_a_uniaxial_field_on_the_calibration_material_is_reported_as_it_is(
    strain: float, arrangement: str, kind: Callable[..., ArmsBridge]
) -> None:
    """nu = nu0: the gauge factor holds for the gauge along; the gauge across is what the closed form says."""
    model = kind(arrangement)
    nu0, kt = transverse.CALIBRATION_POISSON, 0.01
    inputs = [RG, GF, kt, 0.8] + ([] if arrangement == "bending" else [nu0])
    found = model.apparent(strain, -nu0 * strain, *inputs)
    if arrangement == "bending":
        assert found == pytest.approx(strain, rel=1e-9, abs=1e-15)
    else:  # the gauge across reports (kt - nu0)/(1 - nu0 kt) of the strain along, not -nu0
        first_order = strain * (1 - (kt - nu0) / (1 - nu0 * kt)) / (1 + nu0)
        assert found == pytest.approx(first_order, rel=1e-3, abs=1e-12)


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
@pytest.mark.parametrize("kind", [half, full])
def test_apparent_strain_is_what_the_circuit_would_report(
    solve: Solve, kind: Callable[..., ArmsBridge], arrangement: str
) -> None:
    model, lead, kt = kind(arrangement), 2.0, 0.02
    along, across = 900e-6, -400e-6
    fa = GF / (1 - 0.285 * kt)  # axial sensitivity of the grid, as the packet's gauge factor implies
    k1 = fa * (along + kt * across)
    k2 = -k1 if arrangement == "bending" else fa * (across + kt * along)
    arms = RG * (1 + k1), RG * (1 + k2)
    circuit = half_circuit(*arms, lead) if kind is half else full_circuit((*arms, *arms), lead)
    read = model.reduce(output(solve, circuit), 0.0, *values(model, lead, kt))
    assert model.apparent(along, across, *values(model, lead, kt)) == pytest.approx(float(read), rel=1e-9)


def test_arrays_give_what_numbers_give() -> None:
    rng = np.random.default_rng(11)
    for model in (half("along and across"), full("along and across"), full("bending", 6)):
        inputs = [rng.uniform(0.95, 1.05, 20) * value for value in values(model, 0.8)]
        readings, zeros = rng.uniform(-5e-3, 5e-3, (2, 20))
        rows = [[float(v) for v in row] for row in zip(*inputs, strict=True)]
        strains = [model.reduce(float(r), float(z), *row) for r, z, row in zip(readings, zeros, rows, strict=True)]
        assert model.reduce(readings, zeros, *inputs) == pytest.approx(np.array(strains), rel=1e-12)
        steps = [model.shunt_reading(1e5, float(z), *row) for z, row in zip(zeros, rows, strict=True)]
        assert model.shunt_reading(1e5, zeros, *inputs) == pytest.approx(np.array(steps), rel=1e-12)
        seen = [model.apparent(1e-3, -2e-4, *row) for row in rows]
        assert model.apparent(1e-3, -2e-4, *inputs) == pytest.approx(np.array(seen), rel=1e-12)


def test_poisson_ratio_is_an_input_only_where_it_counts(gauge: Gauge) -> None:
    first = ["gauge resistance", "gauge factor", "transverse sensitivity", "lead"]
    assert [item.name for item in half("bending").inputs([gauge])] == first
    assert [item.name for item in full("along and across").inputs([gauge])] == [*first, "poisson ratio"]


@pytest.mark.parametrize(
    ("arrangement", "more", "message"),
    [
        ("along and across", {"poisson ratio": "0.29 ± 0.3"}, "it must lie between 0 and 0.5, limits included"),
        ("bending", {"poisson ratio": "0.3"}, "the arrangement 'bending' does not use it; leave it out"),
        ("sideways", {}, "'bending', 'along and across' or 'opposite arms'"),
    ],
)
def test_what_does_not_fit_the_arrangement_is_refused(arrangement: str, more: dict[str, str], message: str) -> None:
    with pytest.raises(ValidationError, match=message):
        half(arrangement, **more)


def test_an_arrangement_across_needs_the_poisson_ratio() -> None:
    with pytest.raises(ValidationError, match="needs the `poisson ratio`; add the part's"):
        HalfBridge.model_validate({"arrangement": "along and across", "lead": "0 Ω"})
