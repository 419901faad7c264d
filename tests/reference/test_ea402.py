"""Budgets of the supplement of EA-4/02 (numbering of the issues 1999 and 2013), by first order and by Monte Carlo."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest

from rigproof.uncertainty import Budget, Input, first_order_law, monte_carlo, validate

Case = Callable[[str], Any]


def test_S2_weight_of_10_kg(uncertainty_case: Case) -> None:
    case = uncertainty_case("ea402-s2")
    given = case.inputs

    def budget(u_difference_mg: float) -> Budget:
        inputs = [
            Input.certificate("mS", 1e3 * given["mS"]["x"], given["mS"]["U_mg"], given["mS"]["k"], unit="mg"),
            Input.limits("drift", 0.0, given["drift_half_width_mg"], unit="mg"),
            Input("difference", 1e3 * given["dm"]["x_g"], u_difference_mg, unit="mg"),
            Input.limits("eccentricity, magnetism", 0.0, given["eccentricity_magnetic_half_width_mg"], unit="mg"),
            Input.limits("buoyancy", 0.0, given["buoyancy_half_width_mg"], unit="mg"),
        ]
        return Budget(lambda *parts: sum(parts), inputs)

    estimate = budget(given["dm"]["s_pooled_mg"] / math.sqrt(given["dm"]["n"])).evaluate()
    case.check(mX_g=estimate.value / 1e3, u_mg=estimate.u, U_mg=2 * estimate.u)
    found = validate(estimate, 0.9545, digits=1)  # k = 2 for a normal law; the example states U to whole mg
    assert found.valid
    assert found.trials.u == pytest.approx(estimate.u, rel=0.01)
    assert (found.trials.upper - found.trials.lower) / 2 == pytest.approx(2 * estimate.u, rel=0.01)
    case.check(u_mg_page_seen=budget(14.2).evaluate().u)  # the page seen prints 14.2 mg there


def test_S9_hand_held_multimeter_at_100_v(uncertainty_case: Case) -> None:
    """The printed k = 1.65 is that of the one dominant rectangle; first order with k = 1.96 stays on the safe side."""
    case = uncertainty_case("ea402-s9")
    given = case.inputs
    inputs = [
        Input.exact("ViX", given["ViX"], unit="V"),
        Input.certificate("VS", given["VS"]["x"], given["VS"]["U"], given["VS"]["k"], unit="V"),
        Input.limits("dViX", 0.0, given["dViX_half"], unit="V"),
        Input.limits("dVS", 0.0, given["dVS_half"], unit="V"),
    ]
    estimate = Budget(lambda v, vs, dv, dvs: v - vs + dv - dvs, inputs).evaluate()
    case.check(EX=estimate.value, u=estimate.u)
    shares = {line.input: line.share for line in estimate.lines}
    assert shares["dViX"] > 0.95
    assert sum(shares.values()) == pytest.approx(1.0, rel=1e-12)
    exact = case.expected["half_width_95_exact"]["recomputed"]
    assert estimate.expanded(0.95)[1] > exact

    found = validate(estimate, 0.95)
    assert not found.valid
    convolved = first_order_law(estimate).coverage(0.95)[1]
    assert convolved == pytest.approx(exact, abs=2e-5)  # the case's figure comes from trials
    assert convolved == pytest.approx(0.0505597, abs=1e-7)  # by scipy's double quadrature
    assert (found.trials.upper - found.trials.lower) / 2 == pytest.approx(exact, abs=2e-4)
    alone = monte_carlo(Budget(lambda dv: dv, inputs[2:3]))
    case.check(k=alone.upper / alone.u)
    case.check(EX=estimate.value, u=found.trials.u, U=(found.trials.upper - found.trials.lower) / 2)
    assert exact / found.trials.u == pytest.approx(1.71, abs=0.01)  # the note's k of the full convolution
