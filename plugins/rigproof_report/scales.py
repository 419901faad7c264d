"""From numbers to places on paper: straight scales with round marks."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Scale:
    """Maps `low` to `start` and `high` to `end`, in the units of the drawing."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """The place of a value, to a tenth: a drawing of a million points must stay small."""
        return round(self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start), 1)

    def inside(self, value: float) -> float:
        """The place of a value, or of the nearer end."""
        return self.at(min(max(value, self.low), self.high))

    def marks(self, about: int = 5) -> tuple[tuple[float, str], ...]:
        """Places and texts of round numbers, some `about` of them."""
        step = _round_step((self.high - self.low) / about)
        digits = max(0, -math.floor(math.log10(step) + 1e-9))
        first = math.ceil(self.low / step - 1e-9)
        numbers = [n * step for n in range(first, math.floor(self.high / step + 1e-9) + 1)]
        return tuple((self.at(number), f"{number + 0.0:.{digits}f}") for number in numbers)


def _round_step(rough: float) -> float:
    """The nearest of 1, 2, 5, 10 times a power of ten."""
    power = 10.0 ** math.floor(math.log10(rough))
    return min((1, 2, 5, 10), key=lambda n: abs(math.log(n * power / rough))) * power


def around(low: float, high: float, margin: float = 0.05) -> tuple[float, float]:
    """`low` to `high` with a margin on both sides; never empty."""
    width = high - low or abs(high) or 1.0
    return low - margin * width, high + margin * width
