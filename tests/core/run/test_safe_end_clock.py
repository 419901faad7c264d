"""A clock that is gone must not get out of the safe end, nor cost the next source its turn."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from rigproof.clock import WallClock
from rigproof.errors import UsageError
from rigproof.journal import JournalWriter, read_journal
from rigproof.run.opening import Reach, make_driver
from rigproof.run.plan import Plan
from rigproof.run.progress import Silent
from rigproof.run.safe_end import make_safe
from rigproof_scpi.pressure_source import PressureSource


class Gone:
    def now(self) -> float:
        raise UsageError("the bench closed its clock port")

    def wait(self, seconds: float) -> None:
        raise UsageError("the bench closed its clock port")

    def utc(self) -> datetime:
        return datetime.now(UTC)


def test_a_lost_clock_is_told_and_not_raised(spool: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    commands: list[str] = []
    monkeypatch.setattr(PressureSource, "go_safe", lambda _self: commands.append("safe"))
    reach = Reach(clock=WallClock())
    drivers = {"pump": make_driver(spool.rig, spool.rig.instruments["pump"], reach)}
    path = tmp_path / "journal.jsonl"
    with JournalWriter(path, WallClock()) as journal:
        assert make_safe(spool.rig, drivers, Gone(), journal, Silent(), "safe").confirmed is False
    assert commands == ["safe"]
    (entry,) = read_journal(path).entries
    assert entry.data["confirmed"] is False
    assert "clock port" in entry.data["text"]
