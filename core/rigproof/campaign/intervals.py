"""How well a share is known after some runs: the interval of Clopper and Pearson (Biometrika 26, 1934, from memory)."""

from __future__ import annotations

from dataclasses import dataclass

from rigproof.errors import NumberError
from rigproof.uncertainty.distributions import beta_cdf

COVERAGE = 0.95


@dataclass(frozen=True, slots=True)
class Share:
    """`count` of `runs`, and both ends of the interval that holds the true share with at least `COVERAGE`."""

    count: int
    runs: int
    low: float
    high: float

    @property
    def share(self) -> float:
        """The share counted."""
        return self.count / self.runs

    def __str__(self) -> str:
        return f"{100 * self.share:.1f} % ({100 * self.low:.1f} to {100 * self.high:.1f})"


def share(count: int, runs: int, coverage: float = COVERAGE) -> Share:
    """The share with its interval; raises NumberError for numbers that no count gives."""
    if not 0 <= count <= runs or runs < 1:
        raise NumberError(f"{count} of {runs}: no share; at least one run is needed")
    tail = (1 - coverage) / 2
    low = 0.0 if count == 0 else _beta_quantile(tail, count, runs - count + 1)
    high = 1.0 if count == runs else _beta_quantile(1 - tail, count + 1, runs - count)
    return Share(count, runs, low, high)


def _beta_quantile(p: float, a: float, b: float) -> float:
    """The x with P(X <= x) = p of a beta distribution, by bisection to the last bits."""
    low, high = 0.0, 1.0
    while high - low > 1e-14:
        middle = 0.5 * (low + high)
        if beta_cdf(middle, a, b) < p:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
