from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from rigproof.errors import NumberError
from rigproof.uncertainty import Budget
from rigproof_strain.quarter import QuarterBridge

if TYPE_CHECKING:
    from collections.abc import Callable

    from rigproof.documents.rig import Gauge

    Solve = Callable[[list[tuple[str, str, float]], dict[str, float]], dict[str, float]]

GF, KT = 2.08, 0.004


def model(wires: int, lead: str = "0.8 Ω ± 10 %") -> QuarterBridge:
    return QuarterBridge.model_validate({"wires": str(wires), "lead": lead})


def circuit(
    wires: int, gauge: float, completion: float, lead: float, shunt: float | None = None
) -> list[tuple[str, str, float]]:
    """Excitation corners `top` and `bottom`, instrument's own half with corner `half`, signal terminal `signal`."""
    arms = [("top", "far", lead), ("far", "near", gauge), ("near", "signal", lead)]
    arms += [("near", "back", lead), ("back", "bottom", completion)] if wires == 3 else []
    arms += [("signal", "bottom", completion)] if wires == 2 else []
    half = [("top", "half", 1000.0), ("half", "bottom", 1000.0)]
    relay = [("top", "signal", shunt)] if shunt else []
    return arms + half + relay


def output(solve: Solve, resistors: list[tuple[str, str, float]]) -> float:
    volt = solve(resistors, {"top": 1.0, "bottom": 0.0})
    return volt["half"] - volt["signal"]


CASES = [
    (wires, gauge, completion, lead)
    for wires in (2, 3)
    for gauge, completion in ((350.0, 350.0), (350.9, 349.6), (120.0, 120.5), (1000.0, 990.0))
    for lead in (0.1, 0.8, 10.0)
]


@pytest.mark.parametrize(("wires", "gauge_ohm", "completion", "lead"), CASES)
@pytest.mark.parametrize("strain", [-9000e-6, -300e-6, 1e-6, 236e-6, 5000e-6, 40000e-6])
def test_strain_is_exact_against_the_node_equations(
    solve: Solve, wires: int, gauge_ohm: float, completion: float, lead: float, strain: float
) -> None:
    zero = output(solve, circuit(wires, gauge_ohm, completion, lead))
    reading = output(solve, circuit(wires, gauge_ohm * (1 + GF * strain), completion, lead))
    found = model(wires).reduce(reading, zero, gauge_ohm, GF, KT, lead)
    assert found == pytest.approx(strain, rel=1e-9, abs=3e-12)


@pytest.mark.parametrize(("wires", "gauge_ohm", "completion", "lead"), CASES)
@pytest.mark.parametrize("shunt", [1e3, 59880.0, 174.8e3, 10e6])
def test_shunt_reading_is_exact_against_the_node_equations(
    solve: Solve, wires: int, gauge_ohm: float, completion: float, lead: float, shunt: float
) -> None:
    zero = output(solve, circuit(wires, gauge_ohm, completion, lead))
    step = output(solve, circuit(wires, gauge_ohm, completion, lead, shunt)) - zero
    assert model(wires).shunt_reading(shunt, zero, gauge_ohm, GF, KT, lead) == pytest.approx(step, rel=1e-9, abs=1e-12)


def test_a_fixed_half_that_is_not_halved_is_felt_in_second_order_only(solve: Solve) -> None:
    def reading(gauge: float) -> float:
        uneven = [r for r in circuit(3, gauge, 350.0, 0.8) if "half" not in r]
        return output(solve, [*uneven, ("top", "half", 1000.0), ("half", "bottom", 1006.0)])  # 0.15 % off: 1.5 mV/V

    found = model(3).reduce(reading(350 * (1 + GF * 1e-3)), reading(350.0), 350.0, GF, KT, 0.8)
    assert found == pytest.approx(1e-3, rel=2e-5)
    assert found != pytest.approx(1e-3, rel=1e-7)


def test_tension_reads_positive_and_a_shunt_reads_as_compression() -> None:
    assert model(3).reduce(0.5e-3, 0.0, 350.0, 2.0, 0.0, 0.0) > 0
    assert model(3).shunt_reading(174.8e3, 0.0, 350.0, 2.0, 0.0, 0.0) < 0


@given(
    st.floats(-0.02, 0.02),
    st.floats(-0.02, 0.02),
    st.floats(-0.02, 0.02),
    st.sampled_from([2, 3]),
    st.floats(0.0, 20.0),
)
def test_strains_chain_as_resistances_do(first: float, middle: float, last: float, wires: int, lead: float) -> None:
    """From a to c is from a to b and on to c: (1 + S e_ac) = (1 + S e_ab)(1 + S e_bc), S with the leads."""

    def stretch(reading: float, zero: float) -> float:
        in_arm = lead * (2 if wires == 2 else 1)
        strain = model(wires).reduce(reading, zero, 350.0, GF, KT, lead)
        return 1 + GF * 350 / (350 + in_arm) * float(strain)

    assert stretch(last, first) == pytest.approx(stretch(middle, first) * stretch(last, middle), rel=1e-12)


