"""Four gauges in a ring on four or six wires, solved by Kirchhoff's current law; see `network`.

The negative excitation terminal is earthed, as is the part. Arms 1 and 4 start at the corner towards earth, arms 1 and
2 meet in the positive signal corner. All is per volt between the excitation terminals.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from rigproof_twin.physics.network import Branch, potentials

FloatArray = npt.NDArray[np.float64]

EARTH, SUPPLY, LOW, MIDDLE, PLUS, HIGH, MINUS, SIGNAL = range(8)


@dataclass(frozen=True)
class FullBridge:
    """`arms_ohm` of shape (times, 4); wires (Ω) of shape (times,) or floats; conductances (S) of leak and shunt.

    `near_ohm` leads to the earthed corner, `far_ohm` to the fed one, `signal_ohm` to the corner of arms 1 and 2. The
    leak spreads along the grid of arm 1. The shunt lies between the earthed excitation terminal and that signal
    terminal.
    `sensed`: two more wires, without current, tell the instrument the voltage between the corners.
    """

    arms_ohm: FloatArray
    near_ohm: FloatArray
    far_ohm: FloatArray
    signal_ohm: FloatArray
    leak_s: float
    shunt_s: float
    sensed: bool

    def output(self) -> FloatArray:
        """Output (V/V), rising with arms 1 and 3; shape (times,)."""
        first, second, third, fourth = self.arms_ohm.T
        sixth = self.leak_s / 6.0  # by Simpson's rule, as for a single gauge
        branches: list[Branch] = [
            (EARTH, LOW, 1.0 / self.near_ohm + sixth),
            (LOW, MIDDLE, 2.0 / first),
            (EARTH, MIDDLE, 4.0 * sixth),
            (MIDDLE, PLUS, 2.0 / first),
            (EARTH, PLUS, sixth),
            (PLUS, HIGH, 1.0 / second),
            (HIGH, MINUS, 1.0 / third),
            (MINUS, LOW, 1.0 / fourth),
            (HIGH, SUPPLY, 1.0 / self.far_ohm),
            (PLUS, SIGNAL, 1.0 / self.signal_ohm),
            (EARTH, SIGNAL, self.shunt_s),
        ]
        at = potentials(branches, {EARTH: 0.0, SUPPLY: 1.0})
        across = at[HIGH] - at[LOW] if self.sensed else 1.0
        return np.asarray((at[SIGNAL] - at[MINUS]) / across)


def between_supplies(arms_ohm: FloatArray) -> FloatArray:
    """Resistance (Ω) that an ohmmeter finds between the fed corners, signal wires free; shape (times,)."""
    first, second, third, fourth = arms_ohm.T
    return np.asarray(1.0 / (1.0 / (first + second) + 1.0 / (third + fourth)))
