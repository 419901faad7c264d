"""Runs of rigs/branch: what its rosette at the branch shows, and what it leaves open."""

from __future__ import annotations

from pathlib import Path

import pytest

from rigproof.documents import load_procedure, load_rig
from rigproof.plugins import load_registry
from rigproof.run.accepting import run_and_judge
from rigproof.run.plan import Plan
from rigproof.run.progress import Silent
from rigproof.run.simulated import reach_of, simulation
from rigproof.verdict.record import Verdict

BRANCH = Path(__file__).parents[3] / "rigs" / "branch"
TEXT = (BRANCH / "rig.yaml").read_text("utf-8")
PROCEDURE = """\
rigproof: procedure/1
name: At the branch
steps:
  - balance: {channels: all strain, settle: 2 s}
  - cycles: {source: pump, to: 30 bar, times: 2, levels: 2, exercise: 0, dwell: 1 s, rest: 5 s, readings: 20}
"""
PROOF = "  - proof: {source: pump, to: 40 bar, hold: 10 s, dwell: 2 s, rest: 5 s, stress: STRESS}\n"


def changed(*changes: tuple[str, str]) -> str:
    text = TEXT
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return text


def taken(folder: Path, stated: str = TEXT, truth: str = TEXT, procedure: str = PROCEDURE) -> Verdict:
    """A run judged by the document `stated`, of a rig that stands as `truth` says."""
    registry = load_registry()
    plan = Plan(load_rig(text=stated), load_procedure(text=procedure, registry=registry), registry)
    simulated = simulation(load_rig(text=truth), BRANCH, registry, 1, ())
    try:
        return run_and_judge(plan, reach_of(simulated), folder, Silent())
    finally:
        simulated.close()


def of_flank(verdict: Verdict, finding: str) -> set[str]:
    return {check.name for check in verdict.checks if check.subject == "flank" and check.finding == finding}


def test_a_rosette_on_the_plain_pipe_in_place_of_the_branch_is_found(tmp_path: Path) -> None:
    elsewhere = changed(
        ("at: flank normal", "at: axial"), ("at: flank tangential", "at: hoop"), ("at: flank 45°", "at: 45°")
    )
    verdict = taken(tmp_path, truth=elsewhere)
    assert verdict.verdict == "reject"
    assert of_flank(verdict, "reject") == {"principal strain 1", "principal strain 2"}
    assert all(check.finding == "accept" for check in verdict.checks if check.subject in ("hoop", "shell"))


def test_wider_factors_show_no_agreement_and_leave_what_needs_none(tmp_path: Path) -> None:
    """U above 20 % of what is expected accepts nothing (DEVELOPERS.md); the direction rests on no factor."""
    verdict = taken(tmp_path, changed(("1.9 ± 8 %", "1.9 ± 10 %"), ("2.5 ± 8 %", "2.5 ± 10 %")))
    assert verdict.verdict == "undecided"
    assert of_flank(verdict, "undecided") == {"principal strain 2"}
    assert of_flank(verdict, "accept") == {"principal strain 1", "principal direction"}
    (second,) = [check for check in verdict.checks if (check.subject, check.name) == ("flank", "principal strain 2")]
    assert "too poor to show anything" in second.note
    assert second.improve == "part flank normal"
    (line,) = [line for line in second.budget if line.input == second.improve]
    assert line.source.startswith("rig.yaml: part.branch.flank.normal (finite-element report")


@pytest.mark.parametrize(("limit", "ends"), [("70 %", "accept"), ("45 %", "reject")])
def test_the_stress_measured_at_the_branch_limits_the_proof(tmp_path: Path, limit: str, ends: str) -> None:
    """At 40 bar some 21 % of the yield strength on the pipe, and at the flank sqrt(1.9² - 1.9 2.5 + 2.5²) H = 55 %."""
    verdict = taken(tmp_path, procedure=PROCEDURE + PROOF.replace("STRESS", limit))
    assert verdict.verdict == ends, verdict.why
    refused = [check for check in verdict.checks if check.finding == "reject"]
    assert {check.subject for check in refused if check.name == "von Mises stress over yield"} <= {"flank"}
    assert bool(refused) == (ends == "reject")


def test_local_yield_is_seen_at_the_branch_alone(tmp_path: Path) -> None:
    """The pipe stays below yield, the flank does not: no interlock here, so that the run goes to its end."""
    weak = changed(("yield strength: 235 MPa", "yield strength: 95 MPa"))
    start, end = TEXT.index("  hoop strain: "), len(TEXT)
    verdict = taken(tmp_path, TEXT[:start] + TEXT[end:], weak)
    assert verdict.verdict == "reject"
    refused = {check.subject for check in verdict.checks if check.finding == "reject"}
    assert refused
    assert refused <= {"flank", "flank a", "flank b", "flank c"}
    assert "zero return" in {check.name for check in verdict.checks if check.finding == "reject"}
