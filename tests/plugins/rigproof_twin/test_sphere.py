"""The sphere from its boundary-value problem against the closed solutions of textbooks."""

from __future__ import annotations

import numpy as np
import pytest

from rigproof_twin.as_built import Ball
from rigproof_twin.physics.cylinder import TANGENT_RATIO
from rigproof_twin.physics.sphere import Sphere

THICK = Sphere(40e-3, 80e-3, 200e9, 0.3, 12e-6, 250e6)


@pytest.mark.parametrize("radius", np.linspace(40e-3, 80e-3, 5))
def test_stresses_are_those_of_lame(radius: float) -> None:
    """Timoshenko and Goodier, art. 136 (from memory): A(1 - b³/r³) and A(1 + b³/(2 r³)), A = a³/(b³ - a³)."""
    a, b = THICK.inner_m, THICK.outer_m
    level = a**3 / (b**3 - a**3)
    expected = (level * (1 - b**3 / radius**3), level * (1 + b**3 / (2 * radius**3)))
    assert THICK.stress_per_pa(float(radius)) == pytest.approx(expected, rel=1e-9, abs=1e-12)


def test_strain_of_the_outer_skin() -> None:
    """e = 1.5 p (1 - nu)/(E (k³ - 1)) (trade-tables.md 1, CYL-12)."""
    assert THICK.strain_per_pa(THICK.outer_m) == pytest.approx(1.5 * 0.7 / (200e9 * 7), rel=1e-12)
    ball = Ball(160e-3, 40e-3, 200e9, 0.3, 12e-6, 250e6, gauges_outside=True)
    seen = ball.response("surface")
    assert (seen.along_per_load, seen.across_per_load) == pytest.approx([1.5 * 0.7 / (200e9 * 7)] * 2, rel=1e-9)


def test_a_thin_one_is_p_r_over_2_t() -> None:
    """e = p r (1 - nu)/(2 E t), the cavity grows by three of it (textbooks); a wall of r/1000 departs by as much."""
    thin = Sphere(1.0, 1.001, 200e9, 0.3, 12e-6, 250e6)
    assert thin.strain_per_pa(1.001) == pytest.approx(0.7 / (2 * 200e9 * 1e-3), rel=2e-3)
    assert thin.growth_per_pa == pytest.approx(3 * 0.7 / (2 * 200e9 * 1e-3), rel=3e-3)


def test_it_yields_in_the_middle_of_the_wall() -> None:
    """Tangential less radial stress is 3/2 A b³/r³; half as much again leaves 9 halves of the yield strain."""
    a, b, r = THICK.inner_m, THICK.outer_m, 60e-3
    yields = 250e6 / (1.5 * a**3 / (b**3 - a**3) * b**3 / r**3)
    left = THICK.plastic_strain(np.array([0.999 * yields, 1.5 * yields]))
    assert left == pytest.approx([0.0, 0.5 * 250e6 / 200e9 * (1 / TANGENT_RATIO - 1)], rel=1e-9)
