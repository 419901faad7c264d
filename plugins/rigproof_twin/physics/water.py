"""Water shut into a vessel: how its pressure follows its temperature.

Density and compressibility at atmospheric pressure after G. S. Kell, J. Chem. Eng. Data 20 (1975) 97; the coefficients
are from memory, and the tests compare them with table values. Valid from 0 °C to 100 °C.
"""

from __future__ import annotations

import numpy as np

ATMOSPHERE_PA = 101325.0

_DENSITY = (999.83952, 16.945176, -7.9870401e-3, -46.170461e-6, 105.56302e-9, -280.54253e-12)
_DENSITY_BELOW = (1.0, 16.879850e-3)
_COMPRESSIBILITY = (50.88496, 0.6163813, 1.459187e-3, 20.08438e-6, -58.47727e-9, 410.4110e-12)
_COMPRESSIBILITY_BELOW = (1.0, 19.67348e-3)


def density(temperature_c: float) -> float:
    """Density of air-free water (kg/m³)."""
    return _rational(temperature_c, _DENSITY, _DENSITY_BELOW)


def compressibility_per_pa(temperature_c: float) -> float:
    """Isothermal compressibility (1/Pa)."""
    return 1e-11 * _rational(temperature_c, _COMPRESSIBILITY, _COMPRESSIBILITY_BELOW)


def expansion_per_k(temperature_c: float) -> float:
    """Volumetric expansion (1/K): the slope of the density."""
    step = 0.01
    rise = density(temperature_c + step) - density(temperature_c - step)
    return -rise / (2.0 * step) / density(temperature_c)


def pressure_per_kelvin(temperature_c: float, vessel_expansion_per_k: float, vessel_growth_per_pa: float) -> float:
    """Rise of pressure per kelvin (Pa/K) of water that fills a closed vessel.

    Water and cavity keep the same volume: beta dT - kappa dp = 3 alpha dT + growth dp, with the vessel's linear
    expansion alpha and its relative growth of volume per pascal.
    """
    excess = expansion_per_k(temperature_c) - 3.0 * vessel_expansion_per_k
    return excess / (compressibility_per_pa(temperature_c) + vessel_growth_per_pa)


def stiffness_left(gas_share: float, pressure_pa: float, filled_per_pa: float) -> float:
    """Share of a filled vessel's stiffness that trapped gas leaves at a gauge pressure.

    `gas_share` of the cavity is gas before the pressure comes; it keeps p V (Boyle: slow enough to stay at one
    temperature), so that it gives by gas_share p0/(p0 + p)² per pascal beside the `filled_per_pa` of water and vessel.
    """
    gas_per_pa = gas_share * ATMOSPHERE_PA / (ATMOSPHERE_PA + pressure_pa) ** 2
    return filled_per_pa / (filled_per_pa + gas_per_pa)


def taken_in(gas_share: float, pressure_pa: float, filled_per_pa: float) -> float:
    """Water that has gone in up to a gauge pressure, as a share of the cavity: the integral of what gives way.

    Water and vessel take in `filled_per_pa` for each pascal; the gas, which keeps p V, makes room as it shrinks.
    """
    left = ATMOSPHERE_PA / (ATMOSPHERE_PA + pressure_pa)
    return filled_per_pa * pressure_pa + gas_share * (1.0 - left)


def _rational(x: float, above: tuple[float, ...], below: tuple[float, ...]) -> float:
    return float(np.polyval(above[::-1], x) / np.polyval(below[::-1], x))
