"""The clock that jumps: waiting costs nothing, and its date goes along."""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta

from rigproof.clock import JumpingClock


def test_an_hour_passes_at_once() -> None:
    starts = datetime(2026, 11, 25, 8, tzinfo=UTC)
    clock, began = JumpingClock(starts), time.monotonic()
    clock.wait(3600.0)
    assert time.monotonic() - began < 60.0
    assert (clock.now(), clock.utc()) == (3600.0, starts + timedelta(hours=1))


def test_it_never_runs_backwards() -> None:
    clock = JumpingClock()
    clock.wait(2.0)
    clock.wait(-1.0)
    assert clock.now() == 2.0
