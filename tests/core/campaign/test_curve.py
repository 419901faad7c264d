"""Curves against a case that is known in closed form: a normal measurement and a guarded upper limit.

P(accept | size) = Φ((limit - guard - size)/u); JCGM 106:2012, 8.3.2 and 9.5, gives the guard band and the risks.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize as scipy_optimize

from rigproof.campaign import curve_data
from rigproof.campaign.crew import Crew
from rigproof.campaign.curve import BLOCK, LEAST_RUNS, Curve, Point, bend, monotone, sample
from rigproof.campaign.engine import Engine
from rigproof.campaign.results import Results
from rigproof.campaign.risks import Risk, beyond, global_risks
from rigproof.campaign.sizes import Axis, axis
from rigproof.campaign.trial import Result, Trial, take
from rigproof.campaign.verdicts import Verdicts
from rigproof.commands.power import Measured
from rigproof.errors import NumberError, UsageError
from rigproof.quantities import parse
from rigproof.simulation import Flaw
from rigproof.uncertainty import Tolerance, global_risk, normal_cdf, normal_quantile

optimize: Any = scipy_optimize  # it has no types
OFFSET = Flaw("offset", "The zero is wrong.", "by how much", "5 %", "ratio")
LIMIT, U = 0.05, 0.01
GUARD = 1.6449 * U  # one-sided 5 %
CAUGHT = LIMIT - GUARD + normal_quantile(0.95) * U  # where acceptance is 5 %: the limit itself
AXIS = axis(OFFSET, "0 %", "10 %")
BEYOND = axis(OFFSET, "0 %", "40 %")  # the bend is a small part of it


def truth(size: float) -> float:
    return normal_cdf((LIMIT - GUARD - size) / U)


def ends(accept: int, of: int) -> Verdicts:
    return Verdicts(accept, reject=of - accept)


def counted(seed: int) -> Callable[[float | None, int], Verdicts]:
    draw = random.Random(seed)

    def measure(size: float | None, runs: int) -> Verdicts:
        return ends(sum(draw.random() < truth(size or 0.0) for _ in range(runs)), runs)

    return measure


def measured_rig(trial: Trial) -> Result:
    """One acceptance: the size is measured once, with a normal error of its own, against the acceptance limit."""
    size = parse(trial.flaws[0].partition("=")[2], "ratio").value if trial.flaws else 0.0
    reading = random.Random(f"rig {trial.seed}").gauss(size, U)
    return Result(trial, "accept" if reading <= LIMIT - GUARD else "reject", "", ())


def test_through_the_engine_the_known_curve_comes_out(documents: dict[str, str], tmp_path: Path, listener: Any) -> None:
    """`measured_rig` is the trial function; what comes out is compared with Φ at every measured size."""
    crew = Crew(lambda: ThreadPoolExecutor(1), 1)
    with Results(tmp_path / "out", documents) as results:
        with Engine(results, crew, measured_rig, listener, 2000) as engine:
            measure = Measured(engine, AXIS, 0)
            curve = sample(AXIS, LIMIT, 2000, measure)
        assert len(results) == measure.used  # every run has a seed of its own
        assert 0.9 * 2000 < measure.used <= 2000
    for place, lower, upper in curve.bounds():
        assert lower <= truth(AXIS.size(place)) <= upper
    assert curve.caught() == pytest.approx(CAUGHT, abs=U)
    mild, severe = curve.caught_between()
    assert mild is not None
    assert severe is not None
    assert mild <= CAUGHT <= severe
    assert curve.producer.value < 0.05
    lower, upper = curve.consumer.interval(0.999)  # of one draw; how often 95 % hold is counted below
    assert lower <= truth(LIMIT) <= upper


@pytest.mark.parametrize("sizes", [AXIS, BEYOND])
def test_the_interval_of_the_caught_size_holds(sizes: Axis) -> None:
    """Of 200 curves at least 95 %, less what chance may take from 200 (four standard deviations of a binomial)."""
    curves = [sample(sizes, LIMIT, 700, counted(seed)) for seed in range(200)]
    between = [curve.caught_between() for curve in curves]
    holds = sum((m is None or m <= CAUGHT) and (s is None or s >= CAUGHT) for m, s in between)
    assert holds >= 200 * 0.95 - 4 * (200 * 0.95 * 0.05) ** 0.5
    assert sum(m is not None and s is not None for m, s in between) > 150  # closed at both ends: of some use
    risks = [curve.consumer.interval() for curve in curves]
    assert sum(lower <= truth(LIMIT) <= upper for lower, upper in risks) >= 200 * 0.95 - 4 * (200 * 0.95 * 0.05) ** 0.5
    errors = [(curve.caught() or 0.0) - CAUGHT for curve in curves]
    assert abs(sum(errors) / 200) < 0.2 * U
    assert (sum(error**2 for error in errors) / 200) ** 0.5 < 0.4 * U


def test_runs_go_where_the_curve_bends() -> None:
    """A block more or less lies there by the luck of the search: half the campaigns show what is usual."""
    shares = []
    for seed in range(15):
        curve = sample(BEYOND, LIMIT, 700, counted(seed))
        near = [p for p in curve.points if abs(p.size - LIMIT) < 4 * U]
        shares.append(sum(p.accepted.of for p in near) / sum(p.accepted.of for p in curve.points))
        assert sum(p.accepted.of for p in curve.points) + BLOCK <= 700
    assert sorted(shares)[7] > 0.8


@pytest.mark.parametrize(("mean", "sd"), [(0.0, 0.03), (0.02, 0.02), (0.045, 0.01)])
def test_global_risks_against_jcgm_106(mean: float, sd: float) -> None:
    """The closed form is `global_risk`, which tests/reference compares with the worked examples of JCGM 106."""
    expected = global_risk(mean, sd, U, Tolerance(None, LIMIT), Tolerance(None, LIMIT - GUARD))
    curve = sample(AXIS, LIMIT, 20_000, counted(1))
    consumer, producer = global_risks(curve, mean, sd)
    assert consumer.lower <= expected.consumer <= consumer.upper
    assert producer.lower <= expected.producer <= producer.upper
    assert producer.value == pytest.approx(expected.producer, rel=0.1)
    assert consumer.value == pytest.approx(expected.consumer, rel=0.4, abs=1e-4)


def test_global_risks_rest_on_the_sound_rig_where_it_is_size_0() -> None:
    """Half of the process is sound, and the size 0 of the search alone would say how often that is refused."""
    expected = global_risk(0.0, 0.01, U, Tolerance(None, LIMIT), Tolerance(None, LIMIT - GUARD))
    measures = [counted(seed) for seed in range(20)]
    apart = [sample(AXIS, LIMIT, 700, measure) for measure in measures]
    within = [sample(AXIS, LIMIT, 700, measure, lambda: True) for measure in measures]
    widths = []
    for curves in (apart, within):
        risks = [global_risks(curve, 0.0, 0.01)[1] for curve in curves]
        assert sum(risk.lower <= expected.producer <= risk.upper for risk in risks) >= 18
        widths.append(sum(risk.upper - risk.lower for risk in risks))
    assert widths[1] < 0.6 * widths[0]
    curve = within[0]
    (at_zero,) = (point for point in curve.points if point.stage == "sound")
    assert (at_zero.place, at_zero.verdicts, curve.sound_is_zero) == (0.0, curve.sound, True)
    assert at_zero in curve.measured
    assert not sample(axis(OFFSET, "1 %", "10 %"), LIMIT, 700, counted(1), lambda: True).sound_is_zero


def test_size_0_is_the_sound_rig_where_every_number_is_the_same(
    documents: dict[str, str], tmp_path: Path, listener: Any
) -> None:
    """The loose gauge on a real rig; a time whose 0 is its worst on one whose numbers show it."""
    beam = Path(__file__).parents[3] / "rigs" / "beam"

    def job(trial: Trial) -> Result:
        late = trial.flaws == ("late=0 s",)
        return Result(trial, "reject", "", (), "frozen") if late else take(beam, trial)

    crew = Crew(lambda: ThreadPoolExecutor(1), 1)
    with Results(tmp_path / "out", documents) as results, Engine(results, crew, job, listener) as engine:
        assert Measured(engine, Axis("loose-gauge", "ratio", 0.0, 0.15, "%"), 3).zero_is_sound()
        assert not Measured(engine, Axis("late", "time", 0.0, 600.0, "s"), 3).zero_is_sound()


def test_global_risks_of_an_exact_curve() -> None:
    """With the curve itself in place of counts nothing is left but the integral."""
    million = 10**6
    places = [step / 400 for step in range(401)]
    points = tuple(
        Point(p, AXIS.size(p), ends(round(million * truth(AXIS.size(p))), million), "measured") for p in places
    )
    curve = Curve(AXIS, ends(1, 1), LIMIT, points)
    expected = global_risk(0.02, 0.02, U, Tolerance(None, LIMIT), Tolerance(None, LIMIT - GUARD))
    consumer, producer = global_risks(curve, 0.02, 0.02)
    assert (consumer.value, producer.value) == pytest.approx((expected.consumer, expected.producer), rel=5e-3)
    with pytest.raises(NumberError, match=r"sd=0\.0"):
        global_risks(curve, 0.0, 0.0)


def test_a_flaw_that_is_never_caught_and_one_that_always_is() -> None:
    never = sample(AXIS, 0.1, LEAST_RUNS, lambda _, runs: ends(runs, runs))
    assert (never.caught(), never.caught_between()[1], never.producer.value) == (None, None, 0.0)
    always = sample(AXIS, 0.1, LEAST_RUNS, lambda size, runs: ends(runs if size is None else 0, runs))
    assert (always.caught(), always.caught_between()[0], always.consumer.value) == (0.0, None, 0.0)


def test_nothing_is_caught_where_the_sound_rig_is_refused_too() -> None:
    refused = sample(AXIS, 0.1, LEAST_RUNS, lambda _, runs: ends(0, runs))
    assert (refused.caught(), refused.caught_between(), refused.producer.value) == (None, (None, None), 1.0)


def test_ends_the_wrong_way_round_are_told_from_their_first_runs() -> None:
    """The harm of a leakage resistance falls with its number."""
    leak = Flaw("leakage", "", "", "100 MΩ", "insulation resistance")
    asked: list[tuple[float | None, int]] = []

    def measure(size: float | None, runs: int) -> Verdicts:
        asked.append((size, runs))
        return ends(runs if (size or 1e99) > 5e8 else 0, runs)

    said = r"--from 10 MΩ --to 10 GΩ: leakage is accepted in 0 of 8 runs at --from and in 8 of 8 at --to.*; swap"
    with pytest.raises(UsageError, match=said):
        sample(axis(leak, "10 MΩ", "10 GΩ"), 1e8, 700, measure)
    assert asked == [(1e7, 8), (1e10, 8)]


def test_nothing_is_caught_where_a_severer_flaw_is_accepted_more_often() -> None:
    """Its ends alone look as they should: what rises lies between."""
    valley = sample(AXIS, 0.02, LEAST_RUNS, lambda size, runs: ends(0 if (size or 0.0) == 0.02 else runs, runs))
    assert valley.rise is not None
    mild, severe = valley.rise
    assert (mild.size, severe.accepted.value) == (0.02, 1.0)
    assert severe.size > 0.02
    assert (valley.caught(), valley.caught_between()) == (None, (None, None))
    text = curve_data.as_text(valley, Path("rigs/spool"), 1, (Risk(0.0, 0.0, 0.0), Risk(0.0, 0.0, 0.0), 0.0))
    assert re.search(r"caught in 95 %: nobody can say: accepted in 0 % .* at 2 %, but in 100 % .*; swap --from", text)
    assert "global risks (JCGM 106): nobody can say, for the same reason" in text
    data = curve_data.as_data(valley, (0, 1), (Risk(0.0, 0.0, 0.0), Risk(0.0, 0.0, 0.0), 0.0))
    assert data["rises"] == [0.02, severe.size]
    assert "global risks" not in data


def test_no_chance_makes_a_falling_curve_rise() -> None:
    """All intervals hold together with 95 %, and two that are false must meet: of 200 curves hardly one."""
    assert sum(sample(AXIS, LIMIT, 700, counted(seed)).rise is not None for seed in range(200)) <= 2


def test_runs_of_one_size_are_one_sample() -> None:
    """Two blocks at one size, whatever their order: 2 of 8 and 0 of 8 are 2 of 16, and the fit has no wall there."""
    sizes = ((0.0, 8, 8), (0.5, 2, 8), (0.5, 0, 8), (1.0, 0, 8))
    for order in (sizes, (sizes[0], sizes[2], sizes[1], sizes[3])):
        points = [Point(place, AXIS.size(place), ends(count, of), "measured") for place, count, of in order]
        assert monotone(points) == [(0.0, 1.0), (0.5, 0.125), (0.5, 0.125), (1.0, 0.0)]
    curve = Curve(AXIS, ends(8, 8), AXIS.size(1.0), tuple(points))
    assert curve.caught() == pytest.approx(AXIS.size(0.5 + 0.5 * (0.125 - 0.05) / 0.125))


@given(st.lists(st.tuples(st.integers(0, 6), st.integers(0, 8)), min_size=2, max_size=20))
def test_the_fit_is_that_of_a_general_library(blocks: list[tuple[int, int]]) -> None:
    """scipy's isotonic regression of the pooled shares, weighted with their runs."""
    blocks = sorted(blocks)
    points = [Point(place / 6, AXIS.size(place / 6), ends(count, 8), "search") for place, count in blocks]
    places = sorted({place for place, _ in blocks})
    shares = [[count / 8 for at, count in blocks if at == place] for place in places]
    means = [sum(each) / len(each) for each in shares]
    fit = optimize.isotonic_regression(means, weights=[len(each) for each in shares], increasing=False).x
    expected = dict(zip(places, fit, strict=True))
    assert [found for _, found in monotone(points)] == pytest.approx([expected[place] for place, _ in blocks])


