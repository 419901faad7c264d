"""Rosettes: from the strains of two or three gauges at one point to the whole state of strain at the surface.

Angles of the gauges count from one axis, all in the same sense (seen from outside, say, anticlockwise); so does every
angle returned. In the three common rosettes that axis is leg 1, and an angle is positive from leg 1 towards leg 2. A
0/120/240 rosette is written with these angles: nothing else needs turning round. Readings are strains as reported
(bridge and leads out, transverse sensitivity still in); floats or arrays of equal shape; nan gives nan.

Plane strain tensor and its circle: any text on mechanics of materials; closed forms in trade.md section 3. For small
strains (ASTM E1561 says the equations are noticeably inexact above about 1 %).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import NamedTuple

import numpy as np

from rigproof.errors import NumberError
from rigproof.models import Numbers
from rigproof_strain import checks
from rigproof_strain.transverse import CALIBRATION_POISSON

LEAST_APART_DEG = 5.0  # legs closer than this tell hardly more than one of them

Weights = tuple[tuple[Numbers, ...], ...]
Row = tuple[Numbers, Numbers, Numbers]


class State(NamedTuple):
    """A state of plane strain as the circle it draws: in axes x (where angles are 0) and y.

    The strain at an angle t from x is centre + difference cos 2t + shear sin 2t.
    """

    centre: Numbers  # (ex + ey)/2
    difference: Numbers  # (ex - ey)/2
    shear: Numbers  # gamma_xy/2

    def components(self) -> tuple[Numbers, Numbers, Numbers]:
        """Strains ex, ey and the engineering shear strain gamma_xy (rad)."""
        return self.centre + self.difference, self.centre - self.difference, 2 * self.shear

    def principal(self) -> tuple[Numbers, Numbers]:
        """Principal strains, the algebraically larger first; e1 - e2 is the greatest shear strain in the plane."""
        radius = np.hypot(self.difference, self.shear)
        return self.centre + radius, self.centre - radius

    def angle(self) -> Numbers:
        """Direction of e1, rad from x, within -pi/2 to pi/2; 0 where all directions are alike."""
        return 0.5 * np.arctan2(self.shear, self.difference)

    def along(self, angle: Numbers) -> Numbers:
        """Strain at `angle` (rad) from x."""
        return self.centre + self.difference * np.cos(2 * angle) + self.shear * np.sin(2 * angle)

    def turned(self, angle: Numbers) -> State:
        """The same state in axes turned by `angle` (rad)."""
        c, s = np.cos(2 * angle), np.sin(2 * angle)
        return State(self.centre, self.difference * c + self.shear * s, self.shear * c - self.difference * s)


@dataclass(frozen=True, slots=True)
class Rosette:
    """Two gauges at right angles, along the principal directions (known, say, by symmetry), or three at any angles.

    Raises NumberError for another number of legs, an angle beyond ±360°, three legs of which two lie within 5° of one
    line, and a pair that is not at right angles.
    """

    angles_deg: tuple[float, ...]

    def __post_init__(self) -> None:
        angles = self.angles_deg
        if len(angles) not in (2, 3):
            raise NumberError(f"angles_deg={angles}: a rosette has two or three legs; give an angle for each")
        for angle in angles:
            if not abs(angle) <= 360:
                raise NumberError(f"angles_deg={angles}: {angle:g} is beyond ±360°; count from the axis, in degrees")
        for a, b in combinations(angles, 2):
            apart = abs((a - b + 90) % 180 - 90)
            if len(angles) == 2 and apart != 90:
                raise NumberError(
                    f"angles_deg={angles}: two legs {apart:g}° apart do not tell the state; "
                    "a pair must be at right angles, along the principal directions: else use three legs"
                )
            if apart < LEAST_APART_DEG:
                raise NumberError(
                    f"angles_deg={angles}: {a:g}° and {b:g}° are not independent; "
                    f"legs must point at least {LEAST_APART_DEG:g}° apart, opposite ends of a line being one direction"
                )

    def state(self, readings: Sequence[Numbers], kts: Sequence[Numbers] = (), off_rad: Sequence[Numbers] = ()) -> State:
        """State of strain from one reading per leg; see `weights`. A plain vectorised function of all its numbers."""
        if len(readings) != len(self.angles_deg):
            raise NumberError(f"readings={len(readings)}: {self.angles_deg} takes one reading a leg")
        rows = self.weights(kts, off_rad)
        return State(*(_dot(row, readings) for row in rows))

    def weights(self, kts: Sequence[Numbers] = (), off_rad: Sequence[Numbers] = ()) -> Weights:
        """What each leg's reading counts in centre, difference and shear: three rows of one weight per leg.

        `kts` are the transverse sensitivities of the legs (0 when left out), `off_rad` how far each leg lies off its
        angle. A grid at t reports [(1 + Kt) centre + (1 - Kt)(difference cos 2t + shear sin 2t)]/(1 - nu0 Kt), which is
        `transverse.reported` on the circle; the weights invert that by Cramer's rule. Of a pair the shear in
        its own axes is taken as zero.
        """
        count = len(self.angles_deg)
        for name, given in (("kts", kts), ("off_rad", off_rad)):
            if len(given) not in (0, count):
                raise NumberError(f"{name}={len(given)}: {self.angles_deg} takes one for each leg, or none")
        angles = [math.radians(angle) for angle in self.angles_deg]
        axis = 0.0 if count == 3 else angles[0]
        legs = [
            _answer(angle - axis + off, kt)
            for angle, off, kt in zip(angles, off_rad or (0.0,) * count, kts or (0.0,) * count, strict=True)
        ]
        return _three(*legs) if count == 3 else _pair(legs[0], legs[1], axis)


RECTANGULAR = Rosette((0.0, 45.0, 90.0))
DELTA = Rosette((0.0, 60.0, 120.0))
PAIR = Rosette((0.0, 90.0))


def _answer(angle: Numbers, kt: Numbers) -> Row:
    """What a grid at `angle` reports per unit of centre, difference and shear."""
    checks.transverse(kt)
    per = 1 / (1 - CALIBRATION_POISSON * kt)
    return (1 + kt) * per, (1 - kt) * per * np.cos(2 * angle), (1 - kt) * per * np.sin(2 * angle)


def _three(first: Row, second: Row, third: Row) -> Weights:
    """Inverse of the matrix of three rows: its columns are cross products over the determinant."""
    columns = _cross(second, third), _cross(third, first), _cross(first, second)
    determinant = _dot(first, columns[0])
    return tuple(tuple(column[n] / determinant for column in columns) for n in range(3))


def _pair(first: Row, second: Row, axis: float) -> Weights:
    """Inverse for two legs without shear in their own axes, which are turned by `axis`."""
    determinant = first[0] * second[1] - second[0] * first[1]
    centre = (second[1] / determinant, -first[1] / determinant)
    radius = (-second[0] / determinant, first[0] / determinant)
    c, s = math.cos(2 * axis), math.sin(2 * axis)
    return centre, tuple(weight * c for weight in radius), tuple(weight * s for weight in radius)


def _cross(a: Row, b: Row) -> Row:
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]


def _dot(weights: Sequence[Numbers], values: Sequence[Numbers]) -> Numbers:
    total: Numbers = 0.0
    for weight, value in zip(weights, values, strict=True):
        total = total + weight * value
    return total
