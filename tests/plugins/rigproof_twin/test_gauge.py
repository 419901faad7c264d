"""The bonded gauge against the definition of the gauge factor and published thermal output."""

from __future__ import annotations

import numpy as np
import pytest

from rigproof_twin.physics.cylinder import Response
from rigproof_twin.physics.gauge import BondedGauge, axial_and_transverse
from rigproof_twin.physics.history import Strained

REST = 350.4


def gauge(
    factor: float = 2.08, kt: float = 0.0, mismatch: float = 0.0, transfer: float = 1.0, give: float = 0.0
) -> BondedGauge:
    along, across = axial_and_transverse(factor, kt)
    return BondedGauge(REST, along, across, mismatch, 0.0, transfer, give, opens_at_s=100.0)


def change(
    bonded: BondedGauge,
    along: float,
    across: float,
    lagging: float = 0.0,
    plastic: float = 0.0,
    celsius: float = 20.0,
    time_s: float = 0.0,
) -> float:
    """dR/R when the part is loaded by 1 Pa and strains by `along` and `across` per pascal."""
    one = np.ones(1)
    state = Strained(time_s * one, one, one, plastic * one, lagging * one, 0 * one, 0 * one)
    ohm = bonded.resistance_ohm(Response(along, across, 0.866, -0.4), state, celsius * one)
    return float(ohm[0]) / REST - 1.0


@pytest.mark.parametrize("kt", [0.0, 0.004, -0.01, 0.03])
def test_gauge_factor_is_what_the_calibration_bar_shows(kt: float) -> None:
    """The gauge factor is (dR/R)/e in a uniaxial stress field on a material of Poisson's ratio 0.285 (definition)."""
    assert change(gauge(kt=kt), 1000e-6, -285e-6) / 1000e-6 == pytest.approx(2.08, rel=1e-12)


@pytest.mark.parametrize(("ratio", "error"), [(0.2353, 0.005218), (4.25, 0.04548)])
def test_transverse_sensitivity_on_a_closed_cylinder(ratio: float, error: float) -> None:
    """Kt 1 %, nu 0.3: hoop 0.52 %, axial 4.5 % high: Kt(et/ea + nu0)/(1 - nu0 Kt) (common practice, no source)."""
    reported = change(gauge(kt=0.01), 100e-6, ratio * 100e-6) / 2.08
    assert reported / 100e-6 - 1 == pytest.approx(error, abs=2e-5)


def test_thermal_output_of_a_steel_gauge_on_aluminium() -> None:
    """+11.9 µε/K: expansion of 6061 (23.6) less that of the steel it is made for (11.7), ppm/K (common practice)."""
    per_kelvin = change(gauge(mismatch=11.9e-6), 0.0, 0.0, celsius=21.0) / 2.08
    assert per_kelvin == pytest.approx(11.9e-6, rel=1e-9)


def test_a_matched_gauge_has_no_thermal_output() -> None:
    assert change(gauge(kt=0.004), 0.0, 0.0, celsius=50.0) == pytest.approx(0.0, abs=1e-15)


def test_a_soft_bond_gives_up_its_share_of_the_lagging_load() -> None:
    whole = change(gauge(), 100e-6, 0.0)
    assert change(gauge(give=0.05), 100e-6, 0.0, lagging=0.6) == pytest.approx(0.97 * whole, rel=1e-9)


def test_a_loose_gauge_passes_only_part_of_the_strain() -> None:
    assert change(gauge(transfer=0.85), 100e-6, 0.0) == pytest.approx(0.85 * change(gauge(), 100e-6, 0.0), rel=1e-9)


def test_plastic_strain_of_the_part_is_seen() -> None:
    set_ = change(gauge(), 0.0, 0.0, plastic=100e-6)
    assert set_ / 2.08 == pytest.approx(86.6e-6, rel=1e-9)


def test_an_open_gauge_has_no_resistance() -> None:
    assert np.isnan(change(gauge(), 0.0, 0.0, time_s=100.0))
