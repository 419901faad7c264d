"""The small laws of a single gauge: factor, temperature, heat, leaks, direction, leads."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.errors import NumberError
from rigproof.uncertainty import Budget, Input
from rigproof_strain import alignment, bridge, gauge_factor, heating, leads, leakage, shunt, thermal, transverse
from rigproof_strain.thermal import ThermalOutput

Solve = Callable[[list[tuple[str, str, float]], dict[str, float]], dict[str, float]]
LOT = ThermalOutput((-31.8e-6, 2.77e-6, -6.55e-8, 3.28e-10), 2.0, -40.0, 150.0)


def test_gauge_factor_is_change_over_strain_also_in_compression() -> None:
    assert gauge_factor.factor_of(-2.08e-3, -1e-3) == pytest.approx(2.08)


def test_gauge_factor_of_a_plain_wire() -> None:
    assert gauge_factor.of_conductor(0.3, 0.4) == pytest.approx(2.0)


@given(st.floats(-2e-3, 2e-3), st.floats(-2e-3, 2e-3), st.floats(-0.05, 0.05))
def test_the_two_sensitivities_of_a_grid_give_what_is_reported(along: float, across: float, kt: float) -> None:
    fa = gauge_factor.along_grid(2.08, kt)
    change = fa * along + kt * fa * across
    assert change / 2.08 == pytest.approx(transverse.reported(along, across, kt), rel=1e-12, abs=1e-18)


def test_gauge_factor_of_a_warm_gauge() -> None:
    assert gauge_factor.at_temperature(2.08, 1e-4, 80.0) == pytest.approx(2.08 * 1.008)
    true = 1e-3
    read = gauge_factor.at_temperature(2.08, 1e-4, 80.0) * true / 2.08
    assert gauge_factor.corrected(read, 1e-4, 80.0) == pytest.approx(true, rel=1e-14)


def test_thermal_output_of_a_trimmed_grid_is_nothing_on_its_own_material_and_the_mismatch_elsewhere() -> None:
    """A grid trimmed for a_c has b = -GF (a_c - a_grid)(1 + Kt)/(1 - nu0 Kt)."""
    factor, kt, grid, trimmed = 2.1, 0.008, 14.9e-6, 11e-6
    b = -factor * (trimmed - grid) * (1 + kt) / (1 - 0.285 * kt)
    assert thermal.of_grid(b, factor, trimmed, grid, 30.0, kt) == pytest.approx(0.0, abs=1e-20)
    shown = thermal.of_grid(b, factor, 23e-6, grid, 30.0, kt)
    assert shown == pytest.approx(thermal.mismatch(23e-6, trimmed, 30.0) * (1 + kt) / (1 - 0.285 * kt), rel=1e-12)
    assert shown == pytest.approx(360e-6, rel=0.02)


def test_thermal_output_of_a_grid_is_what_its_resistance_does() -> None:
    """Against the resistance itself: R (1 + b dT)(1 + GF e), e the answer to the free expansion of the part."""
    b, factor, part, grid, rise, kt = 8e-6, 2.1, 23e-6, 14.9e-6, 1e-3, 0.01
    stretch = (part - grid) * rise
    change = (1 + b * rise) * (1 + factor * transverse.reported(stretch, stretch, kt)) - 1
    assert thermal.of_grid(b, factor, part, grid, rise, kt) == pytest.approx(change / factor, rel=1e-6)


def test_thermal_output_without_transverse_sensitivity() -> None:
    assert thermal.of_grid(20e-6, 2.0, 12e-6, 12e-6, 20.0) == pytest.approx(200e-6)
    assert thermal.of_grid(0.0, 2.0, 12e-6, 10e-6, 20.0) == pytest.approx(40e-6)


def test_the_lots_curve_is_a_polynomial_in_temperature_and_scales_with_the_gauge_factor() -> None:
    t = 65.0
    plain = sum(c * t**n for n, c in enumerate(LOT.coefficients))
    assert LOT.at(t, 2.0) == pytest.approx(plain, rel=1e-12)
    assert LOT.at(t, 2.1) == pytest.approx(plain * 2.0 / 2.1, rel=1e-12)
    assert LOT.between(20.0, t, 2.1) == pytest.approx((plain - LOT.at(20.0, 2.0)) * 2.0 / 2.1, rel=1e-12)
    assert LOT.at(np.array([20.0, t]), 2.0) == pytest.approx(np.array([LOT.at(20.0, 2.0), plain]), rel=1e-12)
    assert LOT.at(-40.0, 2.0) < 0 < LOT.at(150.0, 2.0)  # both ends belong to it


@pytest.mark.parametrize("celsius", [-40.1, 150.1, np.nan, np.array([20.0, 151.0])])
def test_the_lots_curve_is_not_carried_on(celsius: float) -> None:
    with pytest.raises(NumberError, match=r"celsius=.*holds from -40 °C to 150 °C; measure the output"):
        LOT.at(celsius, 2.0)


@pytest.mark.parametrize(
    ("coefficients", "factor", "lowest", "highest", "message"),
    [
        ((), 2.0, 0.0, 100.0, r"coefficients=\(\): a curve needs at least one"),
        ((1e-6, np.nan), 2.0, 0.0, 100.0, "c1=nan: must be a finite number; give the packet's"),
        ((1e-6,), 0.0, 0.0, 100.0, "stated_factor=0: must be finite and above 0; give the gauge factor the curve"),
        ((1e-6,), 2.0, 100.0, 100.0, "lowest_c=100, highest_c=100: the range is empty; give the temperatures the pack"),
        ((1e-6,), 2.0, 0.0, np.nan, "highest_c=nan: the range is empty"),
    ],
)
def test_a_curve_that_cannot_be_is_refused(
    coefficients: tuple[float, ...], factor: float, lowest: float, highest: float, message: str
) -> None:
    with pytest.raises(NumberError, match=message):
        ThermalOutput(coefficients, factor, lowest, highest)


def test_power_in_a_grid(solve: Solve) -> None:
    """Node voltages of the bridge: the drop across the gauge, squared, over its resistance."""
    volt = solve([("top", "mid", 350.0), ("mid", "bottom", 120.0)], {"top": 5.0, "bottom": 0.0})
    assert heating.power_w(5.0, 350.0, 120.0) == pytest.approx((5.0 - volt["mid"]) ** 2 / 350.0, rel=1e-12)
    assert heating.power_w(5.0, 350.0) == pytest.approx(25 / 1400, rel=1e-14)
    assert heating.power_w(-5.0, 350.0, 0.0) == pytest.approx(25 / 350, rel=1e-14)
    assert heating.density_w_per_m2(5.0, 350.0, 18e-6) == pytest.approx(25 / 1400 / 18e-6, rel=1e-14)


@given(st.floats(60.0, 5000.0), st.floats(1e-7, 1e-4), st.floats(10.0, 2e4))
def test_largest_excitation_gives_the_density_asked_for(ohm: float, area: float, density: float) -> None:
    volt = heating.largest_excitation_v(ohm, area, density)
    assert heating.density_w_per_m2(volt, ohm, area) == pytest.approx(density, rel=1e-12)


def test_guide_densities_fall_with_the_heat_the_part_carries_off() -> None:
    lows, highs = zip(*heating.GUIDE_W_PER_M2.values(), strict=True)
    assert all(0 < low < high for low, high in heating.GUIDE_W_PER_M2.values())
    assert list(lows) == sorted(lows, reverse=True)
    assert list(highs) == sorted(highs, reverse=True)


RG, GF = 350.0, 2.0


def leak_circuit(path: str, leak: float) -> list[tuple[str, str, float]]:
    """A quarter bridge of equal arms; the part is `part`, and leaks join the gauge to it. 200 pieces along the grid."""
    pieces = 200 if path == "along the grid" else 2
    nodes = ["top", *(f"g{n}" for n in range(1, pieces)), "signal"]
    grid = [(a, b, RG / pieces) for a, b in pairwise(nodes)]
    rest = [("signal", "bottom", RG), ("top", "other", 1e3), ("other", "bottom", 1e3)]
    if path == "across the gauge":
        return [*grid, *rest, ("signal", "top", leak)]
    if path == "across the completion arm":
        return [*grid, *rest, ("signal", "bottom", leak)]
    if path == "middle of the grid":
        return [*grid, *rest, ("g1", "top", leak)]
    if path == "along the grid":  # a leak at the middle of each piece, the end `top` at the part's potential
        halves = [((a, f"{a}{b}", RG / pieces / 2), (f"{a}{b}", b, RG / pieces / 2)) for a, b, _ in grid]
        to_part = [(f"{a}{b}", "top", leak * pieces) for a, b, _ in grid]
        return [*(piece for both in halves for piece in both), *to_part, *rest]
    return [*grid, *rest, ("signal", "part", leak)]  # the part touches nothing else


@pytest.mark.parametrize("path", leakage.PATHS)
@pytest.mark.parametrize("leak", [2e3, 1e6, 60e6])
def test_a_leak_reads_as_the_node_equations_say(solve: Solve, path: str, leak: float) -> None:
    volt = solve(leak_circuit(path, leak), {"top": 1.0, "bottom": 0.0})
    shown = bridge.arm_change(volt["other"] - volt["signal"], 0.0) / GF
    assert leakage.false_strain(path, RG, GF, leak) == pytest.approx(shown, rel=1e-4, abs=2e-12)


@pytest.mark.parametrize(("path", "share"), list(zip(leakage.PATHS, (-1.0, 1.0, -1 / 3, -1 / 4, 0.0), strict=True)))
def test_small_leaks_have_the_known_shares(path: str, share: float) -> None:
    """trade.md 2.9."""
    assert leakage.false_strain(path, RG, GF, 1e9) == pytest.approx(share * RG / (GF * 1e9), rel=1e-6, abs=0)


@pytest.mark.parametrize("ohm", [34.9e6, 35.1e6, 1e9, 1e12])
def test_a_leaky_grid_is_smooth_where_its_form_changes(ohm: float) -> None:
    """tanh(q)/q - 1 and its series meet: against the series with one term more, in its own digits."""
    q2 = RG / ohm
    assert leakage.false_strain("along the grid", RG, GF, ohm) == pytest.approx(
        (-q2 / 3 + 2 * q2**2 / 15 - 17 * q2**3 / 315) / GF, rel=1e-9, abs=0
    )


def test_leaks_as_arrays() -> None:
    ohms = np.array([1e3, 1e6, 1e10])
    for path in leakage.PATHS:
        found = leakage.false_strain(path, RG, GF, ohms)
        assert found == pytest.approx(np.array([leakage.false_strain(path, RG, GF, float(r)) for r in ohms]), rel=1e-12)


@given(st.floats(1e-7, 1e-4), st.sampled_from(sorted(leakage.PATHS)))
def test_with_the_least_insulation_no_leak_shows_more(strain: float, path: str) -> None:
    ohm = leakage.least_insulation_ohm(RG, GF, strain)
    assert np.abs(leakage.false_strain(path, RG, GF, ohm)) <= strain * (1 + 1e-12)
    assert leakage.false_strain("across the completion arm", RG, GF, ohm) == pytest.approx(strain, rel=1e-12)


def test_an_unknown_path_is_refused() -> None:
    with pytest.raises(NumberError, match="path='somewhere': must be one of 'across the gauge', 'across the comp"):
        leakage.false_strain("somewhere", RG, GF, 1e6)


@given(st.floats(-2e-3, 2e-3), st.floats(-2e-3, 2e-3), st.floats(-3.0, 3.0), st.floats(-0.5, 0.5))
def test_misalignment_is_the_difference_of_two_directions(e1: float, e2: float, meant: float, off: float) -> None:
    expected = alignment.strain_at(e1, e2, meant + off) - alignment.strain_at(e1, e2, meant)
    assert alignment.error(e1, e2, meant, off) == pytest.approx(expected, rel=1e-9, abs=1e-17)


def test_strain_along_and_across_are_the_principal_ones() -> None:
    assert alignment.strain_at(3e-4, -1e-4, 0.0) == pytest.approx(3e-4)
    assert alignment.strain_at(3e-4, -1e-4, np.pi / 2) == pytest.approx(-1e-4)
    assert alignment.strain_at(3e-4, -1e-4, np.pi / 4) == pytest.approx(1e-4)


@given(st.floats(-2e-3, 2e-3), st.floats(-1.0, 5.0), st.floats(-0.1, 0.1))
def test_one_gauge_is_corrected_when_the_field_is_known(along: float, ratio: float, kt: float) -> None:
    read = transverse.reported(along, ratio * along, kt)
    assert transverse.true_single(read, ratio, kt) == pytest.approx(along, rel=1e-12, abs=1e-18)


def test_leads_per_kelvin() -> None:
    expected = 2 * 2.0 * leads.COPPER_PER_K / (2.0 * 120.0)
    assert leads.false_strain_per_k(120.0, 2.0, 2.0) == pytest.approx(expected, rel=1e-9)
    assert leads.false_strain_per_k(120.0, 2.0, 2.0, per_k=0.004) == pytest.approx(2 * 2.0 * 0.004 / 240, rel=1e-9)


def test_a_gauge_factor_and_its_temperature_in_one_budget() -> None:
    """Any of the functions serves a budget: here a warm gauge's strain, by the rule of products and quotients."""
    inputs = [Input("e", 1e-3, 1e-6), Input("b", 1e-4, 1e-5), Input("dT", 80.0, 1.0)]
    estimate = Budget(gauge_factor.corrected, inputs).evaluate()
    parts = (1e-6 / 1.008, 1e-3 * 80 * 1e-5 / 1.008**2, 1e-3 * 1e-4 / 1.008**2)
    assert estimate.value == pytest.approx(1e-3 / 1.008)
    assert estimate.u == pytest.approx(float(np.hypot(np.hypot(*parts[:2]), parts[2])), rel=1e-6)


