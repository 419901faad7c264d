"""What a trial came to beside what nightly.yaml says of it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from rigproof.campaign.nightly import Row, compare, load_nightly
from rigproof.campaign.trial import Caught, Result, Trial, plan_of
from rigproof.documents.nightly import NightlyTrial
from rigproof.verdict.record import Finding, Outcome

RIGS = Path(__file__).parents[3] / "rigs"


def told(verdict: str, checks: str = "", possible: str = "", why: str = "") -> NightlyTrial:
    """An expectation; checks as `cycles/zero return/hoop, …`."""

    def written(text: str) -> list[dict[str, str]]:
        return [dict(zip(("step", "check", "subject"), one.split("/"), strict=True)) for one in text.split(", ") if one]

    return NightlyTrial.model_validate(
        {"verdict": verdict, "checks": written(checks), "also possible": written(possible), "why": why}
    )


def caught(name: str, finding: Finding = "reject", step: int = 5, at: str = "") -> Caught:
    return Caught(step, "cycles", name, "hoop", at, finding)


def came_to(verdict: Outcome, *checks: Caught, why: str = "because") -> Result:
    return Result(Trial((), 0), verdict, why, checks)


ZERO, SENSITIVITY = caught("zero return"), caught("sensitivity", at="0 to 25 bar")


@pytest.mark.parametrize(
    ("expected", "result"),
    [
        (told("accept"), came_to("accept")),
        (told("reject", "cycles/zero return/hoop"), came_to("reject", ZERO)),
        (told("reject", "5/zero return/hoop"), came_to("reject", ZERO)),
        (told("reject", "cycles/zero return/hoop", "cycles/sensitivity/hoop"), came_to("reject", ZERO, SENSITIVITY)),
        (told("reject", possible="cycles/zero return/hoop, cycles/sensitivity/hoop"), came_to("reject", SENSITIVITY)),
        (told("reject", "cycles/zero return/hoop"), came_to("reject", ZERO, caught("linearity", "undecided"))),
        (told("undecided", "cycles/linearity/hoop"), came_to("undecided", caught("linearity", "undecided"))),
        (told("undecided", why="not shown"), came_to("undecided", why="not shown: response to load")),
        (told("void", why="interlock 'hoop"), came_to("void", ZERO, why="tripped: interlock 'hoop strain'")),
    ],
)
def test_as_told(expected: NightlyTrial, result: Result) -> None:
    assert [row for row in compare(expected, result) if not row.as_told] == []


@pytest.mark.parametrize(
    ("expected", "result", "against"),
    [
        (told("accept"), came_to("reject", ZERO),
         [("accept", "reject"), ("", "cycles: zero return of hoop: reject")]),
        (told("reject", "cycles/zero return/hoop"), came_to("accept"),
         [("reject", "accept"), ("cycles: zero return of hoop: reject", "")]),
        (told("reject", "cycles/zero return/hoop"), came_to("reject", SENSITIVITY),
         [("cycles: zero return of hoop: reject", ""), ("", "cycles: sensitivity of hoop (0 to 25 bar): reject")]),
        (told("reject", "6/zero return/hoop"), came_to("reject", ZERO),
         [("6: zero return of hoop: reject", ""), ("", "cycles: zero return of hoop: reject")]),
        (told("reject", "cycles/zero return/hoop"), came_to("reject", SENSITIVITY, caught("zero return", "undecided")),
         [("cycles: zero return of hoop: reject", "cycles: zero return of hoop: undecided"),
          ("", "cycles: sensitivity of hoop (0 to 25 bar): reject")]),
        (told("undecided", "cycles/linearity/hoop"),
         came_to("undecided", caught("linearity", "undecided"), caught("hysteresis", "undecided")),
         [("", "cycles: hysteresis of hoop: undecided")]),
        (told("undecided", why="not shown"), came_to("undecided", why="killed"),
         [("because: not shown", "because: killed")]),
        (told("void", why="interlock"), came_to("void", why="instrument lost"),
         [("because: interlock", "because: instrument lost")]),
        (told("reject", "cycles/zero return/hoop"), came_to("void", why="instrument lost"),
         [("reject", "void"), ("", "because: instrument lost"), ("cycles: zero return of hoop: reject", "")]),
    ],
)  # fmt: skip
def test_not_as_told(expected: NightlyTrial, result: Result, against: list[tuple[str, str]]) -> None:
    assert [row for row in compare(expected, result) if not row.as_told] == [Row(*pair, False) for pair in against]


def loaded(rig: str) -> list[Any]:
    return load_nightly(RIGS / rig, plan_of(RIGS / rig))


@pytest.mark.parametrize("rig", sorted(path.name for path in RIGS.iterdir()))
def test_each_bundled_rig_has_one_with_names_of_their_own(rig: str) -> None:
    found = loaded(rig)
    assert len({each.name for each in found}) == len(found) > 10
    assert {each.told.verdict for each in found} >= {"accept", "reject"}


def test_a_name_says_flaw_size_and_seed() -> None:
    found = {each.name: each.trial for each in loaded("spool")}
    assert found["sound[seed3]"] == Trial((), 3)
    assert found["slow-leak[0.05bar/min-seed2]"] == Trial(("slow-leak=0.05 bar/min",), 2)
    assert found["turned-sign[seed1]"] == Trial(("turned-sign",), 1)