def test_the_share_of_a_process_beyond_the_ends() -> None:
    """Φ(-0.5) of a process lies below 0 where its mean is half a standard deviation above; a limit may lie beyond."""
    curve = sample(AXIS, LIMIT, LEAST_RUNS, counted(1))
    assert curve.ends == (0.0, 0.1)
    assert beyond(curve, 0.01, 0.02) == pytest.approx(normal_cdf(-0.5), rel=1e-4)
    assert beyond(curve, 0.09, 0.02) == pytest.approx(normal_cdf(-0.5), rel=1e-4)
    further = sample(AXIS, 0.12, LEAST_RUNS, counted(1))
    assert beyond(further, 0.09, 0.02) == pytest.approx(normal_cdf(-1.5), rel=1e-3)


def test_sizes_are_written_in_the_unit_that_was_asked_for() -> None:
    leak = Flaw("slow-leak", "", "", "1 bar/min", "pressure rate")
    assert axis(leak, "0.001 bar/min", "0.05 bar/min").planted(5000.0 / 60.0) == "slow-leak=0.05 bar/min"


def test_the_severe_end_may_be_the_smaller_number() -> None:
    leak = Flaw("leakage", "", "", "100 MΩ", "insulation resistance")
    sizes = axis(leak, "10 GΩ", "1 MΩ")
    assert sizes.by_factors
    assert sizes.size(0.5) == pytest.approx(1e8, rel=1e-3)
    assert sizes.place(1e8) == pytest.approx(0.5)
    curve = sample(sizes, 1e8, 700, lambda size, runs: ends(runs if (size or 1e99) > 5e8 else 0, runs))
    mild, severe = curve.caught_between()
    assert curve.caught() == pytest.approx(5e8, rel=0.3)
    assert severe is not None
    assert severe <= 5e8
    assert mild is None or mild >= 5e8


