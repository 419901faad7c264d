"""Many budgets of one function at once: the same first order as `Budget`, on arrays."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from rigproof.errors import NumberError
from rigproof.uncertainty.budget import LEAST_STEP, STEP_PER_U, STEP_PER_VALUE, Numbers
from rigproof.uncertainty.sampling import FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class BatchEstimate:
    """Results of m budgets of n inputs: `value`, `u`, `dof` of shape (m,); per input arrays of shape (n, m)."""

    value: FloatArray
    u: FloatArray
    dof: FloatArray
    sensitivity: FloatArray
    contribution: FloatArray
    share: FloatArray


def evaluate_many(
    function: Callable[..., Numbers],
    values: npt.ArrayLike,
    u: npt.ArrayLike,
    dof: npt.ArrayLike = math.inf,
) -> BatchEstimate:
    """First-order budgets of `function(*values)` for m sets of n independent inputs (JCGM 100, equations 10 and G.2b).

    `values` has shape (n, m); `u` and `dof` that shape or one that broadcasts to it, such as (n, 1). The results are
    those of `Budget.evaluate` for each set, to rounding. Costs 2 n + 1 calls of the function on arrays. Raises
    NumberError, naming input and set by their places, where a number breaks the rules of `Input` or a result is not
    finite.
    """
    xs = np.array(values, dtype=np.float64)
    if xs.ndim != 2 or not xs.size:
        raise NumberError(f"values: shape={xs.shape}: must be (inputs, sets); stack one row per input")
    us, dofs = _like(u, xs, "u"), _like(dof, xs, "dof")
    _refuse(~np.isfinite(xs), xs, "values", "must be finite; look at the reading it comes from")
    _refuse(~(np.isfinite(us) & (us >= 0)), us, "u", "a standard uncertainty must be finite and >= 0")
    _refuse(~(dofs > 0), dofs, "dof", "degrees of freedom must be > 0 (inf for a Type B input)")
    value, sensitivity = _differentiate(function, xs, us)
    contribution = np.abs(sensitivity) * us
    combined = np.sqrt((contribution * contribution).sum(axis=0))
    with np.errstate(all="ignore"):
        share = np.where(combined > 0, (contribution / combined) ** 2, 0.0)
        effective = 1.0 / (share * share / dofs).sum(axis=0)  # 1/0 is inf: all well known
    return BatchEstimate(value, combined, effective, sensitivity, contribution, share)


def _differentiate(function: Callable[..., Any], xs: FloatArray, us: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Values and central differences, by the same steps as `Budget` takes."""
    rows = list(xs)
    sensitivity = np.zeros_like(xs)
    steps = np.maximum(us * STEP_PER_U, np.abs(xs) * STEP_PER_VALUE + LEAST_STEP)
    with np.errstate(all="ignore"):
        value = np.asarray(function(*rows), dtype=np.float64)
        if value.shape not in ((), xs.shape[1:]):
            raise NumberError(
                f"function gave shape {value.shape} for {xs.shape[1]} sets: it must work element by element on arrays"
            )
        value = np.broadcast_to(value, xs.shape[1:])
        for n, x in enumerate(xs):
            if not us[n].any():
                continue
            up, down = x + steps[n], x - steps[n]
            rows[n] = up
            high = function(*rows)
            rows[n] = down
            sensitivity[n] = np.where(us[n] > 0, (high - function(*rows)) / (up - down), 0.0)
            rows[n] = x
    whole = value + sensitivity.sum(axis=0)
    if not np.isfinite(whole).all():
        at = int(np.argmin(np.isfinite(whole)))
        where = ", ".join(repr(float(x)) for x in xs[:, at])
        raise NumberError(
            f"set {at}: function({where}): not a finite number there or beside it: look for an input in a wrong unit "
            "or with too large an uncertainty"
        )
    return value, sensitivity


def _like(given: npt.ArrayLike, xs: FloatArray, what: str) -> FloatArray:
    array = np.asarray(given, dtype=np.float64)
    try:
        return np.broadcast_to(array, xs.shape)
    except ValueError:
        raise NumberError(f"{what}: shape={array.shape}: must broadcast to {xs.shape}, as (inputs, 1) does") from None


def _refuse(wrong: npt.NDArray[np.bool_], array: FloatArray, what: str, rule: str) -> None:
    if wrong.any():
        n, at = (int(place) for place in np.argwhere(wrong)[0])
        raise NumberError(f"{what}: input {n}, set {at}: {float(array[n, at])!r}: {rule}")
