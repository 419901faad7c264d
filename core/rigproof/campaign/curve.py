"""The operating characteristic of a procedure: probability of acceptance against the size of a flaw.

Runs are spent where the curve bends: after an even grid, each further size halves the stretch over which the share of
accepted runs changes most. The curve is then made monotone (pooled neighbours, least squares): a larger flaw is not
accepted more often, and what is left against that is chance.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from .intervals import Share, share

GRID = 5  # sizes of the even grid
FINE = 1 / 64  # of the whole range: no stretch is halved below

Accepted = Callable[[float, int], int]  # of so many runs at a size


@dataclass(frozen=True)
class Point:
    """Accepted runs at one size (base unit), and the monotone curve there."""

    size: float
    accepted: Share
    smooth: float


@dataclass(frozen=True)
class Curve:
    """Points by rising size."""

    points: tuple[Point, ...]

    def size_caught(self, wanted: float = 0.95) -> tuple[float | None, float | None, float | None]:
        """The size from which a share `wanted` is caught, by the curve; and two sizes that enclose it.

        The first is the largest at which even the most that the interval allows is less than `wanted`, the second the
        smallest at which the least it allows is enough: each holds with an interval's coverage, not both at once. None
        where the range of sizes does not reach so far.
        """
        left = [p.size for p in self.points if 1 - p.accepted.low < wanted]
        right = [p.size for p in self.points if 1 - p.accepted.high >= wanted]
        return self._crossing(1 - wanted), max(left, default=None), min(right, default=None)

    def _crossing(self, accepted: float) -> float | None:
        for a, b in pairwise(self.points):
            if a.smooth > accepted >= b.smooth:
                return a.size + (b.size - a.size) * (a.smooth - accepted) / (a.smooth - b.smooth)
        first = self.points[0]
        return first.size if first.smooth <= accepted else None


def trace(accepted: Accepted, low: float, high: float, sizes: int, runs: int) -> Curve:
    """The curve from `low` to `high` at `sizes` >= 2 sizes of `runs` runs each."""
    grid = min(GRID, sizes)
    even = [low + (high - low) * n / (grid - 1) for n in range(grid)]
    counts = {size: accepted(size, runs) for size in even}
    while len(counts) < sizes and (between := _next(counts, runs, high - low)) is not None:
        counts[between] = accepted(between, runs)
    known = sorted(counts)
    smooth = falling([counts[size] / runs for size in known])
    return Curve(tuple(Point(s, share(counts[s], runs), y) for s, y in zip(known, smooth, strict=True)))


def _next(counts: dict[float, int], runs: int, whole: float) -> float | None:
    """The middle of the stretch with the largest change, weighed by its width where changes are alike."""
    known = sorted(counts)
    stretches = [
        (abs(counts[b] - counts[a]) / runs * (b - a), -a, 0.5 * (a + b))
        for a, b in pairwise(known)
        if b - a > FINE * whole
    ]
    best = max(stretches, default=None)
    return best[2] if best is not None and best[0] > 0 else None


def falling(values: Sequence[float]) -> list[float]:
    """The nearest falling sequence by least squares (pool adjacent violators; all weights alike)."""
    pools: list[tuple[float, int]] = []
    for value in values:
        mean, size = value, 1
        while pools and pools[-1][0] < mean:
            earlier, count = pools.pop()
            mean, size = (earlier * count + mean * size) / (count + size), count + size
        pools.append((mean, size))
    return [mean for mean, size in pools for _ in range(size)]
