"""Propagation of distributions by a Monte Carlo method (JCGM 101:2008; clause numbers from memory).

The function of a budget is evaluated at inputs drawn at random; what comes out is the distribution of the result, with
no assumption about its shape or the curvature of the function.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rigproof.errors import NumberError
from rigproof.uncertainty.distributions import probability
from rigproof.uncertainty.sampling import FloatArray, Sampler, seed_of, source

if TYPE_CHECKING:
    from rigproof.uncertainty.budget import Budget

MOST = 10**6  # trials of an adaptive run, unless the caller says otherwise
_BLOCK = 10**4  # JCGM 101, 7.9.4 b: at least so many; inputs of one block are all that is held at once


@dataclass(frozen=True, slots=True, eq=False)
class Trials:
    """The distribution of a result as sorted `values`, shape (trials,), in the unit of the result.

    `value` and `u` are their mean and standard deviation (JCGM 101, 7.6); `lower` and `upper` end the coverage interval
    for `coverage`. `noise` is twice the standard deviation that the run leaves in the worst of value, u, lower and
    upper (inf for a single block), `delta` the numerical tolerance and `stable` whether the noise is small against it,
    see `monte_carlo`. The same `seed` gives the same bits.
    """

    values: FloatArray
    value: float
    u: float
    coverage: float
    shortest: bool
    lower: float
    upper: float
    seed: int
    delta: float
    noise: float
    stable: bool

    def interval(self, coverage: float, *, shortest: bool = False) -> tuple[float, float]:
        """Coverage interval, probabilistically symmetric or the shortest (JCGM 101, 7.7)."""
        return interval(self.values, probability("coverage", coverage), shortest)

    def errors(self) -> FloatArray:
        """What the true value may differ by from `value`, sorted, shape (trials,)."""
        return self.values - self.value


def monte_carlo(
    budget: Budget,
    coverage: float = 0.95,
    *,
    trials: int | None = None,
    digits: int = 2,
    most: int = MOST,
    share: float = 0.2,
    shortest: bool = False,
    seed: int | None = None,
) -> Trials:
    """Run a budget by Monte Carlo: `trials` of them or, when None, as many as the result needs.

    The adaptive procedure is that of JCGM 101, 7.9.4: blocks of 10 000 trials (more for a coverage above 0.99) until
    twice the standard deviation of the mean over the blocks, of value, u and both ends of the interval, is below
    `share` of the numerical tolerance delta. Delta is half a unit of the last of `digits` significant digits of u
    (7.9.2); a share of 1 is enough for the result itself, 1/5 for validating another (8.2). It ends at `most` trials
    with `stable` false. Without `seed` it comes from the budget, see `sampling.seed_of`.

    Memory: the inputs of one block, and 16 bytes a trial for the sorted results. Raises NumberError when the function
    gives no finite number somewhere, for inputs without a standard deviation and for correlated inputs of other shapes.
    """
    probability("coverage", coverage)
    size = max(_BLOCK, math.ceil(100 / (1 - coverage)))
    if trials is not None and not 2 <= trials <= 10**8:
        raise NumberError(f"trials={trials!r}: must lie in 2..1e8; 1000000 is a good number")
    if digits not in (1, 2, 3):
        raise NumberError(f"digits={digits!r}: must be 1, 2 or 3; a standard uncertainty is good for two")
    seed = seed_of(budget) if seed is None else seed
    blocks = _Blocks(budget, coverage, shortest, seed)
    if trials is not None:
        for begin in range(0, trials, _BLOCK):
            blocks.add(min(_BLOCK, trials - begin))
        return blocks.result(digits, 1.0)
    blocks.add(size)
    blocks.add(size)
    while not blocks.stable(digits, share) and blocks.trials + size <= most:
        blocks.add(size)
    return blocks.result(digits, share)


def numerical_tolerance(u: float, digits: int) -> float:
    """Half a unit of the last of `digits` significant digits of `u` (JCGM 101, 7.9.2); 0 for u = 0."""
    if u == 0:
        return 0.0
    # through the decimal form, so that 0.0995 with two digits counts as 0.10 with a last digit of 0.01
    return 0.5 * 10.0 ** (int(f"{u:.{digits - 1}e}".partition("e")[2]) - digits + 1)


class _Blocks:
    """The blocks of one run and what each gave: (value, u, lower, upper)."""

    def __init__(self, budget: Budget, coverage: float, shortest: bool, seed: int) -> None:
        self.budget, self.coverage, self.shortest, self.seed = budget, coverage, shortest, seed
        self.bits = source(seed)
        self.sampler: Sampler | None = None
        self.outputs: list[FloatArray] = []
        self.figures: list[tuple[float, float, float, float]] = []
        self.trials = 0

    def add(self, count: int) -> None:
        """Draw one more block and evaluate it."""
        if self.sampler is None or self.sampler.block.shape[1] != count:
            self.sampler = Sampler(self.budget, count)
        drawn = self.sampler.draw(self.bits)
        values = np.sort(self.budget.at(drawn))
        if not (math.isfinite(values[0]) and math.isfinite(values[-1])):  # nan sorts to the end
            raise self._not_finite(drawn)
        mean = float(values.mean())
        deviations = values - mean
        u = math.sqrt(float((deviations * deviations).sum()) / max(1, count - 1))
        self.figures.append((mean, u, *interval(values, self.coverage, self.shortest)))
        self.outputs.append(values)
        self.trials += count

    def _not_finite(self, drawn: FloatArray) -> NumberError:
        values = self.budget.at(drawn)
        bad = np.flatnonzero(~np.isfinite(values))
        where = ", ".join(f"{i.name}={float(x)!r}" for i, x in zip(self.budget.inputs, drawn[:, bad[0]], strict=True))
        return NumberError(
            f"{bad.size} of {values.size} trials gave no finite number, the first at {where}: the model must hold over "
            "the whole distribution of its inputs; give a bounded shape or a smaller uncertainty"
        )

    def _whole(self) -> tuple[float, float]:
        """Mean and standard deviation over all blocks."""
        weights = [len(block) for block in self.outputs]
        value = math.fsum(w * f[0] for w, f in zip(weights, self.figures, strict=True)) / self.trials
        squares = math.fsum(
            (w - 1) * f[1] ** 2 + w * (f[0] - value) ** 2 for w, f in zip(weights, self.figures, strict=True)
        )
        return value, math.sqrt(squares / (self.trials - 1))

    def _noise(self) -> float:
        """Twice the standard deviation of the mean over the blocks, of the worst of the four figures."""
        h = len(self.figures)
        if h < 2:
            return math.inf
        worst = 0.0
        for column in zip(*self.figures, strict=True):
            mean = math.fsum(column) / h
            worst = max(worst, math.fsum((x - mean) ** 2 for x in column) / (h * (h - 1)))
        return 2 * math.sqrt(worst)

    def stable(self, digits: int, share: float) -> bool:
        """Whether the run is long enough (JCGM 101, 7.9.4 h and i)."""
        return self._noise() <= share * numerical_tolerance(self._whole()[1], digits)

    def result(self, digits: int, share: float) -> Trials:
        """All blocks as one."""
        values = np.concatenate(self.outputs)
        values.sort(kind="stable")  # merges the blocks, which are sorted
        value, u = self._whole()
        lower, upper = interval(values, self.coverage, self.shortest)
        return Trials(
            values,
            value,
            u,
            self.coverage,
            self.shortest,
            lower,
            upper,
            self.seed,
            numerical_tolerance(u, digits),
            self._noise(),
            self.stable(digits, share),
        )


def interval(values: FloatArray, coverage: float, shortest: bool = False) -> tuple[float, float]:
    """Ends of the coverage interval among sorted values (JCGM 101, 7.7.1 and 7.7.2)."""
    count = len(values)
    inside = min(count - 1, int(coverage * count + 0.5))
    begin = int(np.argmin(values[inside:] - values[: count - inside])) if shortest else (count - inside) // 2
    return float(values[begin]), float(values[begin + inside])
