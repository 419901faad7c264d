"""Drawing the inputs of a budget at random (JCGM 101, 6.4 and table 1).

The bits come from PCG64 and are shaped by numpy's `RandomState`, whose streams are frozen for good (NEP 19): a record
judged again years later, with another numpy, draws the same numbers. On top of it stand only operations that IEEE 754
rounds one way, so that no vector unit and no linear-algebra library shows in a verdict.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from hashlib import blake2b
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from rigproof.errors import NumberError
from rigproof.uncertainty.correlation import correlation_matrix, linked
from rigproof.uncertainty.inputs import Input

if TYPE_CHECKING:
    from rigproof.uncertainty.budget import Budget

FloatArray = npt.NDArray[np.float64]
Source = np.random.RandomState


def seed_of(budget: Budget) -> int:
    """A seed (64 bits) that the inputs and correlations of `budget` alone decide, to the last bit of each number.

    Two budgets with the same inputs draw the same numbers, whatever machine, load or order they are judged in.
    """
    said = [(i.name, *(float(x).hex() for x in (i.value, i.u, i.dof, i.form)), i.shape) for i in budget.inputs]
    pairs = [(a, b, float(r).hex()) for a, b, r in budget.correlations]
    return int.from_bytes(blake2b(repr((said, pairs)).encode("utf-8"), digest_size=8).digest(), "big")


def source(seed: int) -> Source:
    """The source of random numbers for a `seed`, 0 to 2^64 - 1 or any other whole number that is not negative."""
    if seed < 0:
        raise NumberError(f"seed={seed!r}: must be a whole number >= 0; leave it out to take it from the budget")
    return np.random.RandomState(np.random.PCG64(seed))


class Sampler:
    """Draws blocks of the inputs of one budget.

    Inputs that correlations link are drawn from a multivariate normal distribution (JCGM 101, 6.4.8) or, when one of
    them has finite degrees of freedom, from the multivariate t with the fewest (JCGM 102, 5.3.2, from memory).
    """

    def __init__(self, budget: Budget, count: int) -> None:
        self.inputs = tuple(budget.inputs)
        self.block = np.empty((len(self.inputs), count))
        self.block[:] = np.array([i.value for i in self.inputs])[:, np.newaxis]
        self._groups = _groups(budget)
        grouped = {n for members, _, _ in self._groups for n in members}
        self._alone = [(n, i) for n, i in enumerate(self.inputs) if i.u > 0 and n not in grouped]
        for item in self.inputs:
            if item.u > 0 and item.shape in ("normal", "t") and item.dof <= 2:
                raise NumberError(
                    f"{item.name}: dof={item.dof!r}: its distribution has no standard deviation; "
                    "Monte Carlo needs dof > 2, take at least 4 readings (JCGM 101, 6.4.9.4)"
                )

    def draw(self, bits: Source) -> FloatArray:
        """The next block, shape (inputs, count); the same memory every time."""
        count = self.block.shape[1]
        for n, item in self._alone:
            row = self.block[n]
            np.multiply(_standard(item, bits, count), _scale(item), out=row)
            row += item.value
        for members, root, dof in self._groups:
            normal = [bits.standard_normal(count) for _ in members]
            shrink = np.sqrt(bits.chisquare(dof, count) / dof) if dof < math.inf else 1.0
            for n, weights in zip(members, root, strict=True):
                # row by row, since a product of matrices rounds differently on different processors
                mixed = sum((w * z for w, z in zip(weights, normal, strict=True) if w), np.zeros(count))
                self.block[n] = self.inputs[n].value + self.inputs[n].u * (mixed / shrink)
        return self.block


def _scale(item: Input) -> float:
    """What a standard number of the shape is multiplied with: half width or u."""
    half_width = item.half_width
    return item.u if half_width is None else half_width


def _standard(item: Input, bits: Source, count: int) -> FloatArray:
    """Numbers of the item's shape about 0: half width 1, or for normal and t scale 1.

    A rectangle keeps its limits whatever its degrees of freedom; a normal input with finite ones is a certificate's and
    is drawn as t (JCGM 101, 6.4.9.7).
    """
    match item.shape:
        case "rectangular":
            numbers = _even(bits, count)
        case "triangular":
            numbers = bits.random_sample(count) + bits.random_sample(count) - 1.0
        case "arcsine":
            # the cosine of twice the angle of a point drawn alike in all directions, without a cosine
            a, b = bits.standard_normal(count) ** 2, bits.standard_normal(count) ** 2
            numbers = (a - b) / (a + b)
        case "trapezoid":
            outer, inner = bits.random_sample(count), bits.random_sample(count)
            numbers = (1 + item.form) * outer + (1 - item.form) * inner - 1.0
        case "curvilinear trapezoid":
            numbers = (1.0 + item.form * _even(bits, count)) * _even(bits, count)
        case _ if item.dof < math.inf:
            numbers = bits.standard_t(item.dof, count)
        case _:
            numbers = bits.standard_normal(count)
    return numbers


def _even(bits: Source, count: int) -> FloatArray:
    """Even between -1 and 1."""
    numbers = bits.random_sample(count)
    numbers *= 2.0
    numbers -= 1.0
    return numbers


def _groups(budget: Budget) -> list[tuple[list[int], list[list[float]], float]]:
    """Linked inputs with u > 0: their places, a lower root of their correlation matrix, their degrees of freedom."""
    if not budget.correlations:
        return []
    inputs = budget.inputs
    matrix = correlation_matrix([i.name for i in inputs], budget.correlations)
    found = []
    for group in linked(matrix):
        members = [n for n in sorted(group) if inputs[n].u > 0]
        if len(group) < 2 or not members:
            continue
        for n in members:
            if inputs[n].shape not in ("normal", "t"):
                raise NumberError(
                    f"{inputs[n].name}: shape={inputs[n].shape!r}: correlated inputs are drawn as normal or t; "
                    "split off the part they share as an input of its own"
                )
        root = lower_root(matrix[np.ix_(members, members)].tolist())
        found.append((members, root, min(inputs[n].dof for n in members)))
    return found


def lower_root(matrix: Sequence[Sequence[float]]) -> list[list[float]]:
    """Lower triangular L with L L' = `matrix`, positive semidefinite (Cholesky; a vanishing pivot gives a column 0)."""
    size = len(matrix)
    root = [[0.0] * size for _ in range(size)]
    for column in range(size):
        pivot = matrix[column][column] - math.fsum(x * x for x in root[column][:column])
        if pivot <= 1e-12 * matrix[column][column]:
            continue
        root[column][column] = math.sqrt(pivot)
        for row in range(column + 1, size):
            done = math.fsum(a * b for a, b in zip(root[row][:column], root[column][:column], strict=True))
            root[row][column] = (matrix[row][column] - done) / root[column][column]
    return root
