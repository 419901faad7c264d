"""Lead wires and shunt calibration: figures of textbooks, and closed forms."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from rigproof_strain import bridge, leads, shunt
from rigproof_strain.full import FullBridge
from rigproof_strain.half import HalfBridge
from rigproof_strain.quarter import QuarterBridge

Case = Callable[[str], Any]


def quarter(wires: int) -> QuarterBridge:
    return QuarterBridge.model_validate({"wires": str(wires), "lead": "1 Ω"})


def test_shunt_across_a_gauge_Rajput_7_16(mechanics_case: Case) -> None:
    case = mechanics_case("T-BRG-01")
    given = case.inputs
    case.check(strain=-shunt.equivalent_strain(given["Rg"], given["GF"], given["Rc"]) * 1e6)
    step = quarter(3).shunt_reading(given["Rc"], 0.0, given["Rg"], given["GF"], 0.0, 0.0)
    case.check(strain=-quarter(3).reduce(step, 0.0, given["Rg"], given["GF"], 0.0, 0.0) * 1e6)


def test_shunt_across_one_of_four_arms_Rajput_7_17(mechanics_case: Case) -> None:
    case = mechanics_case("T-BRG-02")
    given = case.inputs
    effective = -shunt.equivalent_strain(given["Rg"], given["GF"], given["Rc"]) / given["n_active"] * 1e6
    case.check(effective_strain=effective, strain_at_reading=effective * given["reading"] / given["divisions"])
    model = FullBridge.model_validate({"arrangement": "bending", "wires": "4", "lead": "0 Ω"})
    step = model.shunt_reading(given["Rc"], 0.0, given["Rg"], given["GF"], 0.0, 0.0)
    case.check(exact_full_bridge=-step / given["GF"] * 1e6)


@pytest.mark.parametrize("name", ["SHN-01", "SHN-02"])
def test_resistor_that_stands_for_1000_microstrain(mechanics_case: Case, name: str) -> None:
    case = mechanics_case(name)
    case.check(R_shunt=shunt.resistor_for(case.inputs["R"], case.inputs["F"], case.inputs["eps"] * 1e-6))


def test_shunt_with_leads_between(mechanics_case: Case) -> None:
    """At the gauge it shows the lead loss; at the instrument, across gauge and lead, it reads high.

    The case puts 5 Ω in the arm and none in the signal lead: a two-wire gauge with 2.5 Ω a conductor.
    """
    case = mechanics_case("SHN-04")
    ohm, lead, resistor, factor = (case.inputs[key] for key in ("R", "R_lead", "R_shunt", "F"))
    at_instrument = quarter(2).shunt_reading(resistor, 0.0, ohm, factor, 0.0, lead / 2)
    case.check(indicated_instrument_end=-4 * at_instrument / factor * 1e6)
    stands_for = shunt.equivalent_strain(ohm, factor, resistor)
    sensitivity = factor * leads.desensitisation(ohm, lead)
    at_gauge = bridge.output(bridge.change_of(stands_for, 0.0, sensitivity), 0.0)
    case.check(indicated_gauge_end=-4 * at_gauge / factor * 1e6)


def test_the_signal_lead_of_three_wires_adds_to_the_step(mechanics_case: Case) -> None:
    """Across gauge, current lead and signal lead at R1 R2/(R1 + R2) + RL: 2 RL/R more than the form without it."""
    case = mechanics_case("SHN-04")
    ohm, lead, resistor, factor = (case.inputs[key] for key in ("R", "R_lead", "R_shunt", "F"))
    without = -case.expected["indicated_instrument_end"]["published"] * 1e-6 * factor / 4
    step = quarter(3).shunt_reading(resistor, 0.0, ohm, factor, 0.0, lead)
    assert step / without - 1 == pytest.approx(2 * lead / (ohm + lead), rel=2e-3)


def test_shunt_across_the_other_arm_stands_for_tension(mechanics_case: Case) -> None:
    case = mechanics_case("SHN-05")
    ohm, factor, true = case.inputs["R"], case.inputs["F"], case.inputs["eps"] * 1e-6
    resistor = case.expected["R_shunt"]["published"]
    change = (ohm + resistor) / resistor - 1  # R2 falls to R2 Rs/(R2 + Rs)
    reading = bridge.output(change, 0.0)
    assert quarter(3).reduce(reading, 0.0, ohm, factor, 0.0, 0.0) == pytest.approx(true, rel=1e-9)
    compression = shunt.resistor_for(ohm, factor, -true)
    case.check(difference_from_compression_formula_percent=(resistor / compression - 1) * 100)


def test_shunt_readings_go_by_the_bridge_factor(mechanics_case: Case) -> None:
    case = mechanics_case("SHN-06")
    ohm, resistor, factor = case.inputs["R"], case.inputs["R_shunt"], case.inputs["F"]
    half = HalfBridge.model_validate({"arrangement": "along and across", "lead": "0 Ω", "poisson ratio": "0.3"})
    full = FullBridge.model_validate({"arrangement": "bending", "wires": "6", "lead": "0 Ω"})
    step = half.shunt_reading(resistor, 0.0, ohm, factor, 0.0, 0.0, 0.3)
    figures = {"reading_factor_1.3": 4 * step / factor / 1.3 * 1e6}
    step = full.shunt_reading(resistor, 0.0, ohm, factor, 0.0, 0.0)
    figures["reading_factor_4"] = step / factor * 1e6
    case.check(**figures)


def test_lead_desensitisation(mechanics_case: Case) -> None:
    case = mechanics_case("LED-01")
    ohm, lead, factor = case.inputs["R"], case.inputs["R_lead"], case.inputs["F"]
    shown = {2: leads.desensitisation(ohm, 2 * lead), 3: leads.desensitisation(ohm, lead)}
    case.check(two_wire_ratio=shown[2], three_wire_ratio=shown[3])
    for wires, ratio in shown.items():
        uncorrected = quarter(wires).reduce(1e-6, 0.0, ohm, factor, 0.0, 0.0)
        corrected = quarter(wires).reduce(1e-6, 0.0, ohm, factor, 0.0, lead)
        assert uncorrected / corrected == pytest.approx(float(ratio), rel=1e-12)


def test_leads_that_warm_up(mechanics_case: Case) -> None:
    """Exact is what an instrument shows that knows no leads, simple what is left when they are taken out."""
    textbook, worked = mechanics_case("T-LTT-04"), mechanics_case("LED-03")
    cold, hot = worked.inputs["R_lead_cold"], worked.inputs["R_lead_hot"]
    ohm, factor = worked.inputs["R"], worked.inputs["F"]
    reduced = leads.false_strain(ohm, factor, cold, hot)
    shown = reduced * leads.desensitisation(ohm, 2 * cold) * 1e6
    textbook.check(two_wire_simple=reduced * 1e6, two_wire_exact=shown)
    worked.check(two_wire_false=shown)

    def output(in_arm_ohm: float, beside_ohm: float) -> float:
        arms = ohm + in_arm_ohm, ohm + beside_ohm
        return float(arms[0] / sum(arms) - 0.5)

    two = quarter(2).reduce(output(2 * hot, 0.0), output(2 * cold, 0.0), ohm, factor, 0.0, cold)
    assert two == pytest.approx(reduced, rel=1e-9)
    three = quarter(3).reduce(output(hot, hot), output(cold, cold), ohm, factor, 0.0, cold)
    worked.check(three_wire_false=three * 1e6)


@pytest.mark.parametrize(("wires", "percent", "drift"), [(2, -3.2, 629.0), (3, -1.6, 0.0)])
def test_two_ohm_leads_on_120_ohm(wires: int, percent: float, drift: float) -> None:
    """Collected from the trade (trade.md 2.3): two wires -3.2 % and 629 µε per 10 K of copper at 0.0039 1/K."""
    in_arm = 4.0 if wires == 2 else 2.0
    assert (leads.desensitisation(120.0, in_arm) - 1) * 100 == pytest.approx(percent, abs=0.05)
    if wires == 2:
        shown = leads.false_strain(120.0, 2.0, 2.0, 2.0 * (1 + 0.039)) * leads.desensitisation(120.0, in_arm)
        assert shown * 1e6 == pytest.approx(drift, abs=0.5)
