"""A bonded resistance gauge: from what happens to the part under it to its resistance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from rigproof_twin.physics.cylinder import Response
from rigproof_twin.physics.history import Strained

FloatArray = npt.NDArray[np.float64]

POISSON_OF_CALIBRATION = 0.285  # of the bar on which gauge factors are measured; usual value, source not at hand
WARMING_S = 300.0  # in which a grid comes to its own temperature; minutes are usual, no source
REFERENCE_C = 20.0  # at which resistances and lengths are stated


def axial_and_transverse(gauge_factor: float, transverse_sensitivity: float) -> tuple[float, float]:
    """Sensitivities (dR/R per strain) along and across the grid.

    From what the packet says: the gauge factor is dR/R per strain along, on a bar in tension that shrinks across by
    `POISSON_OF_CALIBRATION`; the transverse sensitivity is the ratio of the two. Two equations, two unknowns.
    """
    system = np.array([[1.0, -POISSON_OF_CALIBRATION], [-transverse_sensitivity, 1.0]])
    along, across = np.linalg.solve(system, np.array([gauge_factor, 0.0]))
    return float(along), float(across)


@dataclass(frozen=True)
class BondedGauge:
    """One gauge in its place."""

    rest_ohm: float  # bonded, without load, at the reference temperature
    along: float  # dR/R per strain along the grid
    across: float
    part_per_k: float  # expansion of the part
    compensated_per_k: float  # of the material that the gauge is made for
    transfer: float  # share of the part's strain that reaches the grid at once; 1 when well bonded
    give: float  # share of that which the bond gives up with its time constant; 0 when well bonded
    opens_at_s: float  # when the grid or a lead breaks; infinite: never
    heating_k: float = 0.0  # by which its own current warms the grid above the part, in the end

    def resistance_ohm(self, response: Response, state: Strained, temperature_c: FloatArray) -> FloatArray:
        """Resistance (Ω) at the times of `state`, shape (n,); nan once it is open.

        Strains are those of the part since it was virgin. A compensated gauge has a temperature coefficient that
        cancels the growth of the material it is made for; on another it sees the difference, along and across.
        What warms the grid alone is taken out as if the part had grown with it.
        """
        load = state.load - self.give * state.lagging_load
        plastic = state.plastic - self.give * state.lagging_plastic
        grid_along = self.transfer * (response.along_per_load * load + response.plastic_along * plastic)
        grid_across = self.transfer * (response.across_per_load * load + response.plastic_across * plastic)
        rise = temperature_c - REFERENCE_C
        warmer = rise - self.heating_k * np.expm1(-state.times_s / WARMING_S)
        grown = self.part_per_k * rise - self.compensated_per_k * warmer
        change = self.along * (grid_along + grown) + self.across * (grid_across + grown)
        return np.where(state.times_s < self.opens_at_s, self.rest_ohm * (1.0 + change), np.nan)
