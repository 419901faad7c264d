"""Figures of a force calibration against a worked series, and against the definitions in plain numpy.

The series T-MET-02 is constructed and was reduced by another route; the definitions are those of ISO 376:2011 in own
words, from memory. Nobody published its numbers.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import pytest

from rigproof.documents import load_rig
from rigproof.documents.rig import Rig
from rigproof.instruments import FloatArray
from rigproof.plugins import Registry
from rigproof.steps.checks import value_of
from rigproof.steps.record import Block
from rigproof.steps.series_figures import Series, figures, hat_matrix

from .conftest import Published

Case = Callable[[str], Published]
RIG = Path(__file__).parents[2] / "rigs" / "forcecell" / "rig.yaml"


@pytest.fixture(scope="module")
def rig(registry: Registry) -> Rig:
    return load_rig(RIG, registry)


def block(output: float, force: float) -> Block:
    """Steady readings of the cell (V/V) and of the force (N)."""
    return Block("", 0.0, {"cell": np.full(5, output), "force": np.full(5, force)}, {})


def series(
    rig: Rig,
    forces: Sequence[float],
    ups: Sequence[Sequence[float]],
    downs: dict[int, Sequence[float]],
    zero_after: float = 0.0,
    crept: tuple[float, float] = (0.0, 0.0),
    degree: int = 2,
) -> Series:
    """Increasing series in order, decreasing ones by the number of theirs; outputs in V/V, forces in N."""
    levels = {
        (number, level, "up"): block(output, forces[level - 1])
        for number, outputs in enumerate(ups, 1)
        for level, output in enumerate(outputs, 1)
    }
    for number, outputs in downs.items():
        levels |= {(number, level, "down"): block(output, forces[level - 1]) for level, output in enumerate(outputs, 1)}
    zeros = {(number, "before"): block(0.0, 0.0) for number in range(1, len(ups) + 1)}
    zeros |= {(number, "after"): block(zero_after, 0.0) for number in range(1, len(ups) + 1)}
    top = forces[-1]
    creep = {("load", at): block(output, top) for at, output in zip(("soon", "late"), crept, strict=True)}
    creep |= {("unload", at): block(0.0, 0.0) for at in ("soon", "late")}
    return Series(rig, "cell", "force", zeros, levels, creep, len(forces), len(ups), top, degree)


def largest(made: Series) -> dict[str, float]:
    """Each figure where it is largest by size."""
    return {
        name: max((value_of(term) for term, _ in candidates), key=abs) for name, candidates in figures(made).items()
    }


def test_the_constructed_series_of_the_collection(rig: Rig, mechanics_case: Case) -> None:
    case = mechanics_case("T-MET-02")
    given = {name: np.asarray(value, dtype=float) for name, value in case.inputs.items()}
    mv = 1e-3
    made = series(
        rig,
        (1e3 * given["force_kN"]).tolist(),
        [(mv * given[name]).tolist() for name in ("X1", "X2", "X3_up", "X5_up")],
        {3: (mv * given["X4_down"]).tolist(), 4: (mv * given["X6_down"]).tolist()},
        mv * float(given["zero_after_30s"]),
        (mv * float(given["i_30s"]), mv * float(given["i_300s"])),
    )
    found = {name: 100 * abs(value) for name, value in largest(made).items()}
    case.check(
        b_max_percent=found["reproducibility"],
        b_prime_max_percent=found["repeatability"],
        fc_absmax_percent=found["interpolation"],
        f0_percent=found["zero"],
        v_max_percent=found["reversibility"],
        creep_30_300_percent=found["creep"],
    )


def test_the_definitions_in_plain_numpy(rig: Rig) -> None:
    """Any series: figures by numpy alone, the curve by its own least squares."""
    rng = np.random.default_rng(376)
    forces = np.linspace(12.5e3, 100e3, 8)
    ups: FloatArray = 2e-8 * forces * (1 + 1e-3 * rng.standard_normal((5, 8)))
    downs: FloatArray = ups[2:] * (1 + 2e-3 * rng.standard_normal((3, 8)))
    made = series(
        rig, forces.tolist(), ups.tolist(), {n: row[:-1].tolist() for n, row in enumerate(downs, 3)}, degree=3
    )
    turned = ups[[0, 2, 3, 4]]
    mean = turned.mean(axis=0)
    scaled = forces / forces[-1]
    rows = scaled[:, None] ** np.arange(1, 4)
    curve = rows @ np.linalg.lstsq(rows, mean, rcond=None)[0]
    reversed_by = np.abs(downs / ups[2:] - 1).mean(axis=0)[:-1]
    expected = {
        "reproducibility": np.max(np.ptp(turned, axis=0) / mean),
        "repeatability": np.max(np.abs(ups[1] - ups[0]) / ups[:2].mean(axis=0)),
        "interpolation": np.max(np.abs(mean / curve - 1)),
        "reversibility": np.max(reversed_by),
    }
    found = {name: abs(value) for name, value in largest(made).items()}
    assert {name: found[name] for name in expected} == pytest.approx(expected, rel=1e-9)


def test_a_force_that_missed_its_target_is_taken_out(rig: Rig) -> None:
    """A straight cell read at forces 0.3 % too low in one series is as reproducible as before."""
    forces = [20e3, 40e3, 60e3]
    straight = [2e-8 * force for force in forces]
    made = series(rig, forces, [straight] * 4, {3: straight[:2], 4: straight[:2]})
    short = {
        (3, level, way): block(0.997 * 2e-8 * forces[level - 1], 0.997 * forces[level - 1])
        for (number, level, way) in made.levels
        if number == 3
    }
    moved = Series(**{**vars(made), "levels": {**made.levels, **short}})
    assert largest(moved) == pytest.approx(dict.fromkeys(largest(moved), 0.0), abs=1e-12)


@pytest.mark.parametrize("degree", [1, 2, 3])
def test_the_hat_matrix_is_that_of_numpy(degree: int) -> None:
    """H = A (AᵀA)⁻¹ Aᵀ of the columns x, x², x³."""
    forces = np.linspace(10e3, 100e3, 10)
    rows = (forces / 1e5)[:, None] ** np.arange(1, degree + 1)
    assert hat_matrix(forces, degree) == pytest.approx(rows @ np.linalg.pinv(rows), abs=1e-12)
