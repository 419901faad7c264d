"""Predicted strains, the distance of interlocks, and the cautions that follow from the documents alone."""

from __future__ import annotations

from collections.abc import Callable
from math import sqrt

import numpy as np
import pytest

from rigproof.run.foresight import standings, strain_at
from rigproof.run.plan import Plan

Planned = Callable[..., Plan]
PROOF = "  - proof: {source: pump, to: 35.75 bar}\n"  # 36.1075 bar with its margin


def about(plan: Plan, word: str) -> list[str]:
    return [caution for caution in plan.cautions() if word in caution]


def test_predicted_strain_and_its_u_by_hand(planned: Planned) -> None:
    """Thick closed cylinder, outside: hoop (2 - nu), axial (1 - 2 nu) times p ri²/((ro² - ri²) E), as any text has it.

    With its derivatives by ro, t, E and nu; limits even within them, the wall normal, U at 99 % by a million draws.
    """
    bits = np.random.default_rng(3)
    plan = planned(PROOF, ("transverse sensitivity: 0.4 % ± 0.2 %", "transverse sensitivity: 0 %"))
    ro, t, nu = 0.2191 / 2, 4.52e-3, 0.29
    ri = ro - t
    spread = ro**2 - ri**2
    per_wall = -t * (2 / ri + 2 * ri / spread)  # d ln(ri²/(ro² - ri²)) / d ln t
    per_radius = ro * (2 / ri - 2 * (ro - ri) / spread)
    limits = (0.002 * per_radius, 0.02, 0.001, 0.005 / 30)  # radius, modulus, load of reading, its zero drift
    for name, of_nu, per_nu in (("hoop", 2 - nu, 1.0), ("axial", 1 - 2 * nu, 2.0)):
        strain, expanded = strain_at(plan.rig, name, "pressure", 30e5, plan.procedure.decision)
        assert strain == pytest.approx(30e5 * ri**2 / spread * of_nu / 206e9, rel=1e-6)
        draws = 0.03 / 4.52 * per_wall * bits.standard_normal(10**6)
        for limit in (*limits, per_nu * 0.01 / of_nu):
            draws += limit * bits.uniform(-1, 1, 10**6)
        assert expanded == pytest.approx(float(np.quantile(np.abs(draws), 0.99)) * strain, rel=3e-3)


def test_the_spool_stays_clear_of_its_interlocks(spool: Plan) -> None:
    found = {each.lock.name: each for each in standings(spool.rig, 36.1075e5, spool.procedure.decision)}
    assert list(found) == ["overpressure", "hoop strain", "limit of pump"]
    assert not any(each.trips for each in found.values())
    wide, narrow = 36.1075 * 0.001, 0.02  # of reading 0.1 %, fixed 0.02 bar: their sum is a trapezoid
    expanded = wide + narrow - sqrt(8 * wide * narrow * 0.005)  # 0.5 % lie beyond: (w + n - x)²/(8 w n)
    assert found["overpressure"].distance == pytest.approx((38 - 36.1075 - expanded) * 1e5, rel=1e-4)
    assert about(spool, "Interlock") == []


@pytest.mark.parametrize(
    ("limit", "word"),
    [("36 bar", "'overpressure' would trip before the highest load of 36.11 bar"), ("36.15 bar", "'overpressure' may")],
)
def test_an_interlock_below_the_highest_load_is_a_caution(planned: Planned, limit: str, word: str) -> None:
    (caution,) = about(planned(PROOF, ("above: 38 bar", f"above: {limit}")), "Interlock")
    assert word in caution
    assert f"its limit is {limit}" in caution


@pytest.mark.parametrize(("limit", "word"), [("330 µε", "would trip"), ("349 µε", "may trip"), ("360 µε", "")])
def test_a_strain_interlock_is_held_against_the_predicted_strain(planned: Planned, limit: str, word: str) -> None:
    """342 ± 11 µε at the top."""
    cautions = about(planned(PROOF, ("above: 700 µε", f"above: {limit}")), "Interlock 'hoop strain'")
    assert len(cautions) == (1 if word else 0)
    assert all(word in caution and "± 11 µε" in caution for caution in cautions)


def test_a_lower_limit_trips_without_load(planned: Planned) -> None:
    (caution,) = about(planned(PROOF, ("above: 38 bar", "below: 0.01 bar")), "Interlock")
    assert "'overpressure' would trip" in caution
    assert "0.000 ± 0.020 bar" in caution  # fixed 0.02 bar: 99 % of it


def test_two_channels_on_one_input(planned: Planned) -> None:
    change = ("    input: 2\n    accuracy: {of reading: 0.05 %", "    input: 1\n    accuracy: {of reading: 0.05 %")
    assert about(planned(PROOF, change), "same input") == [
        "hoop, axial read the same input 1 of bridge: correct one of them."
    ]


def test_excitation_beyond_the_power_density_is_a_caution(planned: Planned, spool: Plan) -> None:
    """12 V on 350 Ω and 18 mm²: 144/(4 · 350 · 18e-6) = 5714 W/m²; 5000 W/m² allow 2 sqrt(350 · 18e-6 · 5000) V."""
    (caution,) = about(planned(PROOF, ("excitation: 2.5 V", "excitation: 12 V")), "12 V")
    assert caution.startswith("hoop, axial: 12 V leaves 5.7 kW/m² in the grid, above the 5 kW/m²")
    assert "11.22 V or less" in caution
    assert about(spool, "kW/m²") == []


UNSAID = (("    temperature: wall temperature ", "    # "), ("    compensated for: 11 ppm/K ± 0.5 ppm/K\n", ""))


def test_what_a_gauge_does_not_state_is_said_and_not_guessed(planned: Planned) -> None:
    bare = planned(PROOF, ("    power density: 5 kW/m²", ""), *UNSAID)
    assert about(bare, "for want of `power density:`")
    assert about(bare, "for want of `compensated for:`")
