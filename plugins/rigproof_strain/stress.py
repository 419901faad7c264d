"""From strains at a free surface to stresses: plane stress in an isotropic elastic material (Hooke).

Strains 1, stresses and moduli Pa; floats or arrays of equal shape. Relations as in every text on mechanics of
materials; trade.md section 3. Raises NumberError for a modulus of 0 or less and for a Poisson's ratio outside (0, 0.5).
"""

from __future__ import annotations

import math

import numpy as np

from rigproof.models import Numbers
from rigproof_strain import checks


def plane_stress_pa(strain: Numbers, across: Numbers, modulus_pa: Numbers, poisson: Numbers) -> tuple[Numbers, Numbers]:
    """Normal stresses along two directions at right angles from the strains along them: E/(1 - nu²)(e1 + nu e2), …"""
    _material(modulus_pa, poisson)
    scale = modulus_pa / (1 - poisson**2)
    return scale * (strain + poisson * across), scale * (across + poisson * strain)


def shear_modulus_pa(modulus_pa: Numbers, poisson: Numbers) -> Numbers:
    """G = E/(2(1 + nu)); the shear stress is G gamma."""
    _material(modulus_pa, poisson)
    return modulus_pa / (2 * (1 + poisson))


def out_of_plane_strain(e1: Numbers, e2: Numbers, poisson: Numbers) -> Numbers:
    """Strain square to the surface, which no gauge reads: -nu/(1 - nu)(e1 + e2)."""
    checks.poisson(poisson)
    return -poisson / (1 - poisson) * (e1 + e2)


def greatest_shear_strain(e1: Numbers, e2: Numbers, poisson: Numbers) -> Numbers:
    """Greatest shear strain on any plane, also through the thickness; e1 - e2 is the one in the surface."""
    e3 = out_of_plane_strain(e1, e2, poisson)
    return np.maximum(np.maximum(e1, e2), e3) - np.minimum(np.minimum(e1, e2), e3)


def greatest_shear_pa(s1: Numbers, s2: Numbers) -> Numbers:
    """Greatest shear stress on any plane: half the largest difference of s1, s2 and 0 (Tresca)."""
    return (np.maximum(np.maximum(s1, s2), 0.0) - np.minimum(np.minimum(s1, s2), 0.0)) / 2


def von_mises_pa(s1: Numbers, s2: Numbers) -> Numbers:
    """Equivalent stress sqrt(s1² - s1 s2 + s2²), written as a sum of squares."""
    equivalent: Numbers = np.hypot((s1 + s2) / 2, math.sqrt(3.0) / 2 * (s1 - s2))
    return equivalent


def _material(modulus_pa: Numbers, poisson: Numbers) -> None:
    checks.positive("modulus_pa", modulus_pa, "give the elastic modulus in Pa, such as 206e9 for steel")
    checks.poisson(poisson)
