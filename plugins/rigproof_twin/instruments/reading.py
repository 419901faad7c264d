"""How a true value becomes a reading, whatever language the instrument speaks."""

from __future__ import annotations

import math

import numpy as np

from rigproof_twin.interface import Appearance, Deviation

TRUE = Deviation()


def reading(look: Appearance, channel_input: int, truth: float, at_s: float, rng: np.random.Generator) -> float:
    """One reading taken at `at_s`: deviation, noise, resolution, range; ±inf for overload and open circuit."""
    deviation = look.deviations.get(channel_input, TRUE)
    value = truth * (1.0 + deviation.gain_error) + deviation.offset
    if not math.isfinite(value):
        return -math.inf if value < 0.0 else math.inf
    if deviation.zero_drift:
        value -= deviation.zero_drift * math.expm1(-at_s / deviation.drift_time_s)
    if look.noise or look.noise_relative:
        value += rng.standard_normal() * math.hypot(look.noise, look.noise_relative * value)
    if look.resolution:
        value = round(value / look.resolution) * look.resolution
    if value > look.upper:
        return math.inf
    return -math.inf if value < look.lower else value


class Hanging:
    """What an instrument repeats once it hangs, by input."""

    def __init__(self) -> None:
        self._last: dict[int, float] = {}

    def reading(self, look: Appearance, channel_input: int, value: float, at_s: float) -> float:
        """The reading `value` as long as the instrument is well, then its last one."""
        if look.freezes_at_s == math.inf:
            return value
        if at_s < look.freezes_at_s:
            self._last[channel_input] = value
        return self._last.setdefault(channel_input, value)