@given(st.floats(-0.02, 0.02), st.floats(1e3, 1e7))
def test_a_shunt_on_a_gauge_without_leads_stands_for_its_parallel_resistance(zero: float, shunt: float) -> None:
    bridge = model(3)
    step = bridge.shunt_reading(shunt, zero, 350.0, GF, KT, 0.0)
    assert bridge.reduce(zero + step, zero, 350.0, GF, KT, 0.0) == pytest.approx(-350 / (GF * (350 + shunt)), rel=1e-9)


def test_arrays_give_what_numbers_give() -> None:
    bridge, rng = model(3), np.random.default_rng(5)
    readings, zeros = rng.uniform(-0.01, 0.01, 50), rng.uniform(-0.002, 0.002, 50)
    inputs = [rng.uniform(0.9, 1.1, 50) * value for value in (350.0, GF, KT, 0.8)]
    one_by_one = [bridge.reduce(*(float(v) for v in row)) for row in zip(readings, zeros, *inputs, strict=True)]
    assert bridge.reduce(readings, zeros, *inputs) == pytest.approx(np.array(one_by_one), rel=1e-13)
    shunts = [bridge.shunt_reading(1e5, *(float(v) for v in row)) for row in zip(zeros, *inputs, strict=True)]
    assert bridge.shunt_reading(1e5, zeros, *inputs) == pytest.approx(np.array(shunts), rel=1e-13)
    seen = [bridge.apparent(1e-4, 2e-5, *(float(v) for v in row)) for row in zip(*inputs, strict=True)]
    assert bridge.apparent(1e-4, 2e-5, *inputs) == pytest.approx(np.array(seen), rel=1e-13)


def test_missing_readings_stay_missing() -> None:
    assert np.isnan(model(3).reduce(np.nan, 0.0, 350.0, GF, KT, 0.8))
    assert np.isnan(model(3).reduce(1e-3, np.nan, 350.0, GF, KT, 0.8))


def test_inputs_are_those_of_the_packet_in_order(gauge: Gauge) -> None:
    inputs = model(3).inputs([gauge])
    assert [item.name for item in inputs] == ["gauge resistance", "gauge factor", "transverse sensitivity", "lead"]
    assert [item.value for item in inputs] == pytest.approx([350.0, 2.08, 0.004, 0.8])
    assert [item.u * 3**0.5 for item in inputs] == pytest.approx([1.05, 0.0104, 0.002, 0.08])
    assert [item.unit for item in inputs] == ["Ω", "1", "1", "Ω"]


def test_the_gauge_factor_rules_the_budget_of_a_strain_and_the_resistance_that_of_a_shunt(gauge: Gauge) -> None:
    inputs = model(3).inputs([gauge])
    strain = Budget(lambda *values: model(3).reduce(0.5e-3, 0.0, *values), inputs).evaluate()
    shunt = Budget(lambda *values: model(3).shunt_reading(174.8e3, 0.0, *values), inputs).evaluate()
    shares = [{line.input: line.share for line in estimate.lines} for estimate in (strain, shunt)]
    assert max(shares[0], key=shares[0].__getitem__) == "gauge factor"
    assert shares[1]["gauge factor"] == 0
    assert max(shares[1], key=shares[1].__getitem__) == "gauge resistance"
    assert strain.u / strain.value == pytest.approx(0.005 / 3**0.5, rel=0.01)


@pytest.mark.parametrize("count", [0, 2])
def test_another_number_of_gauges_is_refused(gauge: Gauge, count: int) -> None:
    with pytest.raises(NumberError, match=f"gauges = {count}: a bridge takes one gauge"):
        model(3).inputs([gauge] * count)


@pytest.mark.parametrize(
    ("wires", "lead", "message"),
    [
        ("4", "0.8 Ω", "Input should be 2 or 3"),
        ("three", "0.8 Ω", "Input should be 2 or 3"),
        ("3", "1 Ω ± 2 Ω", "'1 Ω ± 2 Ω' reaches below 0 Ω; narrow its limits"),
        ("3", "0.8 mV", "0.8 mV"),
    ],
)
def test_what_cannot_be_is_refused(wires: str, lead: str, message: str) -> None:
    with pytest.raises(ValidationError, match=message):
        QuarterBridge.model_validate({"wires": wires, "lead": lead})


def test_its_schema_offers_whole_numbers_of_wires() -> None:
    properties = QuarterBridge.model_json_schema()["properties"]
    assert properties["wires"]["enum"] == [2, 3]
    assert "lead" in properties
