"""Which better measurement would decide an undecided check, and by how much better it must be."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import NamedTuple, Protocol

from rigproof.uncertainty.decision import Finding


class Contributes(Protocol):
    """A line of a budget: which input, and |sensitivity| u."""

    @property
    def input(self) -> str:
        """Its name."""

    @property
    def contribution(self) -> float:
        """In the unit of the result."""


class Improvement(NamedTuple):
    """The input to improve, what its u must at most be as a share of the present one, and what would then be found.

    `factor` and `finding` are None when no input alone decides, even if it were exact: `input` is then the largest
    contribution, if there is any.
    """

    input: str
    factor: float | None
    finding: Finding | None


def improvement(lines: Sequence[Contributes], u: float, finding_at: Callable[[float], Finding]) -> Improvement:
    """The least improvement of one input that makes the finding definite at the same measured value.

    `finding_at(scale)` is the finding with a standard uncertainty scale·`u`, the degrees of freedom and shape left as
    they are; from some scale downwards it is definite, or never. An input with contribution c reaches that scale when
    its own u shrinks to the factor f with u² - c² (1 - f²) = (scale u)² (JCGM 100, equation 10): the largest
    contribution needs to shrink least.
    """
    largest = max(lines, key=lambda line: line.contribution, default=None)
    if largest is None or largest.contribution == 0 or u == 0:
        return Improvement("", None, None)
    scale = _definite_from(finding_at)
    left = 0.0 if scale is None else 1 - (1 - scale**2) * (u / largest.contribution) ** 2
    if scale is None or left <= 0:
        return Improvement(largest.input, None, None)
    return Improvement(largest.input, math.sqrt(left), finding_at(scale))


def _definite_from(finding_at: Callable[[float], Finding]) -> float | None:
    """The largest scale below 1 with a definite finding, from below to a millionth; None when there is none."""
    low, high = 1e-6, 1.0
    if finding_at(low) == "undecided":
        return None
    while high - low > 1e-6:
        middle = 0.5 * (low + high)
        if finding_at(middle) == "undecided":
            high = middle
        else:
            low = middle
    return low
