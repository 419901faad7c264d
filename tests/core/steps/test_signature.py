"""A hold point: who may sign, what they see before it, and what a refusal comes to."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from rigproof.run.plan import Plan

from .guided import Bench

Planned = Callable[..., Plan]
WORK = "  - inspection: {of: glue, items: {press: {do: Press, at least: 1 min}}}\n"
ANYONE = "  - signature: {of: hold, statement: It is so}\n"
ANOTHER = "  - signature: {of: hold, statement: It is so, by: another person}\n"


def test_a_statement_is_signed_by_name(planned: Planned) -> None:
    bench = Bench(planned(ANYONE), "C. Third", "yes")
    step = bench.take()
    record = bench.live.record()
    (check,) = step.judge(bench.plan.rig, bench.live.rule, record)
    assert (check.finding, check.note) == ("accept", "C. Third")
    assert [question.label for question in bench.person.asked] == ["hold name", "hold sign"]
    assert step.signed(record) == ("hold: C. Third, 2026-11-25 08:00:00 UTC: It is so",)


def test_deviations_are_read_out_before_anybody_signs(planned: Planned) -> None:
    bench = Bench(planned(WORK + ANYONE), "", "yes", "short: it had set", "A. Tester", "yes")
    bench.take(1)
    bench.take(2)
    assert "Signed for so far: glue, press: it had set." in bench.person.asked[-2].text
    clean = Bench(planned(ANYONE), "A. Tester", "yes")
    clean.take()
    assert "Signed for so far: no deviation." in clean.person.asked[0].text


@pytest.mark.parametrize("answers", [("no: nobody else is in",), ("B. Other", "sign", "no: the film is uneven")])
def test_a_refusal_rejects_with_its_reason(planned: Planned, answers: tuple[str, ...]) -> None:
    bench = Bench(planned(ANOTHER), *answers)
    step = bench.take()
    (check,) = step.judge(bench.plan.rig, bench.live.rule, bench.live.record())
    assert (check.finding, check.measured) == ("reject", 0.0)
    assert check.note.endswith(f"refused: {answers[-1].removeprefix('no: ')}")
    assert step.signed(bench.live.record()) == ()


def test_another_person_than_the_one_who_worked_is_asked_for(planned: Planned) -> None:
    bench = Bench(planned(WORK + ANOTHER), "", (60, "yes"), "a.  TESTER", "7", "B. Other", "yes")
    bench.take(1)
    (check,) = bench.checks(2).values()
    assert (check.finding, check.note) == ("accept", "B. Other")
    assert "Another person than A. Tester must sign." in bench.person.asked[2].text
    assert bench.person.asked[2].otherwise is None
    assert "a. TESTER did the work" in bench.person.asked[3].text
    assert "'7' is no name of a person" in bench.person.asked[4].text


def test_without_any_work_it_is_the_person_of_the_run_who_may_not(planned: Planned) -> None:
    bench = Bench(planned(ANOTHER), "A. Tester", "B. Other", "yes")
    assert bench.checks()["signed"].note == "B. Other"


def test_a_plan_tells_who_must_sign(planned: Planned) -> None:
    told = [step.tasks()[0].told() for step in planned(ANYONE + ANOTHER).procedure.steps]
    assert told == [
        "By name: It is so (procedure).",
        "By another person than who did the work: It is so (procedure).",
    ]


def test_a_doctored_name_does_not_pass(planned: Planned) -> None:
    """The rule holds when the record is judged, too."""
    bench = Bench(planned(WORK + ANOTHER), "", (60, "yes"), "B. Other", "yes")
    bench.take(1)
    step = bench.take(2)
    entries = [replace(e, data={**e.data, "name": "A. Tester"}) for e in bench.live.record().entries]
    (check,) = step.judge(bench.plan.rig, bench.live.rule, replace(bench.live.record(), entries=tuple(entries)))
    assert (check.finding, check.note) == ("reject", "A. Tester did the work and signed for it")
