"""A point at the branch of a pipe: the stress there as the truth has it, and what a gauge sees of it.

The truth is two numbers, drawn once: how many times the hoop stress of the plain wall acts along each principal
direction of the surface. Equilibrium at the surface gives the third stress (nothing outside, the water inside), Hooke's
law in three dimensions the strains.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from rigproof_twin.physics.cylinder import HOOP, RADIAL, TANGENT_RATIO, Cylinder, Response, deviator

FloatArray = npt.NDArray[np.float64]

TURNED_RAD = {"normal": 0.0, "45°": np.pi / 4.0, "tangential": np.pi / 2.0}  # of a grid, from the normal on


@dataclass(frozen=True)
class BranchPoint:
    """A point on the wall of `pipe` at `radius_m`, with its true factors."""

    pipe: Cylinder
    radius_m: float
    normal: float
    tangential: float

    @cached_property
    def stress_per_pa(self) -> FloatArray:
        """Stress square to the wall, along the normal and tangential, each per pascal of pressure; shape (3,)."""
        plain = self.pipe.stress_per_pa(self.radius_m)
        return np.array([plain[RADIAL], self.normal * plain[HOOP], self.tangential * plain[HOOP]])

    def response(self, direction: str) -> Response:
        """What a gauge along `normal`, `tangential` or `45°` between them sees."""
        _, normal, tangential = self.pipe.compliance_per_pa @ self.stress_per_pa
        _, flow_normal, flow_tangential = 1.5 * deviator(self.stress_per_pa) / self._equivalent_per_pa
        along = Response(float(normal), float(tangential), float(flow_normal), float(flow_tangential))
        return along.turned(TURNED_RAD[direction])

    def plastic_strain(self, pressure_pa: FloatArray) -> FloatArray:
        """Equivalent plastic strain left here by the highest pressure so far; same shape.

        Bilinear as for the plain wall, but of this point by itself. The wall around it, which is still elastic, would
        hold it back: so much at most.
        """
        excess = self._equivalent_per_pa * pressure_pa - self.pipe.yield_strength_pa
        return np.maximum(0.0, excess) / self.pipe.elastic_modulus_pa * (1.0 / TANGENT_RATIO - 1.0)

    @cached_property
    def _equivalent_per_pa(self) -> float:
        found = deviator(self.stress_per_pa)
        return float(np.sqrt(1.5 * found @ found))
