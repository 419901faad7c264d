"""A thick-walled sphere under inside pressure, from its boundary-value problem.

The equilibrium of a shell, d(r² s_r)/dr = 2 r s_t, and Hooke's law leave s_r = A - B/r³ and s_t = A + B/(2 r³) with two
constants (Lamé; Timoshenko and Goodier, Theory of Elasticity, the chapter on three dimensions; from memory). They come
out of a linear system of the two boundary conditions, as for the cylinder: no ready formula.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from rigproof_twin.physics.cylinder import TANGENT_RATIO, Response

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Sphere:
    """Radii (m), elastic modulus and yield strength (Pa), linear expansion (1/K)."""

    inner_m: float
    outer_m: float
    elastic_modulus_pa: float
    poisson_ratio: float
    expansion_per_k: float
    yield_strength_pa: float

    def stress_per_pa(self, radius_m: float) -> tuple[float, float]:
        """Radial and tangential stress at a radius, each per pascal of inside pressure."""
        walls = np.array([self.inner_m, self.outer_m])
        system = np.column_stack([np.ones(2), -1.0 / walls**3])  # radial stress on both walls
        a, b = np.linalg.solve(system, np.array([-1.0, 0.0]))
        return float(a - b / radius_m**3), float(a + b / (2.0 * radius_m**3))

    def strain_per_pa(self, radius_m: float) -> float:
        """Tangential strain at a radius per pascal, the same in every direction. Hooke's law, isotropic."""
        radial, tangential = self.stress_per_pa(radius_m)
        return (tangential - self.poisson_ratio * (tangential + radial)) / self.elastic_modulus_pa

    @property
    def growth_per_pa(self) -> float:
        """Relative growth of the cavity's volume per pascal: three tangential strains of the bore."""
        return 3.0 * self.strain_per_pa(self.inner_m)

    def response(self, radius_m: float) -> Response:
        """What a gauge on the wall at `radius_m` sees; plastic strain keeps the volume."""
        strain = self.strain_per_pa(radius_m)
        return Response(strain, strain, 0.5, 0.5)

    def plastic_strain(self, pressure_pa: FloatArray) -> FloatArray:
        """Equivalent plastic strain left by the highest pressure so far; same shape.

        Bilinear as for the cylinder, in the middle of the wall, where the equivalent stress is s_t - s_r.
        """
        radial, tangential = self.stress_per_pa((self.inner_m + self.outer_m) / 2.0)
        excess = (tangential - radial) * pressure_pa - self.yield_strength_pa
        return np.maximum(0.0, excess) / self.elastic_modulus_pa * (1.0 / TANGENT_RATIO - 1.0)
