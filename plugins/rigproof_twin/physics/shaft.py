"""A round shaft under torque, from the equilibrium of its section.

A circular section turns as a whole (Coulomb; Saint-Venant; any book on strength of materials): the shear strain at a
radius is the radius times the twist per length, and the twist is what makes the moment of the shear stresses over the
section that of the torque. The moment is integrated here, and a gauge's strain is that of the shear tensor turned to
its grid: no ready formula, so that nothing is shared with the part models the twin is there to try.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
from numpy.polynomial import Polynomial

from rigproof_twin.physics.cylinder import TANGENT_RATIO, Response

FloatArray = npt.NDArray[np.float64]

PLACES_RAD = {"+45°": np.pi / 4.0, "-45°": -np.pi / 4.0}  # of a grid, from the axis of the shaft


@dataclass(frozen=True)
class TorsionShaft:
    """Diameters (m; a bore of 0 is none), elastic modulus and yield strength (Pa), linear expansion (1/K)."""

    diameter_m: float
    bore_m: float
    elastic_modulus_pa: float
    poisson_ratio: float
    expansion_per_k: float
    yield_strength_pa: float

    @property
    def shear_modulus_pa(self) -> float:
        """Shear stress per change of a right angle, of an isotropic material."""
        return self.elastic_modulus_pa / (2.0 + 2.0 * self.poisson_ratio)

    @cached_property
    def twist_per_nm(self) -> float:
        """Twist (rad/m) per N·m: the moment of a twist of one is the integral of G r times r over rings 2 pi r dr."""
        moment = Polynomial([0.0, 0.0, 0.0, 2.0 * np.pi * self.shear_modulus_pa]).integ()
        return 1.0 / float(moment(self.diameter_m / 2.0) - moment(self.bore_m / 2.0))

    @property
    def shear_strain_per_nm(self) -> float:
        """Change of the right angle between axis and circumference at the skin, rad per N·m."""
        return self.twist_per_nm * self.diameter_m / 2.0

    def response(self, place: str) -> Response:
        """What a gauge at `+45°` or `-45°` to the axis sees; `+45°` is stretched by a positive torque.

        Plastic flow is pure shear as well: an equivalent strain of 1 has a tensor shear of sqrt(3)/2 (Prandtl, Reuss).
        """
        pure = Response(0.0, 0.0, 0.0, 0.0, self.shear_strain_per_nm / 2.0, np.sqrt(3.0) / 2.0)
        return pure.turned(PLACES_RAD[place])

    def plastic_strain(self, load_nm: FloatArray) -> FloatArray:
        """Equivalent plastic strain that the highest torque so far has left in the skin; same shape.

        Bilinear as for the cylinder, as if the whole section yielded with its skin: a sketch.
        """
        skin_pa = self.shear_modulus_pa * self.shear_strain_per_nm * load_nm
        excess = np.sqrt(3.0) * skin_pa - self.yield_strength_pa  # von Mises in pure shear
        return np.asarray(np.maximum(0.0, excess) / self.elastic_modulus_pa * (1.0 / TANGENT_RATIO - 1.0))
