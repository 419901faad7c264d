"""A round column under a force that may lie beside its axis: the body of a force cell.

Strain along it from the two integrals of its section: the force over the area, and the moment of the eccentric force
over the second moment of area (Navier; any book on strength of materials). Two gauges along and two across sit opposite
each other, so that bending cancels as far as they are alike. What a real body does besides stands on top of the load it
feels: a departure from the straight line, and a rate-independent lag of the load (a play operator, as in Preisach's
models of hysteresis), which makes the branches of a loop.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from rigproof_twin.physics.cylinder import TANGENT_RATIO, Response
from rigproof_twin.physics.history import Strained

FloatArray = npt.NDArray[np.float64]

# Where the gauges of arms 1 to 4 sit round the column, and whether their grids run along it.
AZIMUTHS_RAD = (0.0, 0.0, np.pi, np.pi)
ALONG = (True, False, True, False)
PLAY = 0.25  # of the rated load: makes the widest part of the loop at half of it


@dataclass(frozen=True)
class Column:
    """Diameter (m), elastic modulus and yield strength (Pa), expansion (1/K), rated load (N).

    `nonlinearity` and `hysteresis`: departure from the straight line and width of the loop at half the rated load, as
    shares of the rated load. The force acts `eccentricity_m` beside the axis, towards `towards_rad` round the machine.
    """

    diameter_m: float
    elastic_modulus_pa: float
    poisson_ratio: float
    expansion_per_k: float
    yield_strength_pa: float
    rated_load_n: float
    nonlinearity: float
    hysteresis: float
    eccentricity_m: float
    towards_rad: float

    @property
    def play_n(self) -> float:
        """Half the width of the play that its loop comes from; 0 where it has none."""
        return PLAY * self.rated_load_n if self.hysteresis else 0.0

    @cached_property
    def strain_per_n(self) -> float:
        """Strain along the axis per newton."""
        return 1.0 / (self.elastic_modulus_pa * np.pi * (self.diameter_m / 2.0) ** 2)

    @cached_property
    def bending_per_n(self) -> float:
        """Largest strain of bending at the skin per newton of the eccentric force."""
        radius = self.diameter_m / 2.0
        second_moment = np.pi * radius**4 / 4.0
        return self.eccentricity_m * radius / (self.elastic_modulus_pa * second_moment)

    def response(self, arm: int, rotated_rad: float) -> Response:
        """What the gauge of an arm (0 to 3) sees when the cell stands rotated by `rotated_rad`."""
        towards = np.cos(AZIMUTHS_RAD[arm] + rotated_rad - self.towards_rad)
        strain = self.strain_per_n + self.bending_per_n * float(towards)
        lateral = -self.poisson_ratio * strain
        return Response(strain, lateral, 1.0, -0.5) if ALONG[arm] else Response(lateral, strain, -0.5, 1.0)

    def felt(self, state: Strained) -> FloatArray:
        """The load (N) that the gauges see: the true one with its loop and its bend."""
        rated, load = self.rated_load_n, state.load
        share = load / rated
        bend = 4.0 * self.nonlinearity * load * (share - 1.0)
        if not self.hysteresis:
            return load + bend
        # Exercised to the rated load, play goes from 1/4 up to 3/4 and back: less its own straight line it is nothing
        # at zero and top, and half the width of the loop either way at half load.
        loop = self.hysteresis / (2.0 * PLAY) * (state.held_load - PLAY * rated - 0.5 * load)
        return load + bend + loop

    def plastic_strain(self, load_n: FloatArray) -> FloatArray:
        """Plastic strain left by the highest force so far, bilinear as for the cylinder; same shape."""
        excess = self.elastic_modulus_pa * self.strain_per_n * load_n - self.yield_strength_pa
        return np.maximum(0.0, excess) / self.elastic_modulus_pa * (1.0 / TANGENT_RATIO - 1.0)
