"""Transverse sensitivity: a grid also answers to strain across it.

The gauge factor of the packet was found in a field of uniaxial stress on a material of Poisson's ratio 0.285, so it
already holds the answer to that field's transverse strain (ASTM E251, OIML R 62, from memory; the figure 0.285 was seen
in a course hand-out). Kt is transverse over axial strain sensitivity, within ±0.1 (else NumberError). Floats or arrays
of equal shape. Rosettes of any angles: `rosette`.
"""

from __future__ import annotations

from rigproof.models import Numbers
from rigproof_strain import checks

CALIBRATION_POISSON = 0.285  # nu0 of the material on which gauge factors are found


def reported(along: Numbers, across: Numbers, kt: Numbers, nu0: float = CALIBRATION_POISSON) -> Numbers:
    """Strain that dR/(R GF) shows in the strain field `along`, `across` the grid: (ea + Kt et)/(1 - nu0 Kt).

    Error against `along`: Kt (et/ea + nu0)/(1 - nu0 Kt) (Wu, Experimental Mechanics 2(11), 1962, 338-344; from memory).
    """
    checks.transverse(kt)
    return (along + kt * across) / (1 - nu0 * kt)


def true_single(read: Numbers, ratio: Numbers, kt: Numbers, nu0: float = CALIBRATION_POISSON) -> Numbers:
    """Strain along one gauge from what it reports, the `ratio` of the strain across to that along being known.

    `reported` inverted: e (1 - nu0 Kt)/(1 + Kt ratio). For uniaxial stress the ratio is minus Poisson's ratio.
    """
    checks.transverse(kt)
    return read * (1 - nu0 * kt) / (1 + kt * ratio)


def true_pair(
    first: Numbers, second: Numbers, kt: Numbers, nu0: float = CALIBRATION_POISSON
) -> tuple[Numbers, Numbers]:
    """Strains along two gauges at right angles from what they report; both of the same `kt`.

    f (m1 - Kt m2), f (m2 - Kt m1) with f = (1 - nu0 Kt)/(1 - Kt^2): the inverse of `reported` on both.
    """
    f = _factor(kt, nu0)
    return f * (first - kt * second), f * (second - kt * first)


def true_rectangular(
    at_0: Numbers, at_45: Numbers, at_90: Numbers, kt: Numbers, nu0: float = CALIBRATION_POISSON
) -> tuple[Numbers, Numbers, Numbers]:
    """Strains along the three gauges of a 0/45/90 degree rosette from what they report.

    The transverse strain of the middle gauge follows from the invariant e0 + e90 (Perry and Lissner; from memory).
    """
    f = _factor(kt, nu0)
    first, last = true_pair(at_0, at_90, kt, nu0)
    return first, f * (at_45 - kt * (at_0 + at_90 - at_45)), last


def true_delta(
    at_0: Numbers, at_60: Numbers, at_120: Numbers, kt: Numbers, nu0: float = CALIBRATION_POISSON
) -> tuple[Numbers, Numbers, Numbers]:
    """Strains along the three gauges of a 0/60/120 degree rosette from what they report.

    ei = f [(1 + Kt/3) mi - (2 Kt/3)(mj + mk)]: the transverse strain follows from the invariant 2/3 (e0 + e60 + e120).
    """
    f = _factor(kt, nu0)
    both = 2 * kt / 3 * (at_0 + at_60 + at_120)
    return f * ((1 + kt) * at_0 - both), f * ((1 + kt) * at_60 - both), f * ((1 + kt) * at_120 - both)


def _factor(kt: Numbers, nu0: float) -> Numbers:
    checks.transverse(kt)
    return (1 - nu0 * kt) / (1 - kt**2)
