"""A cure of a day leaves the drawing to the readings: the abscissa breaks, and its marks stay those of the run."""

from __future__ import annotations

import numpy as np
import pytest

from rigproof_report.drawing import WIDE, across
from rigproof_report.readings import Series
from rigproof_report.rests import BREAK, LEAST_MARKED, Rest, folding

DAY = 86400.0


def read(*times: float) -> Series:
    return Series("load", np.array(times), np.zeros(len(times)))


def test_only_times_without_any_reading_are_rests() -> None:
    found = {"a": read(10.0, 1500.0, DAY), "b": read(20.0, DAY + 900.0)}
    fold = folding(found, DAY + 900.0)
    assert fold.rests == (Rest(1500.0, DAY),)
    assert fold.break_s == pytest.approx(BREAK * 2400.0)
    short = folding({"a": read(*np.arange(0.0, 7200.0, 60.0))}, 7140.0)
    assert short.rests == ()
    np.testing.assert_allclose(short.at(np.array([0.0, 77.0, 7140.0])), [0.0, 77.0, 7140.0])


def test_folded_time_keeps_order_and_lengths_outside_a_rest() -> None:
    fold = folding({"a": read(1000.0, DAY, DAY + 600.0)}, DAY + 600.0)
    at = fold.at(np.array([0.0, 1000.0, DAY / 2, DAY, DAY + 600.0]))
    assert np.all(np.diff(at) > 0)
    assert at[1] - at[0] == pytest.approx(1000.0)
    assert at[4] - at[3] == pytest.approx(600.0)
    assert at[3] - at[1] == pytest.approx(BREAK * 1600.0)


def test_marks_are_times_of_the_run_and_stand_at_their_readings() -> None:
    fold = folding({"a": read(DAY, DAY + 600.0)}, DAY + 600.0)  # a rest at the very start
    x = across(0.0, float(fold.at(DAY + 600.0)), WIDE)
    marks = fold.marks(x, 1.0)
    assert len(marks) >= 4
    for place, text in marks:
        assert DAY <= float(text) <= DAY + 600.0
        assert place == pytest.approx(x.at(float(fold.at(float(text)))), abs=0.2)
    assert x.at(float(fold.at(DAY))) > LEAST_MARKED
