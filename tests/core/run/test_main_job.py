"""The main job on the spool: a sound rig is accepted, each defect is seen by the check that ought to see it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from rigproof.journal import read_journal
from rigproof.run.plan import Plan
from rigproof.verdict.record import Verdict

Acceptance = Callable[..., Verdict]


# flaw -> verdict, and (step, check) of which at least one must have the finding
SEEN_BY = {
    "soft-bond": ("reject", {("cycles", "zero return")}),
    "wrong-gauge-factor": ("reject", {("cycles", "sensitivity")}),
    "leakage": ("reject", {("insulation", "insulation")}),
    "wrong-shunt": ("reject", {("shunt", "shunt reading")}),
    # the resistances were measured at the right cables, so a swap may already show in the shunt readings; and the gauge
    # that is not the one watched may stretch too little for the interlock's test
    "swapped-channels": ("reject", {("cycles", "sensitivity"), ("shunt", "shunt reading"), ("arming", "trips")}),
    "slow-leak": ("reject", {("proof", "decay over the hold")}),
    "yielding": ("reject", {("proof", "permanent set"), ("proof", "proportionality")}),
}


@pytest.mark.parametrize("seed", range(5))
def test_sound_spool_is_accepted(accept: Acceptance, spool: Plan, tmp_path: Path, seed: int) -> None:
    verdict = accept(spool, tmp_path, seed=seed)
    assert verdict.verdict == "accept", verdict.why
    assert verdict.simulated
    assert all(end.confirmed for end in verdict.safe_end)
    assert {check.step_kind for check in verdict.checks} == {
        "resistance",
        "insulation",
        "balance",
        "shunt",
        "arming",
        "cycles",
        "proof",
    }


@pytest.mark.parametrize("flaw", SEEN_BY)
@pytest.mark.parametrize("seed", [1, 2])
def test_flaw_is_seen_by_its_check(accept: Acceptance, spool: Plan, tmp_path: Path, flaw: str, seed: int) -> None:
    outcome, seers = SEEN_BY[flaw]
    verdict = accept(spool, tmp_path, [flaw], seed=seed)
    assert verdict.verdict == outcome, verdict.why
    rejected = {(check.step_kind, check.name) for check in verdict.checks if check.finding == "reject"}
    assert rejected & seers, verdict.why


def test_dead_instrument_voids_the_run(accept: Acceptance, spool: Plan, tmp_path: Path) -> None:
    verdict = accept(spool, tmp_path, ["dead-instrument"])
    assert verdict.verdict == "void"
    assert verdict.end.startswith("instrument lost: bridge")
    assert all(end.confirmed for end in verdict.safe_end)


def test_same_seed_gives_the_same_bytes(accept: Acceptance, spool: Plan, tmp_path: Path) -> None:
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
        accept(spool, tmp_path / name, seed=7)
    for file in ("journal.jsonl", "verdict.json"):
        assert (tmp_path / "a" / file).read_bytes() == (tmp_path / "b" / file).read_bytes()


def test_no_load_after_a_reject(accept: Acceptance, spool: Plan, tmp_path: Path) -> None:
    verdict = accept(spool, tmp_path, ["leakage"])
    taken = {step.kind: step.taken for step in verdict.steps}
    assert taken["cycles"] == taken["proof"] == "not taken"
    entries = read_journal(tmp_path / "journal.jsonl").entries
    targets = [entry.data["target"] for entry in entries if "target" in entry.data]
    assert max(targets) < spool.rig.sources["pump"].safe_below.value  # arming alone, by what counts as no load
