"""First-order uncertainty budgets (JCGM 100, clause 5) with numerical sensitivities.

The measurement model is a plain function, so the one that gives the value also gives the sensitivities here and
serves a Monte Carlo run (`montecarlo.py`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from rigproof.errors import NumberError, RigproofError
from rigproof.uncertainty.correlation import Correlation, independent_components
from rigproof.uncertainty.distributions import coverage_factor
from rigproof.uncertainty.inputs import Input

Numbers = float | npt.NDArray[np.float64]

# Step of the central difference. A thirty-second of u keeps the error from curvature at (u/32)²/6 times the third
# derivative and the step inside domains that end near the value; the floor keeps the difference above rounding.
STEP_PER_U = 1 / 32
STEP_PER_VALUE = 2.0**-24
LEAST_STEP = 1e-300

# From so many uncertain inputs on, one call on an array is faster than two calls an input. Measured on the budgets of a
# spool's run: 0.2 times as fast at 3 inputs, 1.2 at 9, 9 at 18, 13 at 24; on a light model of 8 inputs 0.4 times.
AT_ONCE = 10


class Line(NamedTuple):
    """One input's line of a budget.

    `contribution` = |sensitivity| u, in the unit of the result (JCGM 100, 5.1.3). `share` = contribution² / u², a
    fraction of the result's variance; the shares add up to 1 when no inputs are correlated.
    """

    input: str
    value: float
    u: float
    dof: float
    unit: str
    sensitivity: float
    contribution: float
    share: float


_line = tuple.__new__  # a third faster than Line(...), with eight lines in a budget


@dataclass(frozen=True, slots=True)
class Estimate:
    """A result: value, standard uncertainty in the same unit, effective degrees of freedom (or inf), budget lines.

    `budget` is what it was evaluated from, for whoever validates it (JCGM 101, clause 8); None when it came otherwise.
    """

    value: float
    u: float
    dof: float
    lines: tuple[Line, ...] = ()
    budget: Budget | None = field(default=None, repr=False, compare=False)

    def expanded(self, coverage: float) -> tuple[float, float]:
        """Coverage factor k and expanded uncertainty U = k u for `coverage` in (0, 1), such as 0.95.

        k is the t factor of the real-valued effective degrees of freedom (JCGM 100, G.4.1: not truncated).
        """
        k = coverage_factor(coverage, self.dof)
        return k, k * self.u


@dataclass(frozen=True, slots=True)
class Budget:
    """A measurement model with its inputs.

    `function(*values)` takes one number per input, in their order, and returns the result. It works alike on floats and
    on equal-shaped float arrays, element by element, and has no side effects. `correlations` are (name, name, r) of two
    inputs; pairs left out are independent.
    """

    function: Callable[..., Numbers]
    inputs: Sequence[Input]
    correlations: Sequence[Correlation] = ()

    def evaluate(self) -> Estimate:
        """Value, combined standard uncertainty and lines (JCGM 100, equations 10, 16 and G.2b).

        Costs one call of the function and two more per input with u > 0. Correlated inputs enter the effective degrees
        of freedom as one component, see `effective_dof`. Raises NumberError when the function gives no finite number
        and for correlations that cannot be.
        """
        inputs = self.inputs
        value, slopes = self._differentiate()
        contributions = [abs(slope) * i.u for slope, i in zip(slopes, inputs, strict=True)]
        if self.correlations:
            components = independent_components(inputs, slopes, self.correlations)
            u = math.hypot(*[part for part, _ in components])
        else:
            components = [(part, i.dof) for part, i in zip(contributions, inputs, strict=True) if i.dof < math.inf]
            u = math.hypot(*contributions)
        per_u = 1.0 / u if u > 0 else 0.0
        lines = [
            _line(Line, (i.name, i.value, i.u, i.dof, i.unit, slope, part, (part * per_u) ** 2))
            for i, slope, part in zip(inputs, slopes, contributions, strict=True)
        ]
        return Estimate(value, u, effective_dof(components, u), tuple(lines), self)

    def at(self, values: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        """The function at many points at once: `values` has shape (inputs, points), the result (points,).

        Numbers that are not finite are passed on. Raises NumberError for a function that does not work on arrays.
        """
        try:
            with np.errstate(all="ignore"):
                result = np.asarray(self.function(*values), dtype=np.float64)
        except RigproofError:
            raise
        except (ArithmeticError, TypeError, ValueError) as error:
            raise self._not_vectorised(str(error)) from error
        if result.shape not in ((), values.shape[1:]):
            raise self._not_vectorised(f"gave shape {result.shape} for {values.shape[1:]}")
        return np.broadcast_to(result, values.shape[1:])

    def _not_vectorised(self, what: str) -> NumberError:
        name = getattr(self.function, "__name__", "function")
        return NumberError(
            f"{name}({', '.join(i.name for i in self.inputs)}): {what}: a model must work on arrays as on floats, "
            "element by element; use arithmetic and numpy functions, no if"
        )

    def _differentiate(self) -> tuple[float, list[float]]:
        """The function's value and its central differences, one per input."""
        if sum([i.u > 0 for i in self.inputs]) >= AT_ONCE and (found := self._at_once()) is not None:
            return found
        return self._one_by_one()

    def _at_once(self) -> tuple[float, list[float]] | None:
        """The same in one call on an array; None where that gives no number: one by one then says which and where."""
        x, u = np.array([(i.value, i.u) for i in self.inputs]).T
        moving = np.flatnonzero(u)
        count = moving.size
        step = np.maximum(u * STEP_PER_U, np.abs(x) * STEP_PER_VALUE + LEAST_STEP)[moving]
        points = np.repeat(x[:, np.newaxis], 2 * count + 1, axis=1)
        up, down = x[moving] + step, x[moving] - step
        columns = np.arange(count)
        points[moving, columns], points[moving, count + columns] = up, down
        try:
            found = self.at(points)
        except RigproofError:
            return None
        if not np.isfinite(found).all():
            return None
        slopes = np.zeros(x.size)
        slopes[moving] = (found[:count] - found[count : 2 * count]) / (up - down)
        return float(found[-1]), slopes.tolist()

    def _one_by_one(self) -> tuple[float, list[float]]:
        function: Callable[..., Any] = self.function
        values = [i.value for i in self.inputs]
        slopes: list[float] = []
        value = None
        try:
            with np.errstate(all="ignore"):  # the test below says it better than a warning
                value = function(*values)
                for at, i in enumerate(self.inputs):
                    if i.u == 0.0:
                        slopes.append(0.0)
                        continue
                    x, step = i.value, i.u * STEP_PER_U
                    if step < (least := abs(x) * STEP_PER_VALUE + LEAST_STEP):
                        step = least
                    values[at] = up = x + step
                    high = function(*values)
                    values[at] = down = x - step
                    slopes.append((high - function(*values)) / (up - down))
                    values[at] = x
        except RigproofError:
            raise  # the model itself says what is wrong
        except (ArithmeticError, ValueError) as error:
            raise self._fault(value, slopes, str(error)) from error
        total = value + sum(slopes)  # shows a nan, an infinity and a complex number wherever it is
        if isinstance(total, complex) or not math.isfinite(total):
            raise self._fault(value, slopes, "not a finite real number")
        return float(value), slopes if type(total) is float else [float(slope) for slope in slopes]

    def _fault(self, value: Any, slopes: Sequence[float], what: str) -> NumberError:
        """The error for a function that fails at the inputs' values, or beside them when `value` is good."""
        name = getattr(self.function, "__name__", "function")
        where = ", ".join(f"{i.name}={i.value!r}" for i in self.inputs)
        if value is not None and _good(value):
            at = next((n for n, slope in enumerate(slopes) if not _good(slope)), len(slopes))
            for moved in self.inputs[at : at + 1]:  # none when each number is good and only their sum overflows
                where = f"{where}, near {moved.name} ± {moved.u!r}"
        return NumberError(
            f"{name}({where}): {what}: the model must give a finite number there; look for an input in a wrong unit "
            "or with too large an uncertainty"
        )


def _good(number: Any) -> bool:
    return not isinstance(number, complex) and math.isfinite(number)


def effective_dof(components: Iterable[tuple[float, float]], u: float) -> float:
    """Effective degrees of freedom of independent components (u_i, dof_i) that combine to `u`; inf when all are.

    Welch-Satterthwaite, JCGM 100, G.2b. It holds for independent components only: inputs that are correlated with each
    other enter together, as one component (R. Willink, Metrologia 44, 2007, 340-349).
    """
    if u == 0.0:
        return math.inf
    weight = sum([(part / u) ** 4 / dof for part, dof in components])
    return 1.0 / weight if weight > 0 else math.inf
