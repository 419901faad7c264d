"""What everyone at a bench knows. Common practice, no source: none of these figures is quoted as a requirement."""

from __future__ import annotations

import numpy as np
import pytest

from rigproof_strain import bridge, leads, thermal
from rigproof_strain.quarter import QuarterBridge

INCH, MILE = 0.0254, 1609.344  # m, exact by definition
STEEL, ALUMINIUM = 11.5e-6, 23.5e-6  # 1/K, middle of what tables print


def test_one_microstrain_is_one_inch_in_about_15_8_miles() -> None:
    miles = INCH / 1e-6 / MILE
    assert miles == pytest.approx(15.8, abs=0.05)


def test_one_microstrain_moves_a_350_ohm_gauge_by_0_7_milliohm() -> None:
    model = QuarterBridge.model_validate({"wires": "3", "lead": "0 Ω"})
    change = 0.7e-3 / 350.0
    assert model.reduce(bridge.output(change, 0.0), 0.0, 350.0, 2.0, 0.0, 0.0) == pytest.approx(1e-6, rel=1e-9)


@pytest.mark.parametrize("wires", [2, 3])
def test_three_leads_in_a_quarter_bridge_cancel_the_temperature_of_the_leads(wires: int) -> None:
    """20 m of thin copper, 1.7 Ω a conductor, 15 K warmer: nothing on three wires, hundreds of µε on two."""
    model = QuarterBridge.model_validate({"wires": str(wires), "lead": "1.7 Ω"})

    def output(lead: float) -> float:
        gauge_arm = 350.0 + lead * (2 if wires == 2 else 1)
        other_arm = 350.0 + (lead if wires == 3 else 2 * 1.7)  # on two wires the instrument balances cold leads
        return gauge_arm / (gauge_arm + other_arm) - 0.5

    cold, warm = output(1.7), output(1.7 * (1 + leads.COPPER_PER_K * 15))
    shown = float(model.reduce(warm, cold, 350.0, 2.0, 0.0, 1.7))
    if wires == 3:
        assert abs(shown) < 1e-12
    else:
        assert shown == pytest.approx(leads.false_strain_per_k(350.0, 2.0, 1.7) * 15, rel=1e-9)
        assert shown > 200e-6


def test_a_gauge_compensated_for_steel_on_aluminium_shows_roughly_12_microstrain_per_kelvin() -> None:
    assert thermal.mismatch(ALUMINIUM, STEEL, 1.0) * 1e6 == pytest.approx(12.0, abs=1.0)


def test_the_touch_of_a_hand_moves_the_zero_of_an_aluminium_part() -> None:
    """A hand warms the part by about a kelvin: several times what a settled channel drifts (2 to 5 µε)."""
    assert thermal.mismatch(ALUMINIUM, STEEL, 1.0) > 2 * 5e-6


def test_a_gauge_factor_of_two_and_a_quarter_bridge_give_half_a_millivolt_per_volt_at_1000_microstrain() -> None:
    assert bridge.output(2.0 * 1000e-6, 0.0) * 1e3 == pytest.approx(0.5, rel=2e-3)


def test_zero_returns_and_readings_repeat_for_an_elastic_part() -> None:
    """Up and down the same steps: an ideal bridge has no memory, so whatever fails to return is the installation's."""
    model = QuarterBridge.model_validate({"wires": "3", "lead": "0.8 Ω"})
    steps = np.concatenate([np.linspace(0, 500e-6, 6), np.linspace(500e-6, 0, 6)])
    sensitivity = 2.0 * leads.desensitisation(350.0, 0.8)
    read = model.reduce(bridge.output(sensitivity * steps, 0.0), 0.0, 350.0, 2.0, 0.0, 0.8)
    assert np.asarray(read)[:6] == pytest.approx(np.asarray(read)[:5:-1], abs=1e-16)
    assert np.asarray(read)[[0, -1]] == pytest.approx([0.0, 0.0], abs=1e-18)
