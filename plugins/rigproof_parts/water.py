"""Water as a test filling, at atmospheric pressure, 0 °C to 100 °C.

Polynomials of G. S. Kell, J. Chem. Eng. Data 20 (1975) 97-105, coefficients from memory and held against other
tables in the tests. Under pressure the expansion grows by about 1.3e-12 1/K per pascal at 20 °C (2 % at 40 bar).
"""

from __future__ import annotations

from rigproof.models import Numbers

_DENSITY = (999.83952, 16.945176, -7.9870401e-3, -46.170461e-6, 105.56302e-9, -280.54253e-12)
_DENSITY_DIVISOR = 16.879850e-3
_COMPRESSIBILITY = (50.88496e-11, 0.6163813e-11, 1.459187e-14, 20.08438e-17, -58.47727e-20, 410.4110e-23)
_COMPRESSIBILITY_DIVISOR = 19.67348e-3


def _polynomial(coefficients: tuple[float, ...], x: Numbers) -> Numbers:
    total: Numbers = 0.0
    for coefficient in reversed(coefficients):
        total = total * x + coefficient
    return total


def density_kg_per_m3(celsius: Numbers) -> Numbers:
    """Density at `celsius`."""
    return _polynomial(_DENSITY, celsius) / (1 + _DENSITY_DIVISOR * celsius)


def expansion_per_k(celsius: Numbers) -> Numbers:
    """Volume expansion (1/V) dV/dT at constant pressure: -(d rho/dT)/rho; below 0 under 4 °C."""
    slope = _polynomial(tuple(n * c for n, c in enumerate(_DENSITY))[1:], celsius)
    return _DENSITY_DIVISOR / (1 + _DENSITY_DIVISOR * celsius) - slope / _polynomial(_DENSITY, celsius)


def compressibility_per_pa(celsius: Numbers) -> Numbers:
    """Isothermal compressibility -(1/V) dV/dp at atmospheric pressure."""
    return _polynomial(_COMPRESSIBILITY, celsius) / (1 + _COMPRESSIBILITY_DIVISOR * celsius)
