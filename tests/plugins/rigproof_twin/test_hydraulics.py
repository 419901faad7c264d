"""Source, valves and shut-in part: where the pressure goes, against a numerical integration, however time is sliced."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp  # type: ignore[attr-defined]

from rigproof.errors import NumberError
from rigproof_twin.clock import VirtualClock
from rigproof_twin.physics.hydraulics import Hydraulics, Plumbing
from rigproof_twin.physics.thermal import TemperatureCourse

BAR = 1e5
COURSE = TemperatureCourse(20.0, 0.05 / 3600, 0.02, 1200.0, 0.3)
STILL = TemperatureCourse(20.0, 0.0, 0.0, 1200.0, 0.0)
COUPLING = 3.0 * BAR


def rig(
    course: TemperatureCourse = STILL, overshoot: float = 0.0, leak_time_s: float = np.inf
) -> tuple[VirtualClock, Hydraulics]:
    clock = VirtualClock()
    return clock, Hydraulics(clock, course, Plumbing(2.0, overshoot, 1.0, leak_time_s, lambda _t: COUPLING))


def raised(clock: VirtualClock, source: Hydraulics, pa: float, rate: float = 0.5 * BAR) -> None:
    source.set_rate(rate)
    source.set_target(pa)
    source.enable(True)
    clock.wait(pa / rate + 30.0)


def test_it_starts_without_pressure_and_safe() -> None:
    clock, source = rig()
    clock.wait(3600.0)
    assert (source.enabled, source.connected, source.part_pa_now(), source.pressure_pa()) == (False, True, 0.0, 0.0)
    assert not source.settling()


def test_it_rises_at_its_rate_and_says_when_it_is_there() -> None:
    clock, source = rig()
    source.set_rate(0.5 * BAR)
    source.set_target(25 * BAR)
    source.enable(True)
    clock.wait(10.0)
    assert source.part_pa_now() == pytest.approx(5 * BAR)
    assert source.settling()
    clock.wait(41.0)
    assert source.part_pa_now() == pytest.approx(25 * BAR)
    assert not source.settling()


def test_it_runs_past_its_target_and_settles_later() -> None:
    clock, source = rig(overshoot=0.02)
    source.set_rate(0.5 * BAR)
    source.set_target(25 * BAR)
    source.enable(True)
    course = source.on_part(np.linspace(0.0, 80.0, 8001))
    assert course.max() == pytest.approx(25.5 * BAR, rel=1e-4)
    assert course[-1] == pytest.approx(25 * BAR, rel=1e-5)
    clock.wait(51.5)
    assert source.settling()
    clock.wait(20.0)
    assert not source.settling()


def test_coming_down_it_never_draws_a_vacuum() -> None:
    clock, source = rig(overshoot=0.02)
    raised(clock, source, 25 * BAR)
    source.set_target(0.0)
    assert source.on_part(clock.now() + np.linspace(0.0, 100.0, 1001)).min() >= 0.0
    clock.wait(100.0)
    assert source.part_pa_now() == pytest.approx(0.0, abs=1.0)


def test_the_vent_empties_the_part_also_when_isolated() -> None:
    clock, source = rig()
    raised(clock, source, 35.75 * BAR)
    source.connect(False)
    source.enable(False)
    clock.wait(5.0)
    assert source.part_pa_now() == pytest.approx(35.75 * BAR * np.exp(-5.0), rel=1e-6)


def test_a_connected_pump_makes_good_a_leak() -> None:
    clock, source = rig(leak_time_s=1000.0)
    raised(clock, source, 25 * BAR)
    clock.wait(600.0)
    assert source.part_pa_now() == pytest.approx(25 * BAR, rel=1e-6)


def test_a_shut_in_part_follows_temperature_and_leaks() -> None:
    clock, source = rig(COURSE, leak_time_s=40_000.0)
    raised(clock, source, 35.75 * BAR)
    source.connect(False)
    start = clock.now()

    def slope(t: float, p: list[float]) -> list[float]:
        above, below = COURSE.at(np.array([t + 1e-3, t - 1e-3]))
        return [COUPLING * float(above - below) / 2e-3 - p[0] / 40_000.0]

    solved = solve_ivp(slope, (start, start + 600.0), [source.part_pa_now()], rtol=1e-10, atol=1e-3)
    assert float(source.on_part(np.array([start + 600.0]))[0]) == pytest.approx(float(solved.y[0, -1]), abs=5.0)


def test_a_tight_part_comes_back_with_the_temperature() -> None:
    clock, source = rig(COURSE)
    raised(clock, source, 25 * BAR)
    source.connect(False)
    start, begun = source.part_pa_now(), COURSE.at(np.array([clock.now()]))
    clock.wait(600.0)
    rise = COUPLING * float((COURSE.at(np.array([clock.now()])) - begun)[0])
    assert source.part_pa_now() - start == pytest.approx(rise, rel=1e-9)


def test_opening_the_path_again_gives_the_part_the_source_s_pressure() -> None:
    clock, source = rig(leak_time_s=1000.0)
    raised(clock, source, 25 * BAR)
    source.connect(False)
    clock.wait(100.0)
    assert source.part_pa_now() < 23 * BAR
    source.connect(True)
    assert source.part_pa_now() == pytest.approx(25 * BAR, rel=1e-6)


def test_a_stopped_pump_starts_again_from_where_it_is() -> None:
    clock, source = rig()
    raised(clock, source, 10 * BAR)
    source.enable(False)
    clock.wait(60.0)
    source.enable(True)
    clock.wait(4.0)
    assert source.part_pa_now() == pytest.approx(2 * BAR, rel=1e-3)


@pytest.mark.parametrize("rate", [0.0, -1.0, np.inf, np.nan])
def test_a_rate_must_be_positive(rate: float) -> None:
    with pytest.raises(NumberError, match=r"rate=.*positive"):
        rig()[1].set_rate(rate)


@pytest.mark.parametrize("target", [-1.0, np.inf, np.nan])
def test_a_target_must_not_be_a_vacuum(target: float) -> None:
    with pytest.raises(NumberError, match=r"target=.*0 or more"):
        rig()[1].set_target(target)


COMMANDS: list[Callable[[Hydraulics], None]] = [
    lambda s: s.enable(True),
    lambda s: s.enable(False),
    lambda s: s.connect(True),
    lambda s: s.connect(False),
    lambda s: s.set_target(25 * BAR),
    lambda s: s.set_target(35.75 * BAR),
    lambda s: s.set_target(0.0),
    lambda s: s.set_rate(0.2 * BAR),
    lambda s: s.set_rate(2 * BAR),
]
PROGRAMME = st.lists(st.tuples(st.sampled_from(range(len(COMMANDS))), st.floats(0.0, 300.0)), min_size=1, max_size=12)


@settings(max_examples=60)
@given(programme=PROGRAMME, slices=st.lists(st.floats(0.01, 0.99), max_size=4))
def test_looking_changes_nothing(programme: list[tuple[int, float]], slices: list[float]) -> None:
    """The same commands at the same times, with and without looking in between."""
    (plain_clock, plain), (watched_clock, watched) = (rig(COURSE, 0.01, 50_000.0) for _ in range(2))
    for index, wait in programme:
        for clock, source in ((plain_clock, plain), (watched_clock, watched)):
            COMMANDS[index](source)
            if source is watched:
                at = [clock.now() + share * wait for share in sorted(slices)]
                source.on_part(np.array([*at, clock.now() + wait]))
                assert source.pressure_pa() >= 0.0
            clock.wait(wait)
        assert watched.part_pa_now() == plain.part_pa_now()
        assert watched.settling() == plain.settling()
    ends = np.array([plain_clock.now(), plain_clock.now() + 100.0])
    assert np.array_equal(watched.on_part(ends), plain.on_part(ends))


def test_past_times_are_answered_by_the_phase_of_their_time() -> None:
    clock, source = rig()
    raised(clock, source, 10 * BAR)
    source.enable(False)
    clock.wait(10.0)
    assert source.on_part(np.array([10.0, 40.0, 60.0]))[:2] == pytest.approx([5 * BAR, 10 * BAR])
    assert source.kinks(0.0, 60.0) == pytest.approx([20.0, 50.0])
