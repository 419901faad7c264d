"""The twin's clock."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta, timezone

import pytest

from rigproof.clock import Clock
from rigproof.errors import NumberError
from rigproof_twin.clock import VirtualClock


def test_it_is_a_clock_of_the_tool_and_moves_only_by_waiting() -> None:
    clock: Clock = VirtualClock()
    assert clock.now() == clock.now() == 0.0
    clock.wait(3600.0)
    clock.wait(0.0)
    assert clock.now() == 3600.0


def test_the_date_counts_from_the_start_in_utc() -> None:
    clock = VirtualClock(datetime(2026, 11, 25, 9, 0, tzinfo=timezone(timedelta(hours=1))))
    clock.wait(90061.5)
    assert clock.utc() == datetime(2026, 11, 26, 9, 1, 1, 500_000, tzinfo=UTC)
    assert clock.utc().utcoffset() == timedelta(0)


@pytest.mark.parametrize("seconds", [-1e-9, math.nan, math.inf])
def test_time_that_cannot_pass_is_refused(seconds: float) -> None:
    clock = VirtualClock()
    with pytest.raises(NumberError, match=f"seconds={seconds}.*Give 0 or more"):
        clock.wait(seconds)
    assert clock.now() == 0.0


def test_a_start_without_time_zone_is_refused() -> None:
    with pytest.raises(NumberError, match="time zone"):
        VirtualClock(datetime(2026, 11, 25, 8, 0))
