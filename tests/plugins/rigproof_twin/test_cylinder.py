"""The cylinder from its boundary-value problem against the closed solutions of textbooks."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import numpy as np
import pytest

from rigproof_twin.physics.cylinder import AXIAL, HOOP, RADIAL, TANGENT_RATIO, Cylinder

Ends = Literal["closed", "open", "fixed"]
SPOOL = Cylinder(105.03e-3, 109.55e-3, 206e9, 0.29, 11.7e-6, 235e6, "closed")
THICK = Cylinder(40e-3, 80e-3, 200e9, 0.3, 12e-6, 250e6, "closed")


@pytest.mark.parametrize("ends", ["closed", "open", "fixed"])
@pytest.mark.parametrize("start", [SPOOL, THICK])
def test_stresses_are_those_of_lame(start: Cylinder, ends: Ends) -> None:
    """Timoshenko and Goodier, Theory of Elasticity, thick cylinder (from memory): A(1 ∓ b²/r²), A = a²/(b² - a²)."""
    cylinder = replace(start, ends=ends)
    a, b, nu = cylinder.inner_m, cylinder.outer_m, cylinder.poisson_ratio
    level = a**2 / (b**2 - a**2)
    axial = {"closed": level, "open": 0.0, "fixed": 2 * nu * level}[ends]
    for radius in np.linspace(a, b, 5):
        expected = [level * (1 - b**2 / radius**2), level * (1 + b**2 / radius**2), axial]
        assert cylinder.stress_per_pa(radius) == pytest.approx(expected, rel=1e-9, abs=1e-9)


def test_boundary_conditions_hold() -> None:
    assert THICK.stress_per_pa(THICK.inner_m)[RADIAL] == pytest.approx(-1.0, rel=1e-12)
    assert THICK.stress_per_pa(THICK.outer_m)[RADIAL] == pytest.approx(0.0, abs=1e-12)


def test_strains_on_the_outside_are_those_of_the_trade() -> None:
    """Outside, closed: e_h = p(2 - nu)/(E(K² - 1)), e_l = p(1 - 2 nu)/(E(K² - 1)) (Lamé; from memory)."""
    k = (SPOOL.outer_m / SPOOL.inner_m) ** 2 - 1
    strain = 2.5e6 * SPOOL.strain_per_pa(SPOOL.outer_m)
    assert strain[HOOP] == pytest.approx(2.5e6 * (2 - 0.29) / (206e9 * k), rel=1e-9)
    assert strain[AXIAL] == pytest.approx(2.5e6 * (1 - 0.58) / (206e9 * k), rel=1e-9)


def test_strains_inside_an_open_cylinder() -> None:
    """Inside, open: e_h = p[(1 + nu)K² + 1 - nu]/(E(K² - 1)) (Lamé; common practice, no source)."""
    pipe = replace(THICK, ends="open")
    k2 = 4.0
    expected = ((1.3 * k2) + 0.7) / (200e9 * (k2 - 1))
    assert pipe.strain_per_pa(pipe.inner_m)[HOOP] == pytest.approx(expected, rel=1e-12)


def test_growth_of_a_thin_closed_cylinder() -> None:
    """dV/V = (p r/(t E))(2.5 - 2 nu), thin-walled (common practice, no source)."""
    thin = Cylinder(1.0, 1.001, 200e9, 0.3, 12e-6, 250e6, "closed")
    assert thin.growth_per_pa == pytest.approx(1000.5 / 200e9 * 1.9, rel=2e-3)


def test_a_gauge_sees_along_and_across_by_its_place() -> None:
    hoop, axial = SPOOL.response("hoop", SPOOL.outer_m), SPOOL.response("axial", SPOOL.outer_m)
    assert (hoop.along_per_load, hoop.across_per_load) == (axial.across_per_load, axial.along_per_load)
    assert hoop.along_per_load / axial.along_per_load == pytest.approx((2 - 0.29) / (1 - 0.58), rel=1e-9)


def test_nothing_is_left_below_yield() -> None:
    assert SPOOL.plastic_strain(np.array([0.0, 3.575e6])) == pytest.approx([0.0, 0.0], abs=0.0)


def test_plastic_strain_is_bilinear_beyond_yield() -> None:
    """Yield by von Mises: in a thin closed cylinder sqrt(3)/2 of the hoop stress (common practice, no source)."""
    weak = Cylinder(1.0, 1.001, 200e9, 0.3, 12e-6, 70e6, "closed")
    equivalent = np.sqrt(3) / 2 * 1000.5
    pressure = np.array([80e6, 90e6]) / equivalent
    expected = np.array([10e6, 20e6]) / 200e9 * (1 / TANGENT_RATIO - 1)
    assert weak.plastic_strain(pressure) == pytest.approx(expected, rel=2e-2)


def test_a_closed_thin_cylinder_flows_round_but_not_along() -> None:
    """The axial stress is the mean of hoop and radial there: no deviator, no flow (Prandtl and Reuss; from memory)."""
    hoop = Cylinder(1.0, 1.001, 200e9, 0.3, 12e-6, 70e6, "closed").response("hoop", 1.001)
    assert hoop.plastic_along == pytest.approx(np.sqrt(3) / 2, rel=1e-3)
    assert hoop.plastic_across == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize("off", [-0.7, -0.05, 0.0, 0.3, 1.2])
def test_a_gauge_anywhere_sees_mohrs_circle(off: float) -> None:
    """Strain at an angle t from the hoop: centre + radius cos 2t (Mohr; any text), wherever its mark is."""
    strain = THICK.strain_per_pa(THICK.outer_m)
    centre, radius = (strain[HOOP] + strain[AXIAL]) / 2, (strain[HOOP] - strain[AXIAL]) / 2
    for place, mark in (("hoop", 0.0), ("45°", np.pi / 4), ("axial", np.pi / 2)):
        seen = THICK.response(place, THICK.outer_m).turned(off)
        assert seen.along_per_load == pytest.approx(centre + radius * np.cos(2 * (mark + off)), rel=1e-12)
        assert seen.across_per_load == pytest.approx(centre - radius * np.cos(2 * (mark + off)), rel=1e-12)
        plain, back = THICK.response(place, THICK.outer_m), seen.turned(-off)
        assert (back.along_per_load, back.shear_per_load) == pytest.approx((plain.along_per_load, plain.shear_per_load))
        assert (back.plastic_along, back.plastic_shear) == pytest.approx((plain.plastic_along, plain.plastic_shear))
