"""Thermal output, self-heating, leaks, gauge factors: published figures, and closed forms by another route."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad

from rigproof_strain import alignment, bridge, gauge_factor, heating, leads, leakage, thermal
from rigproof_strain.quarter import QuarterBridge
from rigproof_strain.thermal import ThermalOutput

Case = Callable[[str], Any]
DATA = Path(__file__).parent / "data"


def expansions() -> list[tuple[str, float, float]]:
    """(materials, expansion of the part, expansion compensated for), 1/K, from the tables of worked-examples.json."""
    materials = json.loads((DATA / "worked-examples.json").read_text("utf-8"))["material_constants"]["materials"]
    table = {name: list(material["alpha_ppm_K"]["values"].values()) for name, material in materials.items()}
    steel = table["carbon steel (A36/1020)"][0]
    return [(f"{name} on steel's gauge", alphas[0] * 1e-6, steel * 1e-6) for name, alphas in table.items()]


def test_steel_gauge_on_aluminium(mechanics_case: Case) -> None:
    """Callister, table B.6: 11.7 and 23.6 ppm/K; the difference over 10 K."""
    case = mechanics_case("THM-01")
    given = case.inputs
    shown = thermal.mismatch(given["alpha_part"] * 1e-6, given["alpha_compensated"] * 1e-6, given["dT"])
    case.check(false=shown * 1e6)


@pytest.mark.parametrize(("materials", "part", "compensated"), expansions())
def test_mismatch_is_the_integral_of_the_expansions(materials: str, part: float, compensated: float) -> None:
    """Callister table B.6 and others, as in worked-examples.json; by scipy's quadrature of d(strain)/dT."""
    integral, _ = quad(lambda _t: part - compensated, 20.0, 57.0)
    assert thermal.mismatch(part, compensated, 37.0) == pytest.approx(integral, rel=1e-12, abs=1e-18), materials


@pytest.mark.parametrize(("alpha", "expected"), [(23.6e-6, 11.9), (16.0e-6, 4.3), (17.2e-6, 5.5)])
def test_steel_matched_gauges_elsewhere(alpha: float, expected: float) -> None:
    """Collected from the trade (trade-tables.md 1): 6061 +11.9, 316 +4.3, 304 +5.5 µε/K."""
    assert thermal.mismatch(alpha, 11.7e-6, 1.0) * 1e6 == pytest.approx(expected, abs=0.05)


def test_temperature_that_looks_like_stress_Rajput_7_14(mechanics_case: Case) -> None:
    case = mechanics_case("T-LTT-02")
    given = case.inputs
    strain = given["stress_change"] * 1e6 / (given["E"] * 1e9)
    shown = thermal.of_grid(given["alpha_R"], given["GF"], 12e-6, 12e-6, given["dT"])
    case.check(dR_stress=strain * given["GF"] * given["R"] * 1e3, apparent_strain=shown * 1e6)
    case.check(dR_temp=shown * given["GF"] * given["R"] * 1e3)


def test_a_lots_curve_is_the_sum_of_its_slope() -> None:
    """Between two temperatures, against scipy's quadrature of numpy's derivative of the polynomial."""
    coefficients = (-31.8e-6, 2.77e-6, -6.55e-8, 3.28e-10, -3.26e-13)
    lot = ThermalOutput(coefficients, 2.0, -50.0, 200.0)
    slope = np.polynomial.Polynomial(coefficients).deriv()
    change, _ = quad(slope, 24.0, 120.0)
    assert lot.between(24.0, 120.0, 2.1) == pytest.approx(change * 2.0 / 2.1, rel=1e-9)


def test_power_and_its_density(mechanics_case: Case) -> None:
    case = mechanics_case("PWR-01")
    given = case.inputs
    power = heating.power_w(given["V"], given["R"])
    density = heating.density_w_per_m2(given["V"], given["R"], given["A"] * 1e-6)
    case.check(power=float(power) * 1e3, density=float(density) / 1e3)  # 1 mW/mm² is 1000 W/m²


def test_power_at_the_current_of_Doebelin_4_12(mechanics_case: Case) -> None:
    """30 mA in 120 Ω: 108 mW (note of the case); in a bridge of equal arms that takes 7.2 V."""
    given = mechanics_case("T-BRG-04").inputs
    excitation = 2 * given["Ig"] * 1e-3 * given["Rg"]
    assert heating.power_w(excitation, given["Rg"]) * 1e3 == pytest.approx(108.0, abs=0.5)


@pytest.mark.parametrize(("ohm", "volt"), [(120.0, 4.2), (350.0, 7.2), (1000.0, 12.2)])
def test_largest_excitation_of_the_trade(ohm: float, volt: float) -> None:
    """Collected from the trade (trade.md 2.5): 5 kW/m² on 7.5 mm²."""
    assert heating.largest_excitation_v(ohm, 7.5e-6, 5e3) == pytest.approx(volt, abs=0.05)