REFUSED: list[tuple[Callable[[], object], str]] = [
    (lambda: leads.desensitisation(-350.0, 1.0), "gauge_ohm=-350: must be finite and above 0; give the gauge's"),
    (lambda: leads.desensitisation(0.0, 1.0), "gauge_ohm=0: must be finite and above 0"),
    (lambda: leads.desensitisation(350.0, -1.0), "in_arm_ohm=-1: must be finite and not below 0; give the resistance"),
    (lambda: leads.desensitisation(350.0, np.inf), "in_arm_ohm=inf: must be finite and not below 0"),
    (lambda: leads.false_strain(-1.0, 2.0, 1.0, 2.0), "gauge_ohm=-1: .*; give the gauge's resistance in Ω"),
    (lambda: leads.false_strain(350.0, 0.0, 1.0, 2.0), "gauge_factor=0: .*give the packet's, about 2"),
    (lambda: shunt.equivalent_strain(np.nan, 2.0, 1e5), "gauge_ohm=nan: must be finite and above 0"),
    (lambda: shunt.equivalent_strain(350.0, -2.0, 1e5), "gauge_factor=-2"),
    (lambda: shunt.equivalent_strain(350.0, 2.0, 0.0), "shunt_ohm=0: .*give the resistor's value in Ω"),
    (lambda: shunt.opposite_strain(-350.0, 2.0, 1e5), "gauge_ohm=-350"),
    (lambda: shunt.opposite_strain(350.0, 2.0, -1e5), "shunt_ohm=-100000: .*; give the resistor's value in Ω"),
    (lambda: shunt.resistor_for(350.0, 2.0, 0.0), r"\|strain\|=0: .*no resistor stands for no strain"),
    (lambda: shunt.resistor_for(350.0, 2.0, -0.5), r"1/GF \+ strain=0: .*short circuit of the gauge gives only -1/GF"),
    (lambda: shunt.resistor_for(0.0, 2.0, -1e-3), "gauge_ohm=0"),
    (lambda: transverse.reported(1e-3, 0.0, 0.101), r"kt=0.101: must lie within ±0.1; give the packet's value as a"),
    (lambda: transverse.true_pair(1e-3, 0.0, -0.4), "kt=-0.4: must lie within ±0.1"),
    (lambda: transverse.true_rectangular(1e-3, 0.0, 0.0, 0.2), "kt=0.2"),
    (lambda: transverse.true_delta(1e-3, 0.0, 0.0, np.nan), "kt=nan"),
    (lambda: transverse.true_single(1e-3, -0.3, 1.0), "kt=1"),
    (lambda: transverse.reported(1e-3, 0.0, np.array([0.01, 0.4, 0.5])), "kt=0.4: must lie within"),
    (lambda: gauge_factor.factor_of(1e-3, 0.0), r"\|strain\|=0: .*load the calibration beam"),
    (lambda: gauge_factor.of_conductor(0.5, 0.1), "poisson=0.5: must lie between 0 and 0.5; give the material's"),
    (lambda: gauge_factor.along_grid(2.0, 0.11), "kt=0.11"),
    (lambda: gauge_factor.at_temperature(2.0, -0.02, 50.0), r"1 \+ b dT=0: .*look for a coefficient in %/100 K"),
    (lambda: gauge_factor.corrected(1e-3, 0.01, -200.0), r"1 \+ b dT=-1"),
    (lambda: thermal.of_grid(1e-5, -2.0, 0.0, 0.0, 1.0), "gauge_factor=-2: .*the one the instrument is set to"),
    (lambda: thermal.of_grid(1e-5, 2.0, 0.0, 0.0, 1.0, 0.3), "kt=0.3"),
    (lambda: thermal.rescaled(1e-5, 0.0, 2.0), "stated_factor=0: .*give the gauge factor the curve is stated for"),
    (lambda: thermal.rescaled(1e-5, 2.0, -1.0), "set_factor=-1: .*give the gauge factor the instrument is set to"),
    (lambda: heating.power_w(np.inf, 350.0), "excitation_v=inf: must be a finite number; give the bridge voltage"),
    (lambda: heating.power_w(-np.inf, 350.0), "excitation_v=-inf: must be a finite number"),
    (lambda: heating.power_w(5.0, 0.0), "gauge_ohm=0: .*; give the gauge's resistance in Ω"),
    (lambda: heating.power_w(5.0, 350.0, -1.0), "partner_ohm=-1: must be finite and not below 0; give the resist"),
    (lambda: heating.density_w_per_m2(5.0, 350.0, 0.0), "grid_m2=0: .*its length times its width, in m²"),
    (lambda: heating.largest_excitation_v(-350.0, 1e-6, 5e3), "gauge_ohm=-350"),
    (lambda: heating.largest_excitation_v(350.0, -1e-6, 5e3), "grid_m2=-1e-06"),
    (lambda: heating.largest_excitation_v(350.0, 1e-6, 0.0), "density=0: .*give a power density in W/m², such as 5000"),
    (lambda: leakage.false_strain("floating", -350.0, 2.0, 1e6), "gauge_ohm=-350"),
    (lambda: leakage.false_strain("floating", 350.0, 0.0, 1e6), "gauge_factor=0"),
    (lambda: leakage.false_strain("floating", 350.0, 2.0, 0.0), "insulation_ohm=0: .*resistance to the part in Ω"),
    (lambda: leakage.least_insulation_ohm(350.0, 2.0, -1e-6), "strain=-1e-06: .*false strain you can bear"),
    (lambda: leakage.least_insulation_ohm(0.0, 2.0, 1e-6), "gauge_ohm=0"),
]


