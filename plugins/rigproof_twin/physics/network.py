"""The bridge as what it is: resistors between nodes, solved by Kirchhoff's current law (nodal analysis).

Nodes: the two excitation terminals, of which the negative one is earthed as usual, as is the part; the two ends and the
middle of the gauge's grid; the signal terminal; the terminal of the completion resistor; the middle of the amplifier's
own half bridge. All is per volt of excitation, so that potentials are V/V.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Branch = tuple[int, int, "FloatArray | float"]  # two nodes and the conductance (S) between them

EARTH, SUPPLY, NEAR, MIDDLE, FAR, SIGNAL, COMPLETION, HALF = range(8)


def potentials(count: int, branches: Sequence[Branch], held: Mapping[int, float]) -> FloatArray:
    """Potentials (V) of `count` nodes, of which some are `held`; shape (..., count), conductances broadcast.

    Currents into each free node sum to zero: G v = 0 for its row. Raises `numpy.linalg.LinAlgError` where a node
    hangs in the air.
    """
    shape = np.broadcast_shapes(*(np.shape(conductance) for _, _, conductance in branches))
    matrix = np.zeros((*shape, count, count))
    for i, j, conductance in branches:
        matrix[..., i, i] += conductance
        matrix[..., j, j] += conductance
        matrix[..., i, j] -= conductance
        matrix[..., j, i] -= conductance
    free = [node for node in range(count) if node not in held]
    drive = -matrix[..., free, :][..., list(held)] @ np.array(list(held.values()))
    values = np.zeros((*shape, count))
    values[..., list(held)] = list(held.values())
    values[..., free] = np.linalg.solve(matrix[..., free, :][..., free], drive[..., None])[..., 0]
    return values


@dataclass(frozen=True)
class QuarterBridge:
    """One gauge on two or three wires, arrays of one shape or floats; conductances in S, the rest in Ω.

    `near_ohm` is the wire from the earthed excitation terminal to the gauge, `far_ohm` the one from the gauge to the
    completion resistor, `signal_ohm` the one from the gauge to the signal terminal; on two wires there is no third
    and the signal is taken at the completion resistor. `shunt_s` lies between the earthed excitation terminal and the
    signal terminal, 0 when open. `leak_s` is the whole conductance from the grid to the part.
    """

    gauge_ohm: FloatArray
    near_ohm: FloatArray
    far_ohm: FloatArray
    signal_ohm: FloatArray
    completion_ohm: FloatArray
    half_ratio: FloatArray  # potential of the amplifier's half bridge
    leak_s: FloatArray
    shunt_s: FloatArray

    def output(self, two_wires: bool) -> FloatArray:
        """Output (V/V), rising with the gauge's resistance."""
        half_grid = 2.0 / self.gauge_ohm
        signal_at = COMPLETION if two_wires else SIGNAL
        branches: list[Branch] = [
            (EARTH, NEAR, 1.0 / self.near_ohm),
            (NEAR, MIDDLE, half_grid),
            (MIDDLE, FAR, half_grid),
            (FAR, COMPLETION, 1.0 / self.far_ohm),
            (FAR, SIGNAL, 1.0 / self.signal_ohm),
            (COMPLETION, SUPPLY, 1.0 / self.completion_ohm),
            (signal_at, EARTH, self.shunt_s),
            (SUPPLY, HALF, self.half_ratio),  # the half bridge carries nothing: only its ratio counts
            (HALF, EARTH, 1.0 - self.half_ratio),
            # A leak spread evenly along the grid, lumped by Simpson's rule: a sixth at each end, the rest between.
            (NEAR, EARTH, self.leak_s / 6.0),
            (MIDDLE, EARTH, self.leak_s * 4.0 / 6.0),
            (FAR, EARTH, self.leak_s / 6.0),
        ]
        solved = potentials(8, branches, {EARTH: 0.0, SUPPLY: 1.0})
        return np.asarray(solved[..., signal_at] - solved[..., HALF])
