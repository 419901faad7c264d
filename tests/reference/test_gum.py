"""The worked examples of JCGM 100:2008 (GUM). Provenance of each figure is in data/uncertainty-cases.json."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import combinations
from typing import Any

import numpy as np
import pytest
from scipy import stats as scipy_stats

from rigproof.uncertainty import (
    Budget,
    Estimate,
    Input,
    Student,
    bend,
    coverage_factor,
    effective_dof,
    first_order_law,
    fit_line,
    group_statistics,
    mean_and_sd,
    mean_and_u,
    monte_carlo,
    validate,
)
from rigproof.uncertainty.screening import MOST_BEND

stats: Any = scipy_stats  # it has no types

Case = Callable[[str], Any]


def test_4_4_3_twenty_temperatures_type_a(uncertainty_case: Case) -> None:
    case = uncertainty_case("gum-4.4.3")
    samples = case.inputs["t_degC"]
    mean, s_mean, dof = mean_and_u(samples)
    case.check(mean=mean, s=mean_and_sd(samples)[1], s_mean=s_mean, dof=dof)


def test_4_4_5_and_4_4_6_limits_type_b(uncertainty_case: Case) -> None:
    case = uncertainty_case("gum-4.4.5")
    half_width = (case.inputs["upper"] - case.inputs["lower"]) / 2
    rectangular = Input.limits("t", case.inputs["estimate"], half_width)
    triangular = Input.limits("t", case.inputs["estimate"], half_width, shape="triangular")
    case.check(u_rectangular=rectangular.u, u_triangular=triangular.u)


def test_5_2_2_ten_resistors_calibrated_against_one_standard(uncertainty_case: Case) -> None:
    case = uncertainty_case("gum-5.2.2")
    names = [f"R{n}" for n in range(1, case.inputs["n"] + 1)]
    inputs = [Input(name, case.inputs["R_each_ohm"], case.inputs["u_standard_ohm"], unit="Ω") for name in names]
    pairs = [(one, other, case.inputs["r"]) for one, other in combinations(names, 2)]
    case.check(
        u_c_ohm=Budget(lambda *r: sum(r), inputs, pairs).evaluate().u,
        u_wrong_if_uncorrelated_ohm=Budget(lambda *r: sum(r), inputs).evaluate().u,
    )


def test_G_4_1_effective_degrees_of_freedom(uncertainty_case: Case) -> None:
    case = uncertainty_case("gum-g4.1")
    relative = zip(case.inputs["relative_u_percent"], case.inputs["dof"], strict=True)
    inputs = [Input(f"x{n}", 1.0, percent / 100, dof, "t") for n, (percent, dof) in enumerate(relative, 1)]
    estimate = Budget(lambda x1, x2, x3: x1 * x2 * x3, inputs).evaluate()
    k, expanded = estimate.expanded(0.95)
    case.check(u_c_percent=100 * estimate.u, nu_eff=estimate.dof, t95=k, U95_percent=100 * expanded)


def test_table_G_2_sixty_t_factors(uncertainty_case: Case) -> None:
    """The fractions of one, two and three sigma are the exact ones, not the rounded 68.27 %, 95.45 %, 99.73 %."""
    case = uncertainty_case("gum-table-g2")
    sigma = {0.6827: 1, 0.9545: 2, 0.9973: 3}
    computed = {}
    for p in case.inputs["fractions_p"]:
        exact = math.erf(sigma[p] / math.sqrt(2)) if p in sigma else p
        for row in case.inputs["rows"]:
            computed[f"t_p{100 * p:.2f}_nu{row}"] = coverage_factor(exact, float(row))
    assert len(computed) == 60
    case.check(**computed)


@pytest.fixture
def end_gauge(uncertainty_case: Case) -> tuple[Any, Estimate]:
    """Annex H.1: the budget of the end gauge, with the case it comes from."""
    case = uncertainty_case("gum-h1")
    given = case.inputs
    parts = [(part["u"], part["dof"]) for part in given["d"]["components"]]
    u_d = math.hypot(*[u for u, _ in parts])
    theta = Budget(
        lambda mean, cycle: mean + cycle,
        [
            Input("mean", given["theta"]["x"], given["theta"]["u_mean"]),
            Input.limits("cycle", 0.0, given["theta"]["arcsine_half_width"], shape="arcsine"),
        ],
    ).evaluate()

    def limits(name: str) -> Input:
        entry = given[name]
        return Input.limits(name, entry["x"], entry["rectangular_half_width"], dof=entry.get("dof", math.inf))

    inputs = [
        Input("lS", given["lS"]["x"], given["lS"]["u"], given["lS"]["dof"], unit="nm"),
        Input("d", given["d"]["x"], u_d, effective_dof(parts, u_d), unit="nm"),
        limits("dalpha"),
        Input("theta", theta.value, theta.u, theta.dof),
        limits("alphaS"),
        limits("dtheta"),
    ]
    budget = Budget(lambda lS, d, da, theta, aS, dt: lS + d - lS * (da * theta + aS * dt), inputs)
    return case, budget.evaluate()


def test_H_1_end_gauge_budget(end_gauge: tuple[Any, Estimate]) -> None:
    case, estimate = end_gauge
    lines = {line.input: line for line in estimate.lines}
    case.check(
        l_nm=estimate.value,
        u_d=lines["d"].u,
        dof_d=lines["d"].dof,
        contribution_lS=lines["lS"].contribution,
        contribution_dalpha=lines["dalpha"].contribution,
        contribution_dtheta=lines["dtheta"].contribution,
        u_c=estimate.u,
        nu_eff=estimate.dof,
    )
    assert lines["theta"].contribution == lines["alphaS"].contribution == 0  # the other factor is estimated as zero


def test_H_1_end_gauge_expanded(end_gauge: tuple[Any, Estimate]) -> None:
    """The document cuts the degrees of freedom to whole ones and multiplies rounded figures: 2.92 x 32 nm = 93 nm."""
    case, estimate = end_gauge
    cut = Estimate(estimate.value, float(round(estimate.u)), float(math.floor(estimate.dof)))
    k, expanded = cut.expanded(0.99)
    case.check(nu_eff_used=cut.dof, k_99=k, U_99=expanded)
    unrounded = stats.t.ppf(0.995, estimate.dof) * estimate.u
    assert estimate.expanded(0.99)[1] == pytest.approx(unrounded, rel=1e-10)
    assert unrounded == pytest.approx(92, abs=0.5)


def test_H_1_limits_of_few_degrees_of_freedom_stay_with_welch_and_satterthwaite(
    end_gauge: tuple[Any, Estimate],
) -> None:
    """A convolution knows the rectangles and not how well their limits are known (H.1.6)."""
    _, estimate = end_gauge
    assert first_order_law(estimate) == Student(estimate.u, estimate.dof)


def test_H_1_7_second_order_terms(end_gauge: tuple[Any, Estimate]) -> None:
    """Two inputs of zero sensitivity add 2 nm by product terms: the screen sees them, Monte Carlo gives 34 nm."""
    case, estimate = end_gauge
    seen = bend(estimate)
    assert seen > MOST_BEND
    # 11.7 nm and 1.7 nm (H.1.7) against u = 31.66 nm
    assert seen == pytest.approx(math.hypot(11.7, 1.7) / 31.66, rel=0.01)
    assert estimate.budget is not None
    normal = [Input(i.name, i.value, i.u, unit=i.unit) for i in estimate.budget.inputs]  # second order has no dof
    without_dof = Budget(estimate.budget.function, normal)
    trials = monte_carlo(without_dof, trials=400_000)
    case.check(u_second_order=trials.u, l_nm=trials.value)
    assert not validate(without_dof.evaluate(), 0.99).valid
    # with its degrees of freedom the interval of first order happens to be right: the rectangles' reliability, which
    # Monte Carlo does not know, widens it by what the product terms add
    assert validate(estimate, 0.99).valid


def test_H_5_analysis_of_variance_of_a_voltage_standard(mechanics_case: Case) -> None:
    """Ten days of five readings: Table H.9 gives the means (µV above 10 V) and standard deviations of the days."""
    case = mechanics_case("E-GUM-H.5")
    pattern = np.array([-2.0, -1.0, 0.0, 1.0, 2.0]) / math.sqrt(2.5)  # standard deviation 1
    days = [mean + s * pattern for mean, s in zip(*list(case.inputs.values())[:2], strict=True)]
    found = group_statistics(days)
    s_a = math.sqrt(case.inputs["readings"]) * found.s_of_means
    case.check(mean=found.mean, s_of_means=found.s_of_means, s_a=s_a, s_b=found.s_within, F=found.ratio)
    assert (found.dof_between, found.dof_within) == (9, 40)
    estimate = found.estimate()
    # H.5.2.5: the pooled figure treats the days as alike
    case.check(s_between=found.s_between, u=estimate.u, dof=estimate.dof, u_as_if_alike=found.pooled().u)
    # H.5.2.4: F(9, 40) at 5 % is 2.12, at 2.5 % 2.45: a difference between days at the one level, none at the other
    assert 0.025 < found.probability < 0.05


def test_H_2_resistance_and_reactance_from_correlated_readings(uncertainty_case: Case) -> None:
    """From the five raw sets; the rounded table gives r(R, X) = -0.591 instead of the printed -0.588."""
    case = uncertainty_case("gum-h2")
    columns = {
        name: np.array(case.inputs[key]) for name, key in (("V", "V_volt"), ("I", "I_ampere"), ("phi", "phi_rad"))
    }
    inputs = {name: Input.readings(name, samples) for name, samples in columns.items()}
    r = {pair: float(np.corrcoef(columns[pair[0]], columns[pair[1]])[0, 1]) for pair in combinations(columns, 2)}
    case.check(V=inputs["V"].value, u_V=inputs["V"].u, I_mA=1e3 * inputs["I"].value, u_I_mA=1e3 * inputs["I"].u)
    case.check(phi=inputs["phi"].value, u_phi=inputs["phi"].u)
    case.check(r_VI=r["V", "I"], r_Vphi=r["V", "phi"], r_Iphi=r["I", "phi"])

    correlations = [(one, other, value) for (one, other), value in r.items()]
    models: dict[str, Callable[..., Any]] = {
        "R": lambda v, i, phi: v / i * np.cos(phi),
        "X": lambda v, i, phi: v / i * np.sin(phi),
        "Z": lambda v, i, phi: v / i + 0 * phi,
    }
    results = {name: Budget(model, tuple(inputs.values()), correlations).evaluate() for name, model in models.items()}
    for name, estimate in results.items():
        case.check(**{name: estimate.value, f"u_{name}": estimate.u, "dof": estimate.dof})

    matrix = np.corrcoef(list(columns.values()))
    signed = {name: np.array([line.sensitivity * line.u for line in e.lines]) for name, e in results.items()}
    for one, other in combinations(results, 2):  # correlations of the results, JCGM 100, equation H.9
        covariance = signed[one] @ matrix @ signed[other]
        case.check(**{f"r_{one}{other}": covariance / (results[one].u * results[other].u)})


def test_H_3_thermometer_calibration_line(uncertainty_case: Case) -> None:
    case = uncertainty_case("gum-h3")
    t, b = np.array(case.inputs["t_degC"]), case.inputs["b_degC"]
    line = fit_line(t - case.inputs["t0"], b)
    u_y1, u_y2 = np.sqrt(np.diag(line.covariance))
    at_30 = line.at(case.inputs["predict_at"] - case.inputs["t0"])
    case.check(y1=line.intercept, u_y1=u_y1, y2=line.slope, u_y2=u_y2, r_y1y2=line.correlation, s=line.s, dof=line.dof)
    case.check(b_30=at_30.value, u_b_30=at_30.u, dof=at_30.dof)


def test_H_3_5_elimination_of_the_correlation(uncertainty_case: Case) -> None:
    case = uncertainty_case("gum-h3")
    t = np.array(case.inputs["t_degC"])
    line = fit_line(t - t.mean(), case.inputs["b_degC"])
    case.check(
        y1_centred=line.intercept, u_y1_centred=float(np.sqrt(line.covariance[0, 0])), r_centred=line.correlation
    )


def test_H_3_prediction_equals_a_budget_of_the_correlated_coefficients(uncertainty_case: Case) -> None:
    """H.3.4 says it the long way: propagate intercept, slope and their correlation (equation H.14)."""
    case = uncertainty_case("gum-h3")
    line = fit_line(np.array(case.inputs["t_degC"]) - case.inputs["t0"], case.inputs["b_degC"])
    u_y1, u_y2 = np.sqrt(np.diag(line.covariance))
    coefficients = [Input("y1", line.intercept, u_y1, line.dof, "t"), Input("y2", line.slope, u_y2, line.dof, "t")]
    estimate = Budget(lambda y1, y2: y1 + 10 * y2, coefficients, [("y1", "y2", line.correlation)]).evaluate()
    case.check(b_30=estimate.value, u_b_30=estimate.u, dof=estimate.dof)
