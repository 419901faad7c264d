"""Decision on conformity: examples of JCGM 106:2012 and the guard-band multiples of ILAC-G8:09/2019.

All figures recalled and reproduced by recomputation (b) unless data/uncertainty-cases.json says otherwise.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest
from scipy import stats as scipy_stats
from scipy.integrate import quad

from rigproof.uncertainty import (
    Rule,
    Tolerance,
    conformance_probability,
    decide,
    en_number,
    en_satisfactory,
    global_risk,
    normal_quantile,
)

stats: Any = scipy_stats  # it has no types

Case = Callable[[str], Any]
INF = math.inf


def test_7_3_3_example_1_breakdown_voltage(uncertainty_case: Case) -> None:
    case = uncertainty_case("jcgm106-7.3.3-ex1")
    given = case.inputs
    decision = decide(given["y"], given["u"], INF, Tolerance(None, given["T_U"]), Rule(risk=0.05))
    case.check(p_c=decision.conformance_probability, z=(given["T_U"] - given["y"]) / given["u"])
    assert decision.finding == "undecided"  # 0.92 < 0.95
    assert decide(given["y"], given["u"], INF, Tolerance(None, given["T_U"]), Rule(risk=0.10)).finding == "accept"


def test_7_3_3_example_2_bursting_strength(uncertainty_case: Case) -> None:
    case = uncertainty_case("jcgm106-7.3.3-ex2")
    given = case.inputs
    decision = decide(given["y"], given["u"], INF, Tolerance(given["T_L"], None), Rule())
    case.check(p_c=decision.conformance_probability, z=(given["y"] - given["T_L"]) / given["u"])
    assert decision.finding == "accept"


def test_7_4_two_sided_kinematic_viscosity_of_an_oil(mechanics_case: Case) -> None:
    case = mechanics_case("E-J106-oil")
    value, u, lower, upper = case.inputs.values()
    case.check(p_c=conformance_probability(value, u, INF, Tolerance(lower, upper)))


@pytest.mark.parametrize("p", [0.8, 0.9, 0.95, 0.99, 0.999])
def test_table_1_z_against_conformance_probability(uncertainty_case: Case, p: float) -> None:
    """The guard band of guarded acceptance, one limit, u = 1, is that z."""
    decision = decide(0.0, 1.0, INF, Tolerance(None, 100.0), Rule("guarded acceptance", risk=1 - p))
    uncertainty_case("jcgm106-table1").check(**{f"z_{p}": decision.guard_band})


def test_8_3_3_2_example_1_speed_limit_guarded_rejection(uncertainty_case: Case) -> None:
    """u is 2 % of the value: the least speed that is rejected at p_c <= 0.001 is 107 in whole km/h."""
    case = uncertainty_case("jcgm106-8.3.3.2")
    given = case.inputs
    tolerance, rule = Tolerance(None, float(given["T_U"])), Rule("guarded rejection", risk=1 - given["p_min"])

    def finding(speed: float) -> str:
        return decide(speed, given["u_rel"] * speed, INF, tolerance, rule).finding

    rejected_from = next(speed for speed in range(given["T_U"], 120) if finding(float(speed)) == "reject")
    case.check(A_U=rejected_from, guard_band=rejected_from - given["T_U"])
    assert finding(100.0) == "accept"
    assert finding(100.1) == finding(106.5) == "undecided"
    assert finding(106.6) == "reject"  # 106.588 solves the example's equation


def test_9_5_precision_resistors_global_risk(uncertainty_case: Case) -> None:
    """The acceptance limits ±0.18 Ω come from `decide` with the specific risk they stand for; risks by quadrature."""
    case = uncertainty_case("jcgm106-resistors")
    given = case.inputs
    tolerance, u = Tolerance(given["T_L"], given["T_U"]), given["u_m"]
    risk = 1 - conformance_probability(given["A_U"], u, INF, tolerance)
    decision = decide(1500.0, u, INF, tolerance, Rule("guarded acceptance", risk=risk))
    assert decision.acceptance_lower == pytest.approx(given["A_L"], abs=1e-9)
    assert decision.acceptance_upper == pytest.approx(given["A_U"], abs=1e-9)

    process, sigma = stats.norm(1500, 0.12), u

    def accepted(true: float) -> float:
        limits = [(limit - true) / sigma for limit in (decision.acceptance_lower, decision.acceptance_upper) if limit]
        return float(stats.norm.cdf(limits[1]) - stats.norm.cdf(limits[0]))

    def integral(function: Callable[[float], float], lower: float, upper: float) -> float:
        return float(quad(lambda true: process.pdf(true) * function(true), lower, upper)[0])

    case.check(
        conforming_without_inspection=float(process.cdf(given["T_U"]) - process.cdf(given["T_L"])),
        R_C=integral(accepted, 1499.0, given["T_L"]) + integral(accepted, given["T_U"], 1501.0),
        R_P=integral(lambda true: 1 - accepted(true), given["T_L"], given["T_U"]),
    )


def test_9_5_4_global_risk_of_precision_resistors(uncertainty_case: Case) -> None:
    """R_C = 1 % and R_P = 7 % with the guard band, 1.89 % and 3.72 % without it."""
    case = uncertainty_case("jcgm106-resistors")
    given = case.inputs
    tolerance, acceptance = Tolerance(given["T_L"], given["T_U"]), Tolerance(given["A_L"], given["A_U"])
    risk = global_risk(1500.0, 0.12, given["u_m"], tolerance, acceptance)
    case.check(conforming_without_inspection=risk.conforming, R_C=risk.consumer, R_P=risk.producer)
    shared = global_risk(1500.0, 0.12, given["u_m"], tolerance, tolerance)
    for name, computed in (("R_C_simple_acceptance", shared.consumer), ("R_P_simple_acceptance", shared.producer)):
        assert computed == pytest.approx(case.expected[name]["recomputed"], rel=1e-9)


def test_en_numbers(uncertainty_case: Case) -> None:
    """Constructed from the definition in ISO/IEC 17043; exactly 1 is satisfactory there (from memory)."""
    case = uncertainty_case("en-number")
    names = ("case1", "case2_boundary", "case3")
    numbers = [en_number(c["x"], c["X"], c["U"], c["Uref"]) for c in case.inputs["constructed"]]
    case.check(**dict(zip(names, numbers, strict=True)))
    assert [en_satisfactory(number) for number in numbers] == [True, True, False]


@pytest.mark.parametrize(
    ("multiple", "name"),
    [(0.83, "PFA_w_0.83U_ISO14253-1"), (1.0, "PFA_w_1U"), (1.5, "PFA_w_1.5U"), (3.0, "PFA_w_3U")],
)
def test_ilac_g8_table_1_multiples(uncertainty_case: Case, multiple: float, name: str) -> None:
    """A guard band of that multiple of U = 2u holds the specific risk of false acceptance under the printed bound."""
    case = uncertainty_case("ilac-g8-table1")
    u, tolerance = 0.5, Tolerance(None, 100.0)
    bound = case.expected[name]["published"]
    needed = decide(0.0, u, INF, tolerance, Rule("guarded acceptance", risk=bound)).guard_band
    assert needed < multiple * 2 * u
    by_multiple = decide(0.0, u, INF, tolerance, Rule("guarded acceptance", multiple=multiple))
    assert by_multiple.acceptance_upper == pytest.approx(100.0 - multiple * 2 * u, rel=1e-14)
    at_limit = 1 - conformance_probability(100.0 - multiple * 2 * u, u, INF, tolerance)
    case.check(**{name: at_limit})
    assert at_limit < bound


def test_ilac_g8_4_2_1_simple_acceptance_shares_the_risk(uncertainty_case: Case) -> None:
    decision = decide(100.0, 0.5, INF, Tolerance(None, 100.0), Rule("simple acceptance"))
    uncertainty_case("ilac-g8-table1").check(PFA_w_0=1 - decision.conformance_probability)
    assert decision.finding == "accept"
    assert decision.guard_band == 0


def test_iso_14253_1_default_probability() -> None:
    """ISO 14253-1:2017: 95 % and one limit give 1.65 u (memory, reproduced; 1.64 in JCGM 106)."""
    decision = decide(0.0, 2.0, INF, Tolerance(None, 100.0), Rule(risk=0.05))
    assert decision.guard_band / 2.0 == pytest.approx(1.65, abs=0.006)
    assert decision.guard_band / 2.0 == pytest.approx(normal_quantile(0.95), rel=1e-12)
