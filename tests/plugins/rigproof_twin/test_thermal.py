"""Temperature course, platinum sensor and shut-in water against tables and quadrature."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from rigproof_twin.physics.cylinder import Cylinder
from rigproof_twin.physics.thermal import TemperatureCourse, platinum_ohm
from rigproof_twin.physics.water import (
    compressibility_per_pa,
    density,
    expansion_per_k,
    pressure_per_kelvin,
    stiffness_left,
    taken_in,
)

COURSE = TemperatureCourse(start_c=20.0, drift_k_per_s=0.05 / 3600, swing_k=0.02, period_s=1200.0, phase_rad=0.7)
FILLED_COLD = TemperatureCourse(15.0, 0.05 / 3600, 0.02, 1200.0, 0.7, approach_k=5.0, approach_s=180.0)


@pytest.mark.parametrize(
    ("celsius", "ohm"),
    [(-100, 60.26), (-50, 80.31), (0, 100.00), (20, 107.79), (50, 119.40), (100, 138.51), (200, 175.86), (300, 212.05)],
)
def test_platinum_sensor_is_the_table_of_iec_60751(celsius: float, ohm: float) -> None:
    """IEC 60751, table of resistances (from memory), printed to 0.01 Ω."""
    assert float(platinum_ohm(celsius)) == pytest.approx(ohm, abs=0.0055)


def test_course_starts_where_it_is_told_and_drifts() -> None:
    still = TemperatureCourse(20.0, 1.0 / 3600, 0.0, 1200.0, 0.0)
    assert still.at(np.array([0.0, 3600.0])) == pytest.approx([20.0, 21.0])


def test_what_was_filled_in_cold_comes_to_the_bay() -> None:
    """Newton's law of cooling: 1/e of the difference is left after one time constant."""
    course = TemperatureCourse(15.0, 0.0, 0.0, 1200.0, 0.0, approach_k=5.0, approach_s=180.0)
    assert course.at(np.array([0.0, 180.0, 1e5])) == pytest.approx([15.0, 20.0 - 5.0 / math.e, 20.0])
    assert course.bay_c == 20.0


@pytest.mark.parametrize("course", [COURSE, FILLED_COLD], ids=["still", "filled cold"])
@pytest.mark.parametrize("fade_s", [30.0, 180.0, 5000.0, 1e9, np.inf])
def test_faded_rise_is_the_integral_it_claims(fade_s: float, course: TemperatureCourse) -> None:
    def slope(t: float) -> float:
        step = 1e-3
        above, below = course.at(np.array([t + step, t - step]))
        return float(above - below) / (2 * step)

    expected, _ = quad(lambda s: slope(s) * np.exp(-(900.0 - s) / fade_s), 100.0, 900.0, limit=200)
    assert float(course.faded_rise(100.0, np.array(900.0), fade_s)) == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize(
    ("celsius", "kg_per_m3"), [(0, 999.84), (4, 999.97), (10, 999.70), (20, 998.21), (25, 997.05), (50, 988.04)]
)
def test_density_of_water_is_the_handbook_table(celsius: float, kg_per_m3: float) -> None:
    """Table of the density of air-free water, CRC Handbook (from memory), to 0.01 kg/m³."""
    assert density(celsius) == pytest.approx(kg_per_m3, abs=0.006)


def test_water_at_20_degrees_is_as_commonly_stated() -> None:
    """Expansion 2.07e-4/K and bulk modulus 2.18 GPa at 20 °C (common practice, no source)."""
    assert expansion_per_k(20.0) == pytest.approx(2.07e-4, rel=3e-3)
    assert 1 / compressibility_per_pa(20.0) == pytest.approx(2.18e9, rel=2e-3)


@pytest.mark.parametrize(("r_over_t", "bar_per_k"), [(10, 3.1), (20, 2.6)])
def test_shut_in_water_in_a_steel_pipe(r_over_t: float, bar_per_k: float) -> None:
    """(b - 3a)/(1/K + (r/tE)(2.5 - 2 nu)) gives 3.1 and 2.6 bar/K at 20 °C (common practice, no source)."""
    pipe = Cylinder(r_over_t - 0.5, r_over_t + 0.5, 206e9, 0.3, 12e-6, 235e6, "closed")
    rise = pressure_per_kelvin(20.0, pipe.expansion_per_k, pipe.growth_per_pa)
    assert rise / 1e5 == pytest.approx(bar_per_k, rel=0.02)


def test_what_goes_in_is_the_integral_of_what_gives_way() -> None:
    """The volume taken in and the stiffness that gas leaves are two faces of one thing, each written by itself."""
    per_pa, share = 7e-10, 0.02
    expected, _ = quad(lambda p: per_pa / stiffness_left(share, p, per_pa), 0.0, 6e5)
    assert taken_in(share, 6e5, per_pa) == pytest.approx(expected, rel=1e-8)
