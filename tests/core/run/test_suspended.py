"""A pause that a step asks for: the run ends safe and says until when; a plan looks past it."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from rigproof.errors import Suspended
from rigproof.run.live import LiveRig
from rigproof.run.plan import Plan
from rigproof.run.rehearsal import rehearse
from rigproof.steps.balance import Balance
from rigproof.verdict.record import Verdict

REST = "  - balance: {settle: 5 s}\n"
NIGHT = timedelta(hours=12)


@pytest.fixture
def pausing(monkeypatch: pytest.MonkeyPatch) -> None:
    """A balance that is taken after a night, once its bridges were read."""
    acquire = Balance.acquire

    def pause(self: Balance, live: LiveRig) -> None:
        if not live.record().earlier:
            live.read("start", ["hoop"])
            raise Suspended("the adhesive cures", live.clock.utc() + NIGHT)
        acquire(self, live)

    monkeypatch.setattr(Balance, "acquire", pause)


@pytest.mark.usefixtures("pausing")
def test_a_suspended_run_ends_safe_and_says_until_when(
    accept: Callable[..., Verdict], planned: Callable[..., Plan], tmp_path: Path
) -> None:
    verdict = accept(planned(REST), tmp_path)
    assert verdict.verdict == "void"
    until = datetime.fromisoformat(verdict.not_before)
    assert NIGHT < until - datetime.fromisoformat(verdict.started) < NIGHT + timedelta(minutes=1)
    assert verdict.why == (f"suspended until {until:%Y-%m-%d %H:%M:%S} UTC: the adhesive cures",)
    assert (verdict.steps[0].taken, verdict.steps[0].why) == ("broken off", "the run ended in it")
    *_, safe, end = (json.loads(line) for line in (tmp_path / "journal.jsonl").read_text("utf-8").splitlines())
    assert (safe["kind"], safe["confirmed"]) == ("safe", True)
    assert (end["how"], end["not_before"]) == ("suspended", until.isoformat())


@pytest.mark.usefixtures("pausing")
def test_a_plan_looks_past_the_pause(planned: Callable[..., Plan]) -> None:
    plan = planned(REST)
    (step,) = rehearse(plan.rig, plan.procedure)
    assert step.trouble == ""
    assert NIGHT.total_seconds() < step.duration_s < NIGHT.total_seconds() + 60
    assert all(check.acceptable for check in step.checks)


def test_a_pause_that_never_ends_is_told(planned: Callable[..., Plan], monkeypatch: pytest.MonkeyPatch) -> None:
    def pause(_self: Balance, live: LiveRig) -> None:
        raise Suspended("for ever", live.clock.utc() + NIGHT)

    monkeypatch.setattr(Balance, "acquire", pause)
    plan = planned(REST)
    (step,) = rehearse(plan.rig, plan.procedure)
    assert step.trouble.startswith("cannot be taken: until ")


def test_a_pause_ends_at_a_date_with_its_time_zone() -> None:
    with pytest.raises(ValueError, match="time zone"):
        Suspended("cure", datetime(2026, 11, 26, 8, 0))
    assert str(Suspended("cure", datetime(2026, 11, 26, 8, 0, tzinfo=UTC))) == "until 2026-11-26 08:00:00 UTC: cure"
