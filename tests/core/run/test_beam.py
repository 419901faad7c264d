"""The main job by hand: the simulated beam is accepted when sound, and its defects are seen where they can be."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from rigproof.errors import UsageError
from rigproof.journal import read_journal
from rigproof.plugins import Registry
from rigproof.run.plan import Plan, make_plan
from rigproof.verdict.judging import judge
from rigproof.verdict.record import Verdict, to_bytes

Acceptance = Callable[..., Verdict]
BEAM = Path(__file__).parents[3] / "rigs" / "beam"

SEEN_BY = {
    "soft-bond": ("cycles", "zero return"),
    "wrong-gauge-factor": ("cycles", "sensitivity"),
    "loose-gauge": ("cycles", "sensitivity"),
    "swapped-channels": ("cycles", "sensitivity"),
    "damaged-grid": ("resistance", "change from packet"),
    "leakage": ("insulation", "insulation"),
    "two-leads": ("balance", "offset"),
    "drifting-zero": ("cycles", "zero return"),
}
NOT_OF_A_BEAM = (
    "wrong-shunt",
    "dead-instrument",
    "high-pressure-reading",
    "thin-wall",
    "slow-leak",
    "overshoot",
)


@pytest.fixture(scope="module")
def beam(registry: Registry) -> Plan:
    return make_plan(BEAM, registry)


@pytest.mark.parametrize("seed", range(10))
def test_sound_beam_is_accepted(accept: Acceptance, beam: Plan, tmp_path: Path, seed: int) -> None:
    verdict = accept(beam, tmp_path, seed=seed, rig_folder=BEAM)
    assert verdict.verdict == "accept", verdict.why
    assert [(person.name, person.how) for person in verdict.people] == [("simulated person", "simulated")]
    assert all(end.confirmed for end in verdict.safe_end)


@pytest.mark.parametrize("flaw", SEEN_BY)
def test_flaw_is_seen_by_its_check(accept: Acceptance, beam: Plan, tmp_path: Path, flaw: str) -> None:
    verdict = accept(beam, tmp_path, [flaw], seed=1, rig_folder=BEAM)
    assert verdict.verdict == "reject", verdict.why
    assert SEEN_BY[flaw] in {(c.step_kind, c.name) for c in verdict.checks if c.finding == "reject"}


def test_early_yield_hides_in_the_exercise_and_the_verdict_says_that_nobody_looked(
    accept: Acceptance, beam: Plan, tmp_path: Path
) -> None:
    verdict = accept(beam, tmp_path, ["yielding"], seed=1, rig_folder=BEAM)
    assert verdict.verdict == "accept", verdict.why
    assert "the part bears the proof load without permanent set" in verdict.not_shown  # a beam has nothing to leak


@pytest.mark.parametrize("flaw", NOT_OF_A_BEAM)
def test_a_flaw_that_a_beam_cannot_have_says_so(accept: Acceptance, beam: Plan, tmp_path: Path, flaw: str) -> None:
    with pytest.raises(UsageError, match=f"flaw {flaw}: .*Choose another flaw"):
        accept(beam, tmp_path, [flaw], rig_folder=BEAM)


def test_every_question_is_in_the_journal_and_judging_again_gives_the_same_bytes(
    accept: Acceptance, beam: Plan, tmp_path: Path
) -> None:
    verdict = accept(beam, tmp_path, seed=4, rig_folder=BEAM)
    journal = read_journal(tmp_path / "journal.jsonl")
    assert to_bytes(judge(journal, beam.registry)) == to_bytes(verdict) == (tmp_path / "verdict.json").read_bytes()
    asked = [entry.data for entry in journal.entries if entry.kind == "asked"]
    assert {entry["person"] for entry in asked} == {"simulated person"}
    assert [entry["label"] for entry in asked][:2] == ["weights serial number", "weights keep serial number"]
    assert any("Put on weight A" in entry["question"] and entry["answer"] == "A" for entry in asked)


def test_one_reading_is_kept_as_one(accept: Acceptance, beam: Plan, tmp_path: Path) -> None:
    accept(beam, tmp_path, seed=4, rig_folder=BEAM)
    lines = [json.loads(line) for line in (tmp_path / "journal.jsonl").read_text("utf-8").splitlines()]
    columns = [column for line in lines if line["kind"] == "samples" for column in line["values"].values()]
    assert {len(column) for column in columns} == {1}


def test_noise_asked_of_one_reading_is_undecided(accept: Acceptance, registry: Registry, tmp_path: Path) -> None:
    for name in ("rig.yaml", "twin.yaml"):
        (tmp_path / name).write_text((BEAM / name).read_text("utf-8"), "utf-8")
    written = (BEAM / "acceptance.yaml").read_text("utf-8").replace(", noise: left out", "")
    (tmp_path / "acceptance.yaml").write_text(written, "utf-8")
    plan = make_plan(tmp_path, registry)
    foreseen = [item for step in plan.rehearsed for item in step.checks if item.check.name == "noise"]
    assert [item.acceptable for item in foreseen] == [False, False]
    verdict = accept(plan, tmp_path, rig_folder=tmp_path)
    assert verdict.verdict == "undecided"
    assert "one reading shows no noise" in verdict.why[0]
