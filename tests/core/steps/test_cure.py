"""The time after bonding and coating: waited for, suspended, cut short, and how warm it was."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest

from rigproof.errors import Suspended
from rigproof.run.plan import Plan

from .guided import MORNING, Bench

Planned = Callable[..., Plan]
GLUE = "  - inspection: {of: glue, items: {look: {do: Look}}}\n"
COAT = (
    "  - inspection: {of: coating, items: {t: {do: x, value: {of: coating thickness, lowest: 0 mm, highest: 1 mm}}}}\n"
)
TWO_HOURS = GLUE + "  - cure: {since: glue, at least: 2 h, source: sheet 3, patience: 3 h}\n"


def test_what_is_left_of_the_time_is_waited_for(planned: Planned) -> None:
    bench = Bench(planned(TWO_HOURS), "yes", (600, ""))
    bench.take(1)
    bench.clock.wait(1800)
    check = bench.checks(2)["time"]
    assert (check.finding, check.measured, check.tolerance.lower) == ("accept", 7200.0, 7200.0)
    assert check.tolerance.origin == "procedure: sheet 3"
    assert (
        "at least 2 h (procedure: sheet 3), until 2026-11-25 10:00 UTC; 90 min are left" in bench.person.asked[1].text
    )


def test_nothing_is_asked_where_the_time_is_over(planned: Planned) -> None:
    bench = Bench(planned(TWO_HOURS), "yes")
    bench.take(1)
    bench.clock.wait(9000)
    assert bench.checks(2)["time"].measured == 9000.0
    assert len(bench.person.asked) == 1


def test_a_longer_rest_than_patience_suspends_the_run_until_it_is_over(planned: Planned) -> None:
    bench = Bench(planned(TWO_HOURS.replace(", patience: 3 h", "")), "yes", "")
    bench.take(1)
    with pytest.raises(Suspended) as caught:
        bench.take(2)
    assert caught.value.not_before == MORNING + timedelta(hours=2)
    first = bench.live.record()
    bench.clock.wait(7200)
    assert bench.checks(2, earlier=(first,))["time"].measured == 7200.0


def test_where_time_is_free_nothing_is_suspended(planned: Planned) -> None:
    bench = Bench(planned(TWO_HOURS.replace("3 h}", "1 s}")), "yes", "", time_is_free=True)
    bench.take(1)
    assert bench.checks(2)["time"].finding == "accept"


def test_it_is_cut_short_with_a_reason(planned: Planned) -> None:
    bench = Bench(planned(TWO_HOURS), "yes", "now", (60, "short: only a trial"))
    bench.take(1)
    step = bench.take(2)
    check = step.judge(bench.plan.rig, bench.live.rule, bench.live.record())[0]
    assert (check.finding, check.measured, check.rule) == ("accept", 60.0, "concession by A. Tester")
    (line,) = step.worked(bench.live.record())
    assert line.deviations == ("60 s in place of at least 2 h: only a trial",)


def test_without_concessions_nobody_is_asked_and_a_short_time_in_a_record_rejects(planned: Planned) -> None:
    bench = Bench(planned(TWO_HOURS.replace("3 h}", "3 h, concessions: no}")), "yes")
    bench.take(1)
    assert bench.checks(2)["time"].measured == 7200.0
    short = Bench(planned(TWO_HOURS), "yes", "short: only a trial")
    short.take(1)
    short.take(2)
    strict = bench.plan.procedure.steps[1]
    assert strict.judge(short.plan.rig, short.live.rule, short.live.record())[0].finding == "reject"


@pytest.mark.parametrize(
    ("written", "typed", "hours"),
    [
        ("", "0.4 mm", 24.0),  # a day for 0.4 mm: common practice, no source
        ("", "0.6 mm", 36.0),
        (", per day: 0.5 mm", "0.5 mm", 24.0),
        (", thickness: 0.8 mm", "0.4 mm", 48.0),  # the thicker of both
        (", thickness: 0.2 mm", "0.4 mm", 24.0),
        (", at least: 5 h", "0.8 mm", 5.0),
    ],
)
def test_a_coating_cures_by_its_thickness(planned: Planned, written: str, typed: str, hours: float) -> None:
    bench = Bench(planned(f"{COAT}  - cure: {{since: coating{written}, patience: 9 d}}\n"), "yes", typed, "")
    bench.take(1)
    check = bench.checks(2)["time"]
    assert check.measured == pytest.approx(hours * 3600)
    assert check.tolerance.lower == pytest.approx(hours * 3600)
    assert check.tolerance.origin == ("procedure" if "at least" in written or "per" in written else DEFAULT)


DEFAULT = "common practice, no source"


def test_without_the_work_it_follows_nothing_is_shown(planned: Planned) -> None:
    check = Bench(planned(TWO_HOURS)).checks(2)["time"]
    assert (check.finding, check.measured) == ("undecided", None)


def test_of_several_coatings_the_thickest_counts(planned: Planned) -> None:
    bench = Bench(
        planned(f"{COAT}{COAT}  - cure: {{since: coating, patience: 9 d}}\n"), "yes", "0.8 mm", "yes", "0.4 mm", ""
    )
    bench.take(1)
    bench.take(2)
    assert bench.checks(3)["time"].tolerance.lower == 48 * 3600
