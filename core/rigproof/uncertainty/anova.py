"""Repeatability and reproducibility from groups of readings: one-way analysis of variance (JCGM 100, H.5)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy.typing as npt

from rigproof.errors import NumberError
from rigproof.uncertainty.budget import Estimate
from rigproof.uncertainty.distributions import f_tail
from rigproof.uncertainty.statistics import finite_row, mean_and_deviations, total


@dataclass(frozen=True, slots=True)
class GroupStatistics:
    """What groups of readings (days, operators, mountings) show; everything in the unit of a reading.

    `s_within`: of one reading within a group (repeatability), `dof_within`. `s_between`: of the groups' true means, 0
    where the data show none; `dof_between` = groups - 1. `ratio`: mean square between over within, and
    `probability` that no difference between groups gives one as large. `size`: readings of a group (their effective
    number where groups differ, ISO 5725-2:2019, 7.4.5.3, from memory).
    """

    mean: float
    s_within: float
    dof_within: float
    s_between: float
    dof_between: float
    ratio: float
    probability: float
    size: float
    s_of_means: float
    readings: int

    @property
    def s_reproducibility(self) -> float:
        """Standard deviation of one reading in a group of its own: √(s_within² + s_between²) (ISO 5725-2)."""
        return math.hypot(self.s_within, self.s_between)

    def estimate(self) -> Estimate:
        """The mean of the groups' means, groups taken as different: u = s(means)/√J, J-1 (JCGM 100, H.5.2.5)."""
        groups = self.dof_between + 1
        return Estimate(self.mean, self.s_of_means / math.sqrt(groups), self.dof_between)

    def pooled(self) -> Estimate:
        """The mean where groups do not differ: all readings as one set (JCGM 100, H.5.2.5), n-1 degrees of freedom."""
        squares = self.s_within**2 * self.dof_within + self.ratio * self.s_within**2 * self.dof_between
        if self.s_within == 0:
            squares = self.size * self.s_of_means**2 * self.dof_between
        dof = self.dof_within + self.dof_between
        return Estimate(self.mean, math.sqrt(squares / dof / self.readings), dof)


def group_statistics(groups: Sequence[npt.ArrayLike]) -> GroupStatistics:
    """One-way analysis of variance of at least 2 groups with at least 2 readings each, shapes (n_j,).

    Raises NumberError for fewer, and for readings that are no numbers.
    """
    if len(groups) < 2:
        raise NumberError(f"groups={len(groups)}: at least 2 are needed to tell groups apart; repeat on another day")
    rows = [finite_row(group, 2, f"group {n}") for n, group in enumerate(groups, 1)]
    sizes = [row.size for row in rows]
    parts = [mean_and_deviations(row) for row in rows]
    readings, count = sum(sizes), len(rows)
    dof_within, dof_between = float(readings - count), count - 1.0
    within = math.fsum(total(deviations**2) for _, deviations in parts) / dof_within
    weighted = math.fsum(n * mean for n, (mean, _) in zip(sizes, parts, strict=True)) / readings
    between = math.fsum(n * (mean - weighted) ** 2 for n, (mean, _) in zip(sizes, parts, strict=True)) / dof_between
    size = (readings - sum(n * n for n in sizes) / readings) / dof_between
    means = math.fsum(mean for mean, _ in parts) / count
    of_means = math.fsum((mean - means) ** 2 for mean, _ in parts) / dof_between
    ratio = between / within if within > 0 else math.inf if between > 0 else 0.0
    return GroupStatistics(
        means,
        math.sqrt(within),
        dof_within,
        math.sqrt(max(0.0, between - within) / size),
        dof_between,
        ratio,
        f_tail(ratio, dof_between, dof_within),
        size,
        math.sqrt(of_means),
        readings,
    )
