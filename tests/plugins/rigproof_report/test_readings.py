"""What is drawn of a million readings: no peak is lost, no gap is bridged."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from rigproof.journal import Entry
from rigproof_report.drawing import across, dots, fitted, pieces, upward
from rigproof_report.readings import COLUMNS, series, thinned


def block(t0: float, values: list[float | None], dt: float = 0.5, name: str = "p") -> Entry:
    return Entry(0, t0, "samples", {"t0": {name: t0}, "dt": dt, "values": {name: values}, "label": "watch"})


def test_readings_come_in_order_of_time_and_a_missing_one_stays() -> None:
    found = series([block(10.0, [3.0, None]), block(0.0, [1.0, 2.0]), Entry(1, 0.0, "command", {})])
    assert found["p"].t_s.tolist() == [0.0, 0.5, 10.0, 10.5]
    np.testing.assert_array_equal(found["p"].values, [1.0, 2.0, 3.0, np.nan])


VALUES = arrays(np.float64, st.integers(1, 6000), elements=st.floats(-1e6, 1e6) | st.just(np.nan))


@given(VALUES, st.integers(0, 2**31))
def test_every_peak_of_every_column_is_kept_and_nothing_is_made_up(values: np.ndarray, seed: int) -> None:
    t = np.sort(np.random.default_rng(seed).uniform(0.0, 60.0, len(values)))
    at, kept, missing = thinned(t, values, 0.0, 60.0)
    assert len(at) <= 2 * COLUMNS
    good = np.isfinite(values)
    assert {*zip(at.tolist(), kept.tolist(), strict=True)} <= {
        *zip(t[good].tolist(), values[good].tolist(), strict=True)
    }
    column, of_kept = (np.clip((x / 60.0 * COLUMNS).astype(int), 0, COLUMNS - 1) for x in (t[good], at))
    for number in np.unique(column):  # the least and the largest of a column stand in it
        inside, drawn = values[good][column == number], kept[of_kept == number]
        assert (drawn.min(), drawn.max()) == (inside.min(), inside.max())
    assert np.all(np.diff(at) >= 0)
    assert np.all(np.diff(missing) >= 0)


@given(st.lists(st.sampled_from([1.0, 2.0, np.nan]), min_size=1, max_size=300))
def test_a_curve_breaks_where_a_reading_is_missing(values: list[float]) -> None:
    t, v = np.arange(len(values), dtype=np.float64), np.array(values)
    x, y = across(0.0, len(values), 720.0), upward(0.0, 3.0)
    runs = [run for run in "".join("x" if np.isfinite(one) else " " for one in values).split(" ") if run]
    if runs:
        drawn = pieces(x, y, *thinned(t, v, 0.0, float(len(values))))
        assert [max(len(run), 2) for run in runs] == [len(piece.split()) for piece in drawn]


def test_nothing_is_drawn_between_readings_that_lie_far_apart() -> None:
    """Three loads read for an instant each, as a channel is that no interlock watches: three dots and no line."""
    t = np.array([0.0, 0.02, 0.04, 40.0, 40.02, 90.0])
    x, y = across(0.0, 100.0, 720.0), upward(0.0, 3.0)
    read = thinned(t, np.array([0.0, 0.1, 0.2, 2.0, 2.2, 0.1]), 0.0, 100.0, 5.0)
    assert dots(x, y, *read) == [(x.at(0.02), y.at(0.1)), (x.at(40.01), y.at(2.1)), (x.at(90.0), y.at(0.1))]
    assert [len(piece.split()) for piece in pieces(x, y, *read)] == [3, 2, 2]
    assert len(pieces(x, y, *thinned(t, t, 0.0, 100.0, 60.0))) == 1


def test_a_stage_keeps_of_its_name_what_tells_it_from_the_others() -> None:
    assert [fitted("stage 2 of 4, up", room) for room in (90.0, 45.0, 10.0, 1.0)] == [
        "stage 2 of 4, up",
        "stage 2",
        "2",
        "",
    ]
    assert fitted("arming test of pressure rate", 80.0) == "pressure rate"