@pytest.mark.parametrize(("ohm", "milliwatt"), [(120.0, 52.0), (350.0, 17.9), (1000.0, 6.3)])
def test_power_at_five_volt(ohm: float, milliwatt: float) -> None:
    """Collected from the trade (trade-tables.md 1)."""
    assert float(heating.power_w(5.0, ohm)) * 1e3 == pytest.approx(milliwatt, abs=0.1)


@pytest.mark.parametrize(("name", "path"), [("INS-01", "across the gauge"), ("INS-03", "across the completion arm")])
def test_a_leak_of_10_megohm(mechanics_case: Case, name: str, path: str) -> None:
    case = mechanics_case(name)
    given = case.inputs
    case.check(false=float(leakage.false_strain(path, given["R"], given["F"], given["R_ins"] * 1e6)) * 1e6)


@pytest.mark.parametrize(("ohm", "megohm"), [(120.0, 60.0), (350.0, 175.0), (1000.0, 500.0)])
def test_insulation_for_one_microstrain(ohm: float, megohm: float) -> None:
    """Collected from the trade (trade.md 1.2, check 3; trade-tables.md 2): gauge factor 2."""
    assert leakage.least_insulation_ohm(ohm, 2.0, 1e-6) / 1e6 == pytest.approx(megohm, rel=1e-9)


@pytest.mark.parametrize(
    ("meant", "off", "percent", "within"),
    [
        *((0.0, 1.0, -0.04, 0.005), (0.0, 2.0, -0.16, 0.005), (0.0, 5.0, -0.99, 0.005), (0.0, 10.0, -3.9, 0.05)),
        *((45.0, 2.0, -4.5, 0.05), (45.0, 5.0, -11.0, 0.5)),
    ],
)
def test_misaligned_gauges_of_the_trade(meant: float, off: float, percent: float, within: float) -> None:
    """Collected from the trade (trade.md 2.8): uniaxial stress, nu 0.3; errors in per cent of e1."""
    error = alignment.error(1.0, -0.3, np.radians(meant), np.radians(off))
    assert float(error) * 100 == pytest.approx(percent, abs=within)


def test_gauge_factor_from_resistivity_Doebelin_4_1(mechanics_case: Case) -> None:
    case = mechanics_case("T-GF-03")
    given = case.inputs
    factor = gauge_factor.of_conductor(given["nu"], given["drho/rho"] / given["dL/L"])
    case.check(GF=factor)
    strain = given["u_R"] / given["Rg"] / factor  # what the ohmmeter cannot tell
    case.check(u_strain=strain * 1e6, u_stress=strain * given["E"] * 1e3)


def test_gauge_factor_from_a_deflection_Sawhney_5_14(mechanics_case: Case) -> None:
    """Strain of the beam as the book derives it, 3 h d x/(2 L³), x from the load."""
    case = mechanics_case("T-GF-01")
    given = case.inputs
    strain = 3 * given["h"] * given["deflection"] * given["arm"] / (2 * given["L"] ** 3)
    case.check(strain=strain * 1e6, strain_from_3h_delta_x_over_2L3=strain * 1e6)
    case.check(GF=gauge_factor.factor_of(given["dR"] / given["R"], strain))


def test_resistance_of_a_bar_in_tension_Figliola_11_1(mechanics_case: Case) -> None:
    """30 kN on 3 cm by 1 cm, 200 GPa; 120 Ω, gauge factor 2: 0.12 Ω."""
    case = mechanics_case("M-FIG-11.1")
    given = case.inputs
    tension = given["force"] / given["area"]
    change = given["GF"] * tension / given["E"]
    case.check(stress=tension / 1e6, dR=change * given["R"])
    model = QuarterBridge.model_validate({"wires": "3", "lead": "0 Ω"})
    found = model.reduce(bridge.output(change, 0.0), 0.0, given["R"], given["GF"], 0.0, 0.0)
    assert found == pytest.approx(tension / given["E"], rel=1e-12)


def test_two_gauges_on_a_column(mechanics_case: Case) -> None:
    """Mean and half difference; gauges in opposite arms show the mean by themselves."""
    case = mechanics_case("BEM-06")
    top, bottom = case.inputs["e_top"], case.inputs["e_bottom"]
    mean = alignment.strain_at(top, bottom, np.pi / 4)  # the middle of any two strains
    case.check(axial=float(mean), bending=top - float(mean))


def test_copper_leads_per_ten_kelvin() -> None:
    """Collected from the trade (trade.md 1.2, check 5): 0.05 Ω on 120 Ω, GF 2: 208 µε, and 8 µε per 10 K."""
    assert leads.false_strain(120.0, 2.0, 0.0, 0.025) * 1e6 == pytest.approx(208.0, abs=0.5)
    assert leads.false_strain_per_k(120.0, 2.0, 0.025) * 10 * 1e6 == pytest.approx(8.0, abs=0.5)
