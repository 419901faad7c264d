"""The bridge as what it is: resistors between nodes, solved by Kirchhoff's current law (nodal analysis).

Nodes: the two excitation terminals, of which the negative one is earthed as usual, as is the part; the two ends and the
middle of the gauge's grid; the signal terminal; the terminal of the completion resistor. All is per volt of excitation,
so that potentials are V/V.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Branch = tuple[int, int, "FloatArray | float"]  # two nodes and the conductance (S) between them

EARTH, SUPPLY, NEAR, MIDDLE, FAR, SIGNAL, COMPLETION = range(7)


def potentials(branches: Sequence[Branch], held: Mapping[int, float]) -> dict[int, FloatArray]:
    """Potentials (V) of the nodes that are not `held` at one, by node; of the shape the conductances broadcast to.

    Currents into each free node sum to zero: G v = 0 for its row. Raises `numpy.linalg.LinAlgError` where a node
    hangs in the air.
    """
    pairs = tuple((i, j) for i, j, _ in branches)
    free, stamps, drives = _layout(pairs, tuple(held.items()))
    shape = np.broadcast(*(conductance for _, _, conductance in branches)).shape
    conductances = np.empty((*shape, len(pairs)))
    for index, (_, _, conductance) in enumerate(branches):
        conductances[..., index] = conductance
    matrix = (conductances @ stamps).reshape(*shape, len(free), len(free))
    drive = conductances @ drives
    solved = np.asarray(np.linalg.solve(matrix, drive[..., None])[..., 0], dtype=np.float64)
    return {node: solved[..., index] for index, node in enumerate(free)}


@lru_cache(maxsize=16)  # the same few networks are solved with every reading
def _layout(
    pairs: tuple[tuple[int, int], ...], held: tuple[tuple[int, float], ...]
) -> tuple[list[int], FloatArray, FloatArray]:
    """The free nodes, and what a siemens in each branch adds: to the matrix (branches, rows x rows), to the drive."""
    volts = dict(held)
    free = sorted({node for pair in pairs for node in pair} - volts.keys())
    stamps, drives = np.zeros((len(pairs), len(free), len(free))), np.zeros((len(pairs), len(free)))
    for index, pair in enumerate(pairs):
        for node, other in (pair, pair[::-1]):
            if node in free:
                row = free.index(node)
                stamps[index, row, row] += 1.0
                if other in free:
                    stamps[index, row, free.index(other)] -= 1.0
                else:
                    drives[index, row] += volts[other]
    return free, stamps.reshape(len(pairs), -1), drives


@dataclass(frozen=True)
class QuarterBridge:
    """One gauge on two or three wires, arrays of one shape or floats; conductances in S, the rest in Ω.

    `near_ohm` is the wire from the earthed excitation terminal to the gauge, `far_ohm` the one from the gauge to the
    completion resistor, `signal_ohm` the one from the gauge to the signal terminal. Where `third_wire` is 0 instead of
    1, that one is not used and the signal is taken at the completion resistor. `shunt_s` lies between the earthed
    excitation terminal and the signal terminal, 0 when open. `leak_s` is the whole
    conductance from the grid to the part. `half_ratio` is the potential of the middle of the amplifier's own half
    bridge, from which no current is drawn.
    """

    gauge_ohm: FloatArray
    near_ohm: FloatArray
    far_ohm: FloatArray
    signal_ohm: FloatArray
    third_wire: FloatArray
    completion_ohm: FloatArray
    half_ratio: FloatArray
    leak_s: FloatArray
    shunt_s: FloatArray

    def output(self) -> FloatArray:
        """Output (V/V), rising with the gauge's resistance."""
        half_grid = 2.0 / self.gauge_ohm
        # A leak spread evenly along the grid, lumped by Simpson's rule: a sixth at each end, the rest between.
        sixth = self.leak_s / 6.0
        branches: list[Branch] = [
            (EARTH, NEAR, 1.0 / self.near_ohm + sixth),
            (NEAR, MIDDLE, half_grid),
            (EARTH, MIDDLE, 4.0 * sixth),
            (MIDDLE, FAR, half_grid),
            (EARTH, FAR, sixth),
            (FAR, COMPLETION, 1.0 / self.far_ohm),
            (FAR, SIGNAL, 1.0 / self.signal_ohm),
            (COMPLETION, SUPPLY, 1.0 / self.completion_ohm),
            (EARTH, SIGNAL, self.shunt_s * self.third_wire),
            (EARTH, COMPLETION, self.shunt_s * (1.0 - self.third_wire)),
        ]
        solved = potentials(branches, {EARTH: 0.0, SUPPLY: 1.0})
        signal = self.third_wire * solved[SIGNAL] + (1.0 - self.third_wire) * solved[COMPLETION]
        return np.asarray(signal - self.half_ratio)
