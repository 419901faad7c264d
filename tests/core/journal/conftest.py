"""A clock that stands still until told."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest


class StillClock:
    """Starts somewhere that is not zero, so that nobody takes its reading for a time of the journal."""

    def __init__(self) -> None:
        self.seconds = 1000.0

    def now(self) -> float:
        return self.seconds

    def wait(self, seconds: float) -> None:
        self.seconds += seconds

    def utc(self) -> datetime:
        return datetime(2026, 11, 25, tzinfo=UTC)


@pytest.fixture
def clock() -> StillClock:
    return StillClock()
