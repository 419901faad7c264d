"""A bar shows tolerance, acceptance and value where they are."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.verdict.record import ToleranceRecord
from rigproof_report.bars import WIDTH, bar
from rigproof_report.scales import Scale

from .conftest import make_check

if TYPE_CHECKING:
    from .conftest import MakeCheck


def limits(lower: float | None, upper: float | None, computed: bool = False) -> ToleranceRecord:
    return ToleranceRecord(lower=lower, upper=upper, origin="x", computed=computed)


def test_the_middle_of_a_tolerance_is_the_middle_of_the_bar(check: MakeCheck) -> None:
    found = bar(check(measured=0.0, u=0.1, tolerance=limits(-1.0, 1.0), acceptance_lower=-0.8, acceptance_upper=0.8))
    assert found is not None
    assert found.value == pytest.approx(WIDTH / 2)
    assert sum(found.tolerance) == pytest.approx(WIDTH)
    assert found.acceptance is not None
    left, right = found.tolerance
    assert (found.acceptance[1] - found.acceptance[0]) / (right - left) == pytest.approx(0.8, abs=0.01)
    assert found.beyond == ""


@pytest.mark.parametrize(("measured", "side"), [(50.0, "right"), (-50.0, "left"), (1.5, "")])
def test_a_value_far_off_is_pointed_at(check: MakeCheck, measured: float, side: str) -> None:
    found = bar(check(measured=measured, u=0.1, tolerance=limits(-1.0, 1.0)))
    assert found is not None
    assert found.beyond == side
    assert found.tolerance[1] - found.tolerance[0] > WIDTH / 5


def test_open_limits_have_no_bracket(check: MakeCheck) -> None:
    found = bar(check(measured=5.0, u=0.1, tolerance=limits(1.0, None)))
    assert found is not None
    assert (found.open_below, found.open_above) == (False, True)


def test_nothing_to_draw(check: MakeCheck) -> None:
    assert bar(check(measured=None)) is None
    assert bar(check(tolerance=limits(None, None))) is None


NUMBERS = st.floats(-1e12, 1e12, allow_nan=False)


@given(NUMBERS, st.floats(0, 1e9), NUMBERS, NUMBERS)
def test_everything_lies_on_the_drawing(measured: float, u: float, a: float, b: float) -> None:
    found = bar(make_check(measured=measured, u=u, tolerance=limits(min(a, b), max(a, b))))
    assert found is not None
    places = [*found.tolerance, *found.reach, found.value]
    assert all(0 <= place <= WIDTH for place in places)


@given(st.floats(-1e6, 1e6), st.floats(1e-6, 1e6), st.integers(3, 9))
def test_marks_are_round_and_some(low: float, width: float, about: int) -> None:
    marks = Scale(low, low + width, 0.0, 100.0).marks(about)
    assert 1 <= len(marks) <= 2 * about + 2
    assert len({text for _, text in marks}) == len(marks)
    assert all(-0.1 <= place <= 100.1 for place, _ in marks)


def test_a_guard_band_lies_inside_where_it_guards_acceptance_and_outside_where_rejection(check: MakeCheck) -> None:
    for guards, inside in (("acceptance", True), ("rejection", False)):
        one = check(measured=0.0, u=0.1, tolerance=limits(-1.0, 1.0), guard_band=0.1, guards=guards)
        found = bar(one)
        assert found is not None
        (_, left), (right, _) = found.guards if inside else ((0, found.guards[0][1]), (found.guards[1][0], 0))
        assert len(found.guards) == 2
        assert (left > found.tolerance[0]) is inside
        assert (right < found.tolerance[1]) is inside
    assert bar(check(guards="")) is not None
