"""Correlated inputs (JCGM 100, 5.2)."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from rigproof.errors import NumberError
from rigproof.uncertainty.inputs import Input

Correlation = tuple[str, str, float]  # names of two inputs, correlation coefficient

# Published coefficients are rounded; a smallest eigenvalue this little below zero is taken as zero.
_ROUNDING = 1e-6


def correlation_matrix(names: Sequence[str], correlations: Sequence[Correlation]) -> npt.NDArray[np.float64]:
    """The matrix r(x_i, x_j), shape (n, n), in the order of `names`; pairs not listed are 0 (JCGM 100, 5.2.2).

    Raises NumberError for unknown, doubled or ambiguous names, |r| > 1, and a matrix that no quantities can have.
    """
    matrix = np.eye(len(names))
    for first, second, r in correlations:
        pair = f"correlation of {first!r} and {second!r}"
        for name in (first, second):
            if (count := list(names).count(name)) != 1:
                raise NumberError(f"{pair}: {name!r} names {count} inputs; use one of: {', '.join(names)}")
        if first == second or matrix[names.index(first), names.index(second)] != 0:
            raise NumberError(
                f"{pair}: r={r!r}: a pair of two different inputs is given once; leave out the repetition"
            )
        if not -1 <= r <= 1:
            raise NumberError(f"{pair}: r={r!r}: must lie in -1..1; divide the covariance by both uncertainties")
        matrix[names.index(first), names.index(second)] = matrix[names.index(second), names.index(first)] = r
    smallest = float(np.linalg.eigvalsh(matrix)[0])
    if smallest < -_ROUNDING:
        raise NumberError(
            f"correlations: smallest eigenvalue {smallest:.3g}: the matrix must be positive semidefinite; "
            "the coefficients contradict each other, take them from one set of data"
        )
    return matrix


def independent_components(
    inputs: Sequence[Input], sensitivities: Sequence[float], correlations: Sequence[Correlation]
) -> list[tuple[float, float]]:
    """Mutually independent components (u, dof) of a result: inputs linked by correlations are combined into one.

    A component's variance is the sum of c_i c_j u_i u_j r_ij over its inputs (JCGM 100, equation 16). The GUM has no
    degrees of freedom for it; here it has the fewest among its inputs: exact for quantities observed together
    (R. Willink, Metrologia 44, 2007, 340-349), on the safe side otherwise, since fewer give a wider interval.
    """
    matrix = correlation_matrix([i.name for i in inputs], correlations)
    signed = np.array([c * i.u for c, i in zip(sensitivities, inputs, strict=True)])
    components = []
    for members in linked(matrix):
        variance = float(signed[members] @ matrix[np.ix_(members, members)] @ signed[members])
        # variance can come out a rounding error below 0 where inputs cancel
        components.append(
            (math.sqrt(max(0.0, variance)), min((inputs[n].dof for n in members if signed[n] != 0), default=math.inf))
        )
    return components


def linked(matrix: npt.NDArray[np.float64]) -> list[list[int]]:
    """Groups of indices that are linked by entries other than zero, directly or through others."""
    groups: list[list[int]] = []
    for n in range(len(matrix)):
        linked, apart = [n], []
        for group in groups:
            if matrix[n, group].any():
                linked += group
            else:
                apart.append(group)
        groups = [*apart, linked]
    return groups
