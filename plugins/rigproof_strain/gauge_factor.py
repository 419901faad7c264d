"""The gauge factor: what it is, where it comes from, and how it goes with temperature.

Floats or arrays of equal shape.
"""

from __future__ import annotations

import numpy as np

from rigproof.models import Numbers
from rigproof_strain import checks
from rigproof_strain.transverse import CALIBRATION_POISSON


def factor_of(relative_change: Numbers, strain: Numbers) -> Numbers:
    """Gauge factor (dR/R)/e found on a field of uniaxial stress (OIML R 62, ASTM E251; from memory)."""
    size: Numbers = np.abs(strain)
    checks.positive("|strain|", size, "load the calibration beam: without strain there is no gauge factor")
    return relative_change / strain


def of_conductor(poisson: Numbers, resistivity_per_strain: Numbers) -> Numbers:
    """Gauge factor of a straight wire: 1 + 2 nu + (d rho/rho)/e (Doebelin and Manik, 5th ed., section 4.2)."""
    checks.poisson(poisson)
    return 1 + 2 * poisson + resistivity_per_strain


def along_grid(gauge_factor: Numbers, kt: Numbers, nu0: float = CALIBRATION_POISSON) -> Numbers:
    """Sensitivity to strain along the grid alone, Fa = GF/(1 - nu0 Kt); across it is Kt Fa (trade.md 2.2)."""
    checks.transverse(kt)
    return gauge_factor / (1 - nu0 * kt)


def at_temperature(gauge_factor: Numbers, per_k: Numbers, rise_k: Numbers) -> Numbers:
    """Gauge factor `rise_k` above the temperature it was found at: GF (1 + b dT), b about 1e-4/K for constantan."""
    return gauge_factor * _growth(per_k, rise_k)


def corrected(strain: Numbers, per_k: Numbers, rise_k: Numbers) -> Numbers:
    """Strain from one reduced with the gauge factor of the packet, `rise_k` above its temperature: e/(1 + b dT)."""
    return strain / _growth(per_k, rise_k)


def _growth(per_k: Numbers, rise_k: Numbers) -> Numbers:
    growth = 1 + per_k * rise_k
    checks.positive("1 + b dT", growth, "b is about 1e-4/K: look for a coefficient in %/100 K or ppm/K")
    return growth