@pytest.mark.parametrize(("call", "message"), REFUSED, ids=[message for _, message in REFUSED])
def test_what_cannot_be_is_refused_with_value_rule_and_remedy(call: Callable[[], object], message: str) -> None:
    with pytest.raises(NumberError, match=message) as raised:
        call()
    assert "; " in str(raised.value)


def test_another_material_of_the_calibration() -> None:
    """All three corrections with nu0 = 0.3 undo what is reported with it."""
    kt, nu0 = 0.04, 0.3
    pairs = ((8e-4, -1e-4), (5e-4, 2e-4), (-1e-4, 8e-4))
    first, middle, last = (transverse.reported(along, across, kt, nu0) for along, across in pairs)
    found = transverse.true_rectangular(first, middle, last, kt, nu0)
    assert found == pytest.approx((8e-4, 5e-4, -1e-4), rel=1e-12)
    assert transverse.true_pair(first, last, kt, nu0) == pytest.approx((8e-4, -1e-4), rel=1e-12)
    assert transverse.true_single(first, -1 / 8, kt, nu0) == pytest.approx(8e-4, rel=1e-12)


@pytest.mark.parametrize("kt", [-0.1, 0.1])
def test_the_largest_transverse_sensitivity_is_allowed(kt: float) -> None:
    assert transverse.reported(1e-3, 0.0, kt) == pytest.approx(1e-3 / (1 - 0.285 * kt))
