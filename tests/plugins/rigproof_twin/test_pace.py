"""Who moves the clock of a served bench; with a wall clock that the test winds."""

from __future__ import annotations

import threading

import pytest

from rigproof.errors import NumberError
from rigproof_twin.clock import VirtualClock
from rigproof_twin.pace import Pace
from rigproof_twin.registry import Bench


class Wall:
    def __init__(self) -> None:
        self.seconds = 100.0

    def __call__(self) -> float:
        return self.seconds


@pytest.fixture
def wall() -> Wall:
    return Wall()


@pytest.fixture
def bench() -> Bench:
    return Bench(VirtualClock(), {})


def test_time_follows_the_wall_until_it_is_steered(bench: Bench, wall: Wall) -> None:
    pace = Pace(bench, wall)
    wall.seconds += 5.0
    assert bench.clock.now() == 0.0
    pace.catch_up()
    assert bench.clock.now() == 5.0
    wall.seconds += 2.0
    pace.steer()
    assert bench.clock.now() == 7.0
    wall.seconds += 100.0
    pace.catch_up()
    assert bench.clock.now() == 7.0
    assert pace.wait(3.5) == 10.5


def test_a_wall_clock_that_runs_backwards_moves_nothing(bench: Bench, wall: Wall) -> None:
    pace = Pace(bench, wall)
    wall.seconds -= 50.0
    pace.catch_up()
    assert bench.clock.now() == 0.0


def test_steered_time_jumps_to_what_is_waited_for(bench: Bench, wall: Wall) -> None:
    pace = Pace(bench, wall)
    pace.steer()
    assert pace.until(3600.0)
    assert bench.clock.now() == 3600.0
    assert pace.until(10.0)  # long past
    assert bench.clock.now() == 3600.0


def test_waiting_for_the_wall_gives_up_the_lock_and_ends_when_time_is_steered(bench: Bench, wall: Wall) -> None:
    pace = Pace(bench, wall)
    done: list[bool] = []
    waiter = threading.Thread(target=lambda: done.append(pace.until(1000.0)))
    waiter.start()
    with bench.lock:  # free although somebody waits
        assert bench.clock.now() == 0.0
    pace.steer()
    waiter.join(10.0)
    assert done == [True]
    assert bench.clock.now() == 1000.0


def test_stopping_sets_everybody_free(bench: Bench, wall: Wall) -> None:
    pace = Pace(bench, wall)
    done: list[bool] = []
    waiter = threading.Thread(target=lambda: done.append(pace.until(1000.0)))
    waiter.start()
    pace.stop()
    waiter.join(10.0)
    assert done == [False]


def test_impossible_waits_are_refused(bench: Bench, wall: Wall) -> None:
    with pytest.raises(NumberError):
        Pace(bench, wall).wait(-1.0)
