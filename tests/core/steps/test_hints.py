"""What is looked at first where a check does not accept: of every check of a reading, and never where it accepts."""

from __future__ import annotations

from pathlib import Path

import pytest

from rigproof.campaign.trial import Trial, acceptance
from rigproof.commands.screen import COLUMNS, why_lines
from rigproof.plugins import Registry
from rigproof.verdict import words
from rigproof.verdict.record import Verdict

ROOT = Path(__file__).parents[3]


@pytest.fixture(scope="module")
def creeping() -> Verdict:
    return acceptance(ROOT / "rigs" / "spool", Trial(("soft-bond",), 1))


@pytest.mark.parametrize("rig", ["spool", "branch", "forcecell"])
def test_every_check_of_a_reading_has_one(rig: str, registry: Registry) -> None:
    made = {(c.step_kind, c.name) for c in acceptance(ROOT / "rigs" / rig, Trial((), 1)).checks}
    assert {(kind, name) for kind, name in made if name not in registry.steps[kind].hints} == set()


# Which cause shows in which check: plugins/rigproof_twin/FLAWS.md, whose tests hold the twin against it.
@pytest.mark.parametrize(
    ("kind", "check", "cause"),
    [
        ("resistance", "change from packet", "damaged grid"),
        ("insulation", "insulation", "moisture"),
        ("balance", "noise", "mains"),
        ("thermal output", "thermal output", "another material"),
        ("shunt", "shunt reading", "leads"),
        ("arming", "load left after a trip", "vent"),
        ("air content", "air content", "air"),
        ("cycles", "zero return", "bond that creeps"),
        ("cycles", "sensitivity", "gauge factor"),
        ("cycles", "load at the zero", "still on"),
        ("proof", "permanent set", "yielded"),
        ("proof", "decay over the hold", "leak"),
        ("force series", "reproducibility", "off the axis"),
    ],
)
def test_the_cause_that_a_check_finds_is_among_them(kind: str, check: str, cause: str, registry: Registry) -> None:
    assert cause in registry.steps[kind].hints[check]


def test_only_what_does_not_accept_says_where_to_look(creeping: Verdict) -> None:
    assert creeping.verdict == "reject"
    assert {check.name for check in creeping.checks if check.hint} == {"zero return"}
    assert all(not check.hint for check in creeping.checks if check.finding == "accept")


def test_the_screen_says_it_once_below_the_reason(creeping: Verdict) -> None:
    lines = why_lines(creeping)
    assert all(len(line) <= COLUMNS - 2 for line in lines)
    said = " ".join(line.strip() for line in lines)
    assert creeping.why[0] in said
    assert said.count("look first at: a bond that creeps") == 1


def test_the_particulars_end_with_it(creeping: Verdict) -> None:
    check = next(each for each in creeping.checks if each.hint)
    assert words.particulars(check)[-1] == ("look first at", check.hint)
    assert "; ".join(words.sentences(check)).endswith(f"; look first at: {check.hint}")
