"""A list of work put to a person: confirmed, refused, timed, measured, signed for."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from rigproof.errors import Unanswered
from rigproof.run.plan import Plan

from .guided import Bench

Planned = Callable[..., Plan]
TWO = "  - inspection: {of: cable, items: {gland: {do: Tighten it}, marks: {do: Read the mark}}}\n"
PRESS = "  - inspection: {of: glue, items: {press: {do: Press, at least: 1 min, source: sheet 7}}}\n"
LOOP = "  - inspection: {of: relief, items: {loop: {do: Loop, value: {of: gap, lowest: 10 mm, highest: 13 mm}}}}\n"


def test_each_item_is_confirmed_in_order(planned: Planned) -> None:
    bench = Bench(planned(TWO), "yes", "Y")
    (check,) = bench.checks().values()
    assert (check.finding, check.measured, check.tolerance.lower) == ("accept", 2.0, 2.0)
    assert [question.label for question in bench.person.asked] == ["cable done gland", "cable done marks"]
    assert bench.person.asked[0].text == (
        "cable, 1 of 2: gland\nTighten it (procedure).\nType `yes` when it is done and so, or `no:` and why not."
    )


def test_a_refusal_rejects_and_ends_the_list(planned: Planned) -> None:
    bench = Bench(planned(TWO), "no: the thread is stripped")
    step = bench.take()
    (check,) = step.judge(bench.plan.rig, bench.live.rule, bench.live.record())
    assert (check.finding, check.measured, check.note) == ("reject", 0.0, "gland: the thread is stripped")
    (line,) = step.worked(bench.live.record())
    assert (line.done, line.deviations) == (False, ("not done: the thread is stripped",))


@pytest.mark.parametrize("typed", ["", "ok", "no", "no:", "no: ", "short: in a hurry", "keep: so", "yes!"])
def test_what_is_no_answer_is_asked_again(planned: Planned, typed: str) -> None:
    bench = Bench(planned(TWO), typed, "yes", "yes")
    (check,) = bench.checks().values()
    assert check.finding == "accept"
    assert "that is no answer here" in bench.person.asked[1].text


def test_no_answer_at_all_ends_the_run(planned: Planned) -> None:
    with pytest.raises(Unanswered, match="cable: no answer"):
        Bench(planned(TWO), "yes").take()


def test_a_minute_is_timed_by_the_clock_of_the_run(planned: Planned) -> None:
    checks = Bench(planned(PRESS), (100, ""), (60.0, "yes")).checks()  # what goes before the start does not count
    time = checks["time press"]
    assert (time.finding, time.measured, time.tolerance.lower) == ("accept", 60.0, 60.0)
    assert time.tolerance.origin == "procedure: sheet 7"
    assert time.conformance_probability is None  # nobody knows how well a watch is kept


def test_the_words_of_a_timed_item(planned: Planned) -> None:
    bench = Bench(planned(PRESS), "", (60, "yes"))
    step = bench.take()
    begin, done = bench.person.asked
    assert (begin.label, begin.otherwise, begin.sound) == ("glue begin press", "", "")
    assert (done.label, done.otherwise, done.sound, done.takes_s) == ("glue done press", None, "yes", 60.0)
    assert begin.text.endswith("At least 1 min (procedure: sheet 7).\nEnter starts the time.")
    (line,) = step.worked(bench.live.record())
    assert (line.measured, line.value, line.kind, line.deviations) == ("", None, "", ())


def test_too_short_is_asked_again_and_the_time_goes_on(planned: Planned) -> None:
    bench = Bench(planned(PRESS), "", (59.9, "yes"), (0.2, "yes"))
    assert bench.checks()["time press"].measured == pytest.approx(60.1)
    assert "60 s have gone by, and it takes 1 min at least" in bench.person.asked[2].text
    assert "`short:` and why" in bench.person.asked[2].text


def test_too_short_is_signed_for_with_a_reason(planned: Planned) -> None:
    bench = Bench(planned(PRESS), "", (40, "yes"), (2, "short: it had set"))
    step = bench.take()
    check = step.judge(bench.plan.rig, bench.live.rule, bench.live.record())[1]
    assert (check.finding, check.measured, check.rule) == ("accept", 42.0, "concession by A. Tester")
    assert check.note == "signed for: it had set"
    (line,) = step.worked(bench.live.record())
    assert line.deviations == ("42 s in place of at least 1 min: it had set",)
    assert (line.person, line.took, line.at_least, line.at_least_origin) == (
        *("A. Tester", 42.0, 60.0),
        "procedure: sheet 7",
    )


def test_where_no_concession_is_made_the_time_has_to_pass(planned: Planned) -> None:
    strict = PRESS.replace("of: glue", "of: glue, concessions: no")
    bench = Bench(planned(strict), "", "yes", "short: it had set", (60, "yes"))
    check = bench.checks()["time press"]
    assert (check.finding, check.rule) == ("accept", "by the clock of the run")
    assert all("short" not in question.text for question in bench.person.asked)


def test_a_concession_in_the_record_counts_only_where_the_procedure_makes_one(planned: Planned) -> None:
    """A record cannot grant what the procedure refuses: the same entries, judged by a strict procedure."""
    bench = Bench(planned(PRESS), "", "yes", "short: it had set")
    bench.take()
    (strict,) = planned(PRESS.replace("of: glue", "of: glue, concessions: no")).procedure.steps
    assert strict.judge(bench.plan.rig, bench.live.rule, bench.live.record())[1].finding == "reject"


def test_a_timed_item_can_be_refused_before_it_begins(planned: Planned) -> None:
    checks = Bench(planned(PRESS), "no: the tape is gone").checks()
    assert [check.finding for check in checks.values()] == ["reject"]


def test_a_value_is_read_with_its_unit_and_held_against_its_range(planned: Planned) -> None:
    bench = Bench(planned(LOOP), "yes", "12", "12 N", "1.2 cm")
    check = bench.checks()["gap loop"]
    assert (check.finding, check.measured, check.kind) == ("accept", 0.012, "length")
    assert (check.tolerance.lower, check.tolerance.upper) == (0.01, 0.013)
    assert "'12' has no unit" in bench.person.asked[2].text
    assert "'N' is a unit of force" in bench.person.asked[3].text


def test_a_value_out_of_range_is_mended_kept_or_refused(planned: Planned) -> None:
    mended = Bench(planned(LOOP), "yes", "15 mm", "13 mm").checks()["gap loop"]
    assert (mended.finding, mended.note) == ("accept", "as typed, taken as exact")
    bench = Bench(planned(LOOP), "yes", "15 mm", "keep: no room for less")
    step = bench.take()
    kept = step.judge(bench.plan.rig, bench.live.rule, bench.live.record())[1]
    assert (kept.finding, kept.measured, kept.note) == ("accept", 0.015, "signed for: no room for less")
    (line,) = step.worked(bench.live.record())
    assert line.deviations == ("gap 15 mm, not 10 mm to 13 mm: no room for less",)
    assert (line.measured, line.value, line.lowest, line.highest, line.kind) == ("gap", 0.015, 0.01, 0.013, "length")
    assert (line.at_least, line.at_least_origin, line.range_origin) == (None, "", "procedure")
    assert [q.label for q in bench.person.asked] == ["relief done loop", "relief value loop", "relief keep loop"]
    refused = Bench(planned(LOOP), "yes", "15 mm", "no: it stands off").checks()
    assert [check.finding for check in refused.values()] == ["reject"]
    assert refused["items done"].note == "loop: it stands off"


def test_to_keep_without_a_reason_keeps_the_value_waiting(planned: Planned) -> None:
    bench = Bench(planned(LOOP), "yes", "15 mm", "keep:", "no", "keep: no room for less")
    check = bench.checks()["gap loop"]
    assert (check.finding, check.measured) == ("accept", 0.015)
    told = [question.text for question in bench.person.asked[2:]]
    assert told[0].startswith(f"{bench.person.asked[2].amiss}. Mend it")
    assert told[1] == f"'keep:' gives no reason; write it behind `keep:`, a word at least.\n{told[0]}"
    assert told[2] == f"'no' gives no reason; write it behind `no:`, a word at least.\n{told[0]}"
    assert {question.wants for question in bench.person.asked[2:]} == {"keep"}


def test_what_was_done_before_a_pause_is_not_asked_again(planned: Planned) -> None:
    bench = Bench(planned(TWO), "yes")
    with pytest.raises(Unanswered):
        bench.take()
    bench.person.answers = [(0.0, "yes")]
    (check,) = bench.checks(earlier=(bench.live.record(),)).values()
    assert (check.finding, check.measured) == ("accept", 2.0)
    assert bench.person.asked[-1].label == "cable done marks"


def test_a_list_that_was_broken_off_shows_nothing(planned: Planned) -> None:
    bench = Bench(planned(TWO), "yes")
    with pytest.raises(Unanswered):
        bench.take()
    (check,) = bench.plan.procedure.steps[0].judge(bench.plan.rig, bench.live.rule, bench.live.record())
    assert (check.finding, check.note) == ("undecided", "1 of 2 were told, and then the step ended")
