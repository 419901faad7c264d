"""Temperature of the test bay over time, and the platinum sensor on its wall."""

from __future__ import annotations

from dataclasses import dataclass
from math import tau

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

# IEC 60751, from memory: alpha follows from R(100 °C)/R(0 °C) = 1.3851, delta and beta from its polynomial.
ALPHA_PER_C, DELTA_C, BETA_C = 3.85055e-3, 1.4998, 0.10863

# Limits of the tolerance classes of IEC 60751, from memory: a constant (°C) and a share of |t|.
CLASS_LIMITS_C = {"AA": (0.10, 0.0017), "A": (0.15, 0.002), "B": (0.30, 0.005)}


def platinum_ohm(temperature_c: FloatArray | float, at_zero_ohm: float = 100.0) -> FloatArray:
    """Resistance of a platinum sensor (-200 °C to 850 °C) by the form of Callendar and van Dusen, from memory.

    R = R0 [1 + alpha (t - delta (t/100 - 1)(t/100) - beta (t/100 - 1)(t/100)³)], beta only below 0 °C.
    """
    t = np.asarray(temperature_c, dtype=np.float64)
    share = t / 100.0
    cold = np.where(t < 0.0, BETA_C * (share - 1.0) * share**3, 0.0)
    return np.asarray(at_zero_ohm * (1.0 + ALPHA_PER_C * (t - DELTA_C * (share - 1.0) * share - cold)))


@dataclass(frozen=True)
class TemperatureCourse:
    """A slow straight drift with a swing upon it; the whole bay, water, wall and leads share it.

    `phase_rad` is where the swing stands at time 0. Over `approach_s` (time constant) it comes `approach_k` nearer to
    the bay, as what was filled in colder or warmer does (Newton's law of cooling).
    """

    start_c: float
    drift_k_per_s: float
    swing_k: float
    period_s: float
    phase_rad: float
    approach_k: float = 0.0
    approach_s: float = 1.0

    @property
    def bay_c(self) -> float:
        """Where it comes to (°C), drift and swing aside."""
        return self.start_c + self.approach_k

    def at(self, times_s: FloatArray) -> FloatArray:
        """Temperature (°C) at times on the clock, same shape."""
        swing = self.swing_k * np.sin(tau / self.period_s * times_s + self.phase_rad)
        level = self.start_c + self.drift_k_per_s * times_s + swing
        if self.approach_k:
            level = level - self.approach_k * np.expm1(-times_s / self.approach_s)
        return np.asarray(level)

    def faded_rise(self, since_s: float, times_s: FloatArray, fade_s: float) -> FloatArray:
        """Integral of T'(s) exp(-(t - s)/fade) from `since_s` to each time t (K), in closed form.

        What is left of the rises since then when each fades away with time constant `fade_s`; with an infinite one
        the whole rise.
        """
        if fade_s == np.inf:
            return self.at(times_s) - self.at(np.asarray(since_s))
        omega = tau / self.period_s
        length = times_s - since_s
        gone = np.exp(-length / fade_s)
        # T' = drift + Re[swing ω exp(i(ω s + phase))]; the integral of an exponential with complex exponent.
        turn = np.exp(1j * (omega * times_s + self.phase_rad)) - gone * np.exp(1j * (omega * since_s + self.phase_rad))
        swing = np.real(self.swing_k * omega * turn / (1.0 / fade_s + 1j * omega))
        return np.asarray(
            self.drift_k_per_s * fade_s * (1.0 - gone) + swing + self._faded_approach(since_s, times_s, fade_s)
        )

    def _faded_approach(self, since_s: float, times_s: FloatArray, fade_s: float) -> FloatArray:
        """The approach's part of that integral: a fall of exponentials, of which one is the limit of two alike."""
        begun, length = np.exp(-since_s / self.approach_s), times_s - since_s
        apart = 1.0 / fade_s - 1.0 / self.approach_s
        shape = (
            length * np.exp(-length / fade_s)
            if abs(apart) * self.approach_s < 1e-9
            else np.exp(-length / fade_s) * np.expm1(apart * length) / apart
        )
        return np.asarray(self.approach_k / self.approach_s * begun * shape)
