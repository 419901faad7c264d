"""The load at the zero and the highest load: numbers by hand, from the transmitter's stated accuracy."""

from __future__ import annotations

import numpy as np
import pytest

from rigproof.journal import Entry
from rigproof.quantities import parse
from rigproof.quantities.spread import Within
from rigproof.run.plan import Plan
from rigproof.steps.checks import Stated
from rigproof.steps.load_checks import highest_load_checks, load_zero_checks
from rigproof.steps.record import Block, StepRecord
from rigproof.uncertainty import Rule
from rigproof.verdict.record import Check

BAR = 1e5
TO = parse("25 bar", "gauge pressure")
EMPTY = StepRecord(1, "cycles", ())


def at_zero(spool: Plan, *bars: float) -> Check:
    zero = Block("zero", 0.0, {"pressure": np.array(bars) * BAR}, {})
    limit = Stated(Within(0.005, True, "ratio", "within 0.5 %"), "default: within 0.5 %")
    (check,) = load_zero_checks(spool.rig, Rule(), EMPTY, "pressure", zero, TO, limit)
    return check


def highest(spool: Plan, to: str, *blocks: list[float | None]) -> Check:
    entries = [
        Entry(n, float(n), "samples", {"label": "watch", "tags": {}, "values": {"pressure": values}})
        for n, values in enumerate(blocks)
    ]
    record = StepRecord(1, "cycles", tuple(entries))
    at_most = parse("105 %", "ratio")
    load = parse(to, "gauge pressure")
    (check,) = highest_load_checks(spool.rig, Rule(), record, "pressure", load, at_most, "default")
    return check


def test_the_limit_is_a_share_of_the_load_the_step_goes_to(spool: Plan) -> None:
    """0.5 % of 25 bar; the transmitter is true within 0.02 bar, rectangular: u = 0.02 bar / sqrt(3)."""
    check = at_zero(spool, 0.01, 0.01)
    assert (check.tolerance.lower, check.tolerance.upper) == pytest.approx((-0.125 * BAR, 0.125 * BAR))
    assert check.u == pytest.approx(0.02 * BAR / np.sqrt(3), rel=1e-6)
    assert check.finding == "accept"


@pytest.mark.parametrize(
    ("bar", "finding"),
    [(0.3, "reject"), (-0.3, "reject"), (0.125, "undecided"), (0.09, "accept"), (np.nan, "undecided")],
)
def test_load_at_the_zero(spool: Plan, bar: float, finding: str) -> None:
    check = at_zero(spool, bar, bar)
    assert (check.name, check.subject, check.finding) == ("load at the zero", "pressure", finding)


def test_a_zero_that_was_not_taken(spool: Plan) -> None:
    limit = Stated(Within(0.005, True, "ratio", "within 0.5 %"), "default: within 0.5 %")
    (check,) = load_zero_checks(spool.rig, Rule(), EMPTY, "pressure", None, TO, limit)
    assert (check.finding, check.measured) == ("undecided", None)


def test_the_highest_reading_counts_wherever_it_was_taken(spool: Plan) -> None:
    """105 % of 25 bar is 26.25 bar; a reading there is true within 0.1 % and 0.02 bar."""
    assert highest(spool, "25 bar", [0.0, 25.1 * BAR], [24.0 * BAR]).finding == "accept"
    over = highest(spool, "25 bar", [0.0, 26.5 * BAR], [24.0 * BAR])
    assert over.finding == "reject"
    assert over.measured == pytest.approx(26.5 * BAR)
    assert over.tolerance.upper == pytest.approx(26.25 * BAR)
    assert highest(spool, "25 bar", [26.25 * BAR]).finding == "undecided"
    assert highest(spool, "25 bar", [25.0 * BAR], [None]).finding == "undecided"
    assert highest(spool, "25 bar").finding == "undecided"


def test_a_load_below_zero_counts_by_its_size(spool: Plan) -> None:
    assert highest(spool, "-0.5 bar", [-0.6 * BAR, 0.0]).finding == "reject"
    assert highest(spool, "-0.5 bar", [-0.5 * BAR, 0.0]).finding == "accept"
