"""What the part remembers: the lag of a bond against a numerical integration, plastic strain, and slicing of time."""

from __future__ import annotations

import sys
from time import perf_counter

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp  # type: ignore[attr-defined]

from rigproof.errors import NumberError
from rigproof_twin.clock import VirtualClock
from rigproof_twin.physics.history import LoadHistory
from rigproof_twin.physics.hydraulics import Hydraulics, Plumbing
from rigproof_twin.physics.thermal import TemperatureCourse

BAR = 1e5
TAU_S = 300.0
COURSE = TemperatureCourse(20.0, 0.05 / 3600, 0.02, 1200.0, 0.3)
FloatArray = npt.NDArray[np.float64]


def plastic(peak_load: FloatArray) -> FloatArray:
    return 1e-11 * np.maximum(0.0, peak_load - 30 * BAR)


class Rig:
    def __init__(self) -> None:
        self.clock = VirtualClock()
        self.source = Hydraulics(self.clock, COURSE, Plumbing(2.0, 0.002, 1.0, np.inf, lambda _t: 3.0 * BAR))
        self.history = LoadHistory(self.source, plastic, TAU_S)

    def look(self, *ahead_s: float) -> FloatArray:
        times = self.clock.now() + np.array(ahead_s or (0.0,))
        state = self.history.at(times, self.clock.now())
        return np.stack([state.load, state.plastic, state.lagging_load, state.lagging_plastic])

    def run(self, target_pa: float, wait_s: float) -> None:
        self.source.set_rate(0.5 * BAR)
        self.source.set_target(target_pa)
        self.source.enable(True)
        self.clock.wait(wait_s)


def test_the_lag_is_that_of_a_viscous_bond() -> None:
    """y' = (p - y)/tau through rise, hold and fall, by scipy."""
    rig = Rig()
    rig.run(25 * BAR, 200.3)
    rig.run(0.0, 333.3)
    solved = solve_ivp(
        lambda t, y: (rig.source.on_part(np.array([t])) - y) / TAU_S,
        (0.0, rig.clock.now()), [0.0], rtol=1e-9, atol=1e-3, max_step=0.5,
    )  # fmt: skip
    assert rig.look()[2, 0] == pytest.approx(float(solved.y[0, -1]), rel=1e-5)


def test_creep_under_constant_load_and_what_stays_after() -> None:
    """e0 (1 - exp(-t/tau)) under load, the same times exp(-(t - t1)/tau) after it (viscoelastic body, from memory)."""
    rig = Rig()
    rig.source.set_rate(1e9)
    rig.source.set_target(25 * BAR)
    rig.source.enable(True)
    rig.clock.wait(1800.0)
    loaded = 1 - np.exp(-1800.0 / TAU_S)
    assert rig.look()[2, 0] / (25 * BAR) == pytest.approx(loaded, rel=1e-4)
    rig.source.set_target(0.0)
    rig.clock.wait(600.0)
    assert rig.look()[2, 0] / (25 * BAR) == pytest.approx(loaded * np.exp(-2.0), rel=1e-3)


def test_plastic_strain_stays_after_unloading() -> None:
    rig = Rig()
    rig.run(35.75 * BAR, 120.0)
    rig.run(0.0, 200.0)
    pressure, left = rig.look()[:2, 0]
    assert pressure == pytest.approx(0.0, abs=1.0)
    assert left == pytest.approx(1e-11 * (35.75 * 1.002 - 30) * BAR, rel=1e-9)


def test_a_second_run_to_the_same_load_leaves_no_more() -> None:
    rig = Rig()
    rig.run(35.75 * BAR, 120.0)
    once = rig.look()[1, 0]
    rig.run(0.0, 200.0)
    rig.run(35.0 * BAR, 120.0)
    assert rig.look()[1, 0] == once


def test_the_past_is_not_told() -> None:
    rig = Rig()
    rig.run(25 * BAR, 10.0)
    with pytest.raises(NumberError, match=r"now or later"):
        rig.history.at(np.array([9.0]), rig.clock.now())


@settings(max_examples=40)
@example(waits=[0.0, 72.0, 72.0, 0.0], shares=[0.0])  # the part joins the course of a pump that has turned before
@given(
    waits=st.lists(st.one_of(st.integers(0, 120).map(float), st.floats(0.0, 200.0)), min_size=1, max_size=6),
    shares=st.lists(st.floats(0.0, 1.0), min_size=1, max_size=5),
)
def test_looking_changes_nothing(waits: list[float], shares: list[float]) -> None:
    """The same programme, once looked at only at its end and once all the time, ahead and in between."""
    plain, watched = Rig(), Rig()
    targets = [25 * BAR, 35.75 * BAR, 0.0]
    for index, wait in enumerate(waits):
        for rig in (plain, watched):
            rig.source.connect(index % 3 != 2)
        watched.look(0.0, *sorted(wait * share for share in shares))
        plain.run(targets[index % 3], wait)
        watched.run(targets[index % 3], 0.0)
        passed = 0.0
        for share in sorted(shares):
            watched.look(0.0, 50.0)
            watched.clock.wait(wait * share - passed)
            passed = wait * share
        watched.clock.wait(plain.clock.now() - watched.clock.now() if plain.clock.now() > watched.clock.now() else 0.0)
    assert watched.look(0.0, 10.0) == pytest.approx(plain.look(0.0, 10.0), rel=1e-9, abs=1e-9)


def test_a_ten_minute_hold_is_cheap(capsys: pytest.CaptureFixture[str]) -> None:
    """Printed, not judged: what a look after a hold costs."""
    rig = Rig()
    rig.run(35.75 * BAR, 120.0)
    rig.source.connect(False)
    rig.look()
    rig.clock.wait(600.0)
    start = perf_counter()
    state = rig.look()
    spent = perf_counter() - start
    with capsys.disabled():
        sys.stdout.write(f"\na look after a 600 s hold: {1e3 * spent:.2f} ms\n")
    assert np.isfinite(state).all()
