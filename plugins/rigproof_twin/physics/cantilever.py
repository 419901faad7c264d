"""A strip clamped at one end under a force at the other, from its boundary-value problem.

A beam between two loads bends to a cubic (E I w'''' = 0; Euler and Bernoulli, any book on strength of materials). Its
four coefficients come out of a linear system of the boundary conditions: no deflection and no slope at the clamp, no
moment and the force at the end. The strain of the skin is its curvature times half the thickness: no ready formula, so
that nothing is shared with the part models the twin is there to try.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
from numpy.polynomial import Polynomial

from rigproof_twin.physics.cylinder import TANGENT_RATIO, Response

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True)
class CantileverBeam:
    """Lengths (m), elastic modulus and yield strength (Pa), linear expansion (1/K). The gauges sit at `gauge_m`."""

    length_m: float
    width_m: float
    thickness_m: float
    gauge_m: float
    elastic_modulus_pa: float
    poisson_ratio: float
    expansion_per_k: float
    yield_strength_pa: float

    @cached_property
    def deflection_per_n(self) -> Polynomial:
        """Deflection (m) along the beam per newton at its end, downwards, as a polynomial of the place (m)."""
        at, stiffness = self.length_m, self.elastic_modulus_pa * self._second_moment
        conditions = np.array(
            [[1.0, 0.0, 0.0, 0.0], [0.0, 1.0, 0.0, 0.0], [0.0, 0.0, 2.0, 6.0 * at], [0.0, 0.0, 0.0, 6.0]]
        )
        return Polynomial(np.linalg.solve(conditions, np.array([0.0, 0.0, 0.0, -1.0 / stiffness])))

    @property
    def _second_moment(self) -> float:
        """Integral of the square of the height over the section (m⁴)."""
        half = self.thickness_m / 2.0
        squares = Polynomial([0.0, 0.0, self.width_m]).integ()
        return float(squares(half) - squares(-half))

    @property
    def strain_per_n(self) -> float:
        """Strain of the upper skin along the beam at the gauges, per newton at the end."""
        return float(self.deflection_per_n.deriv(2)(self.gauge_m)) * self.thickness_m / 2.0

    def response(self, place: str) -> Response:
        """What a gauge along the beam on its `top` or `bottom` sees; plastic strain keeps the volume."""
        side = 1.0 if place == "top" else -1.0
        along = side * self.strain_per_n
        return Response(along, -self.poisson_ratio * along, side, -0.5 * side)

    def plastic_strain(self, load_n: FloatArray) -> FloatArray:
        """Plastic strain that the highest force so far has left in the skin at the gauges; same shape.

        Bilinear as for the cylinder, as if the whole section yielded with its skin: a sketch.
        """
        excess = self.elastic_modulus_pa * self.strain_per_n * load_n - self.yield_strength_pa
        return np.maximum(0.0, excess) / self.elastic_modulus_pa * (1.0 / TANGENT_RATIO - 1.0)
