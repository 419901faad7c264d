"""NIST Statistical Reference Datasets (StRD): linear regression and univariate statistics.

Data and certified values seen in two independent copies (provenance a), see data/nist/certified.json. The gates are
what double precision reaches by a good method; the poor ones (normal equations, one-pass sums) miss them.
"""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

from rigproof.uncertainty import autocorrelation, fit_line, fit_polynomial, fit_through_origin, mean_and_sd

DATA = Path(__file__).parent / "data" / "nist"
CERTIFIED: dict[str, Any] = json.loads((DATA / "certified.json").read_text(encoding="utf-8"))


def columns(name: str) -> npt.NDArray[np.float64]:
    """The columns of a set, y first; shape (columns, rows)."""
    with (DATA / CERTIFIED[name]["csv"]).open(encoding="utf-8") as file:
        return np.array([[float(cell) for cell in row] for row in list(csv.reader(file))[1:]]).T


def estimates(name: str) -> tuple[list[float], list[float]]:
    parameters = CERTIFIED[name]["parameters"].values()
    return [p["estimate"] for p in parameters], [p["sd"] for p in parameters]


@pytest.mark.parametrize(
    ("name", "gate"), [("NumAcc1", 1e-12), ("NumAcc2", 1e-12), ("NumAcc4", 1e-8), ("Michelso", 1e-12), ("Mavro", 1e-12)]
)
def test_univariate(name: str, gate: float) -> None:
    """The values of NumAcc4 themselves are rounded in binary, which leaves its sd 8 digits."""
    (y,), certified = columns(name), CERTIFIED[name]
    mean, sd = mean_and_sd(y)
    assert mean == pytest.approx(certified["mean"], rel=1e-13)
    assert sd == pytest.approx(certified["sd_n_minus_1"], rel=gate)
    assert autocorrelation(y) == pytest.approx(certified["autocorrelation_lag1"], rel=1e-10)


def test_norris_line() -> None:
    y, x = columns("Norris")
    line = fit_line(x, y)
    values, sds = estimates("Norris")
    assert [line.intercept, line.slope] == pytest.approx(values, rel=1e-10)
    assert np.sqrt(np.diag(line.covariance)) == pytest.approx(sds, rel=1e-10)
    assert line.s == pytest.approx(CERTIFIED["Norris"]["residual_sd"], rel=1e-10)
    assert line.dof == CERTIFIED["Norris"]["anova"]["residual"]["df"]


def test_pontius_quadratic_load_cell() -> None:
    y, x = columns("Pontius")
    curve = fit_polynomial(x, y, 2)
    values, sds = estimates("Pontius")
    assert curve.coefficients == pytest.approx(values, rel=1e-9)
    assert np.sqrt(np.diag(curve.covariance)) == pytest.approx(sds, rel=1e-9)
    assert curve.s == pytest.approx(CERTIFIED["Pontius"]["residual_sd"], rel=1e-9)


def test_noint1_through_the_origin() -> None:
    y, x = columns("NoInt1")
    line = fit_through_origin(x, y)
    (value,), (sd,) = estimates("NoInt1")
    assert line.slope == pytest.approx(value, rel=1e-12)
    assert line.u == pytest.approx(sd, rel=1e-12)
    assert line.s == pytest.approx(CERTIFIED["NoInt1"]["residual_sd"], rel=1e-12)
    assert line.dof == CERTIFIED["NoInt1"]["anova"]["residual"]["df"]


def test_wampler1_degree_five() -> None:
    """An exact polynomial: the standard deviations are certified as 0, here against y up to 4 million."""
    y, x = columns("Wampler1")
    curve = fit_polynomial(x, y, 5)
    assert curve.coefficients == pytest.approx(estimates("Wampler1")[0], rel=1e-7)
    assert curve.s < 1e-14 * float(np.abs(y).max())
    assert float(np.sqrt(np.diag(curve.covariance)).max()) < 1e-7
