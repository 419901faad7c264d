"""The model's water against other formulas than its own."""

from __future__ import annotations

import numpy as np
import pytest

from rigproof_parts import water

CELSIUS = np.linspace(0.5, 40.0, 80)


def tanaka_density(t: np.ndarray[tuple[int], np.dtype[np.float64]]) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Tanaka et al., Metrologia 38 (2001) 301-309, equation 1, 0 °C to 40 °C (from memory)."""
    return np.asarray(999.97495 * (1 - (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881))))


def test_density_agrees_with_the_later_formula() -> None:
    assert water.density_kg_per_m3(CELSIUS) == pytest.approx(tanaka_density(CELSIUS), rel=1e-5)


@pytest.mark.parametrize(
    ("celsius", "density"), [(4.0, 999.972), (20.0, 998.204), (25.0, 997.045), (50.0, 988.035), (100.0, 958.365)]
)
def test_density_is_that_of_the_tables(celsius: float, density: float) -> None:
    """Handbook figures (from memory), which go back to Kell; the last ones lie beyond the other formula."""
    assert water.density_kg_per_m3(celsius) == pytest.approx(density, abs=6e-3)


def test_expansion_is_the_slope_of_either_density() -> None:
    step = 0.01
    for density in (water.density_kg_per_m3, tanaka_density):
        slope = (np.asarray(density(CELSIUS + step)) - np.asarray(density(CELSIUS - step))) / (2 * step)
        assert water.expansion_per_k(CELSIUS) == pytest.approx(-slope / np.asarray(density(CELSIUS)), abs=5e-7)


def test_water_is_densest_at_four_degrees() -> None:
    assert water.expansion_per_k(3.98) == pytest.approx(0, abs=2e-7)
    assert water.expansion_per_k(2.0) < 0 < water.expansion_per_k(6.0)


@pytest.mark.parametrize(
    ("celsius", "sound_m_per_s", "heat_j_per_kg_k"),
    [(20.0, 1482.3, 4184.0), (25.0, 1496.7, 4181.0), (40.0, 1528.9, 4179.0)],
)
def test_compressibility_follows_from_the_speed_of_sound(
    celsius: float, sound_m_per_s: float, heat_j_per_kg_k: float
) -> None:
    """k_T = 1/(rho c²) + T b²/(rho cp), with c of Del Grosso and Mader 1972 (from memory)."""
    density, expansion = water.density_kg_per_m3(celsius), water.expansion_per_k(celsius)
    isothermal = 1 / (density * sound_m_per_s**2) + (273.15 + celsius) * expansion**2 / (density * heat_j_per_kg_k)
    assert water.compressibility_per_pa(celsius) == pytest.approx(
        isothermal, rel=1e-4, abs=0
    )  # not the default abs of 1e-12


def test_the_trade_figures_at_twenty_degrees() -> None:
    """Bulk modulus 2.18 GPa, expansion 2.07e-4 1/K (from memory)."""
    assert 1 / water.compressibility_per_pa(20.0) == pytest.approx(2.18e9, abs=0.005e9)
    assert water.expansion_per_k(20.0) == pytest.approx(2.07e-4, abs=0.005e-4)
