"""The clock with an agenda."""

from __future__ import annotations

from datetime import UTC, datetime

from rigproof_twin.agenda import AgendaClock

START = datetime(2026, 11, 25, 8, 0, tzinfo=UTC)


def test_what_falls_due_is_done_once_and_in_order() -> None:
    clock, done = AgendaClock(START), list[str]()
    clock.at(20.0, lambda: done.append("second"))
    clock.at(10.0, lambda: done.append("first"))
    clock.at(30.0, lambda: done.append("third"))
    clock.wait(9.9)
    assert done == []
    clock.wait(10.1)
    assert done == ["first", "second"]
    clock.wait(5.0)
    assert done == ["first", "second"]
    assert clock.now() == 25.0