@pytest.mark.parametrize(
    ("flaw", "ends", "said"),
    [
        (OFFSET, ("1 %", "1 %"), "are the same"),
        (Flaw("swapped-channels", "", "", "", ""), ("1 %", "2 %"), "has no size"),
    ],
)
def test_ends_that_are_no_axis(flaw: Flaw, ends: tuple[str, str], said: str) -> None:
    with pytest.raises(UsageError, match=said):
        axis(flaw, *ends)


@given(st.lists(st.tuples(st.integers(0, 20), st.integers(1, 20)), min_size=1, max_size=12))
def test_the_monotone_fit_is_the_weighted_isotonic_one(counts: list[tuple[int, int]]) -> None:
    """Against scipy's isotonic regression, whose weighted least squares gives the likelihood's maximum, too."""
    shares = [ends(min(count, of), of) for count, of in counts]
    points = [Point(float(n), float(n), share, "search") for n, share in enumerate(shares)]
    expected = optimize.isotonic_regression(
        [share.accepted.value for share in shares], weights=[share.runs for share in shares], increasing=False
    ).x
    assert [fit for _, fit in monotone(points)] == pytest.approx(list(expected), abs=1e-12)


def test_the_bend() -> None:
    shares = [ends(8, 8), ends(8, 8), ends(5, 8), ends(1, 8), ends(0, 8), ends(0, 8)]
    points = [Point(n / 5, n / 5, share, "search") for n, share in enumerate(shares)]
    assert bend(points) == (0.2, 0.8)
