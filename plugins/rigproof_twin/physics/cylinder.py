"""A thick-walled cylinder under inside pressure, from its boundary-value problem.

The equilibrium of a ring gives radial and hoop stress as A ∓ B/r² with two constants (Lamé; Timoshenko and Goodier,
Theory of Elasticity, the chapter on polar coordinates; from memory). Here the constants come out of a linear system of
the two boundary conditions, the axial stress out of the equilibrium of an end, the strains out of Hooke's law in three
dimensions: no ready formula, so that nothing is shared with the part models the twin is there to try.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

RADIAL, HOOP, AXIAL = 0, 1, 2
TANGENT_RATIO = 0.1  # slope beyond yield to the elastic slope; a usual figure for a sketch, no source


@dataclass(frozen=True)
class Response:
    """What a gauge's place does under load: strain along and across the grid, and of shear half the change of angle."""

    along_per_load: float
    across_per_load: float
    plastic_along: float  # share of the equivalent plastic strain that goes along the grid
    plastic_across: float
    shear_per_load: float = 0.0  # of the tensor, gamma/2, in the axes along and across; 0: these are principal ones
    plastic_shear: float = 0.0

    def turned(self, angle_rad: float) -> Response:
        """The same for a grid turned from along towards across: the tensor in new axes, Q E Qᵀ by direction cosines."""
        c, s = np.cos(angle_rad), np.sin(angle_rad)
        q = np.array([[c, s], [-s, c]])
        load, plastic = (
            q @ np.array([[along, shear], [shear, across]]) @ q.T
            for along, across, shear in (
                (self.along_per_load, self.across_per_load, self.shear_per_load),
                (self.plastic_along, self.plastic_across, self.plastic_shear),
            )
        )
        return Response(
            float(load[0, 0]),
            float(load[1, 1]),
            float(plastic[0, 0]),
            float(plastic[1, 1]),
            float(load[0, 1]),
            float(plastic[0, 1]),
        )


@dataclass(frozen=True)
class Cylinder:
    """Radii (m), elastic modulus and yield strength (Pa), linear expansion (1/K).

    `ends`: `closed` ones load the wall, `open` ones leave it free, `fixed` ones keep its length.
    """

    inner_m: float
    outer_m: float
    elastic_modulus_pa: float
    poisson_ratio: float
    expansion_per_k: float
    yield_strength_pa: float
    ends: Literal["closed", "open", "fixed"]

    def stress_per_pa(self, radius_m: float) -> FloatArray:
        """Radial, hoop and axial stress at a radius, each per pascal of inside pressure; shape (3,)."""
        walls = np.array([self.inner_m, self.outer_m])
        system = np.column_stack([np.ones(2), -1.0 / walls**2])  # radial stress A - B/r² on both walls
        a, b = np.linalg.solve(system, np.array([-1.0, 0.0]))
        radial, hoop = a - b / radius_m**2, a + b / radius_m**2
        return np.array([radial, hoop, self._axial_per_pa(radial + hoop)])

    def strain_per_pa(self, radius_m: float) -> FloatArray:
        """Radial, hoop and axial strain at a radius, each per pascal; shape (3,). Hooke's law, isotropic."""
        return self.compliance_per_pa @ self.stress_per_pa(radius_m)

    @property
    def compliance_per_pa(self) -> FloatArray:
        """Strains from stresses in three directions at right angles; shape (3, 3)."""
        nu = self.poisson_ratio
        return np.asarray((np.eye(3) * (1.0 + nu) - nu) / self.elastic_modulus_pa)

    @property
    def growth_per_pa(self) -> float:
        """Relative growth of the cavity's volume per pascal: two hoop strains of the bore and one axial strain."""
        strain = self.strain_per_pa(self.inner_m)
        return float(2.0 * strain[HOOP] + strain[AXIAL])

    def plastic_strain(self, pressure_pa: FloatArray) -> FloatArray:
        """Equivalent plastic strain left by the highest pressure so far; same shape.

        Bilinear: beyond yield (von Mises, middle of the wall, which yields as a whole) the slope is `TANGENT_RATIO`
        of the elastic one; unloading is elastic, so that the plastic part stays.
        """
        excess = self._equivalent_per_pa * pressure_pa - self.yield_strength_pa
        return np.maximum(0.0, excess) / self.elastic_modulus_pa * (1.0 / TANGENT_RATIO - 1.0)

    def response(self, place: str, radius_m: float) -> Response:
        """What a gauge at `hoop`, `axial` or `45°` between them on the wall at `radius_m` sees."""
        along, across = (AXIAL, HOOP) if place == "axial" else (HOOP, AXIAL)
        strain, flow = self.strain_per_pa(radius_m), self._flow()
        seen = Response(float(strain[along]), float(strain[across]), float(flow[along]), float(flow[across]))
        return seen.turned(np.pi / 4.0) if place == "45°" else seen

    def _axial_per_pa(self, across: float) -> float:
        """Axial stress, from the equilibrium of an end or from its staying where it is; `across`: radial plus hoop."""
        if self.ends == "closed":
            return self.inner_m**2 / (self.outer_m**2 - self.inner_m**2)
        return self.poisson_ratio * across if self.ends == "fixed" else 0.0

    def _middle_stress(self) -> FloatArray:
        return self.stress_per_pa((self.inner_m + self.outer_m) / 2.0)

    @cached_property
    def _equivalent_per_pa(self) -> float:
        found = deviator(self._middle_stress())
        return float(np.sqrt(1.5 * found @ found))

    def _flow(self) -> FloatArray:
        """Direction of plastic strain: along the stress deviator, for an equivalent strain of 1 (Prandtl and Reuss)."""
        return np.asarray(1.5 * deviator(self._middle_stress()) / self._equivalent_per_pa)


def deviator(stress: FloatArray) -> FloatArray:
    """Principal stresses less their mean; same shape."""
    return np.asarray(stress - stress.mean())
