"""Dates and times: the examples of RFC 3339, 5.8 (from memory), zones, midnight, and where the run's zero lies."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.quantities import WrittenError
from rigproof_replay.replay import Replay
from rigproof_replay.times import Times, instant, zone_of

Make = Callable[..., Replay]

# RFC 3339, 5.8, each with what its text says it is in UTC.
RFC_3339 = {
    "1985-04-12T23:20:50.52Z": datetime(1985, 4, 12, 23, 20, 50, 520000, UTC),
    "1996-12-19T16:39:57-08:00": datetime(1996, 12, 20, 0, 39, 57, tzinfo=UTC),
    "1937-01-01T12:00:27.87+00:20": datetime(1937, 1, 1, 11, 40, 27, 870000, UTC),
}


@pytest.mark.parametrize("text", RFC_3339)
def test_the_examples_of_rfc_3339(text: str) -> None:
    assert instant(text, None) == RFC_3339[text]


@pytest.mark.parametrize("text", ["1990-12-31T23:59:60Z", "1990-12-31T15:59:60-08:00"])
def test_a_leap_second_is_refused(text: str) -> None:
    """Two more examples of RFC 3339, 5.8: one moment, and none that a count of seconds here could tell."""
    with pytest.raises(WrittenError, match="is no date and time"):
        instant(text, None)


@given(st.datetimes(datetime(1970, 1, 1), datetime(2100, 1, 1)), st.integers(-23 * 60, 23 * 60))
def test_every_instant_is_read_back(at: datetime, minutes: int) -> None:
    aware = at.replace(tzinfo=timezone(timedelta(minutes=minutes)))
    assert instant(aware.isoformat(), None) == aware
    assert instant(at.isoformat(sep=" "), aware.tzinfo) == aware  # type: ignore[arg-type]


@given(st.integers(-23 * 60, 23 * 60))
def test_every_offset_is_a_zone(minutes: int) -> None:
    zone = timezone(timedelta(minutes=minutes))
    text = datetime(2026, 1, 1, tzinfo=zone).isoformat()[19:]
    assert zone_of(text) == zone


def test_midnight_is_counted_as_often_as_it_comes() -> None:
    times = Times("time of day", "s", "+01:00", "2026-11-25", float)
    found, before = [], None
    for text in ("23:59:59", "00:00:01", "12:00:00", "23:59:59.5", "00:00:00"):
        before = times.seconds(text, before)
        found.append(before)
    assert found == [0.0, 2.0, 43201.0, 86400.5, 86401.0]
    assert times.origin == datetime(2026, 11, 25, 22, 59, 59, tzinfo=UTC)


@pytest.mark.parametrize(("unit", "second"), [("ms", 1000.0), ("s", 1.0), ("min", 1 / 60), ("h", 1 / 3600)])
def test_elapsed_time_in_its_unit(unit: str, second: float) -> None:
    assert Times("elapsed", unit, None, None, float).seconds(repr(90 * second), None) == pytest.approx(90.0)


CLOCK = {"column": "t", "form": "date and time"}
ROWS = "t,p\n2026-11-25T09:00:00+01:00,1\n2026-11-25T09:00:10+01:00,2\n2026-11-25T09:00:20+01:00,3\n"


@pytest.mark.parametrize(
    ("starts_at", "reads", "began"),
    [(None, 1e5, 0), ("2026-11-25T08:00:10Z", 2e5, 10), ("2026-11-25T08:00:15Z", 2e5, 15)],
)
def test_the_run_begins_where_the_settings_say(replay: Make, starts_at: str | None, reads: float, began: int) -> None:
    driver = replay(ROWS, time=CLOCK, **({} if starts_at is None else {"starts_at": starts_at}))
    assert driver.read_record().began == datetime(2026, 11, 25, 8, 0, began, tzinfo=UTC)
    driver.open()
    assert driver.read([1], 1, 0.0)[0, 0] == reads


def test_times_without_a_zone_are_in_the_one_stated(replay: Make) -> None:
    text = ROWS.replace("+01:00", "")
    assert replay(text, time={**CLOCK, "zone": "+01:00"}).read_record().began == datetime(2026, 11, 25, 8, tzinfo=UTC)
    assert replay(text, time={**CLOCK, "zone": "UTC"}).read_record().began == datetime(2026, 11, 25, 9, tzinfo=UTC)


def test_elapsed_time_tells_no_date(replay: Make) -> None:
    assert replay("t,p\n0,1\n1,1\n").read_record().began is None
