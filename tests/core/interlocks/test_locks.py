"""Each kind of interlock, shown readings one after the other."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from math import sqrt

import numpy as np
import pytest

from rigproof.documents import load_rig
from rigproof.errors import Tripped
from rigproof.interlocks import Lock, locks_of, yield_strain
from rigproof.plugins import Registry
from rigproof.run.interlocks import Interlocks
from rigproof.run.plan import Plan

BAR = 1e5
Watch = Callable[[str], Interlocks]

RATE = "{channel: pressure, rising faster than: 1 bar/s, falling faster than: 2 bar/s, over: 4 s}"


@pytest.fixture
def watch(spool: Plan, registry: Registry) -> Watch:
    """A function: one entry under `interlocks:` -> the spool's interlocks with that one alone."""

    def make(entry: str) -> Interlocks:
        text = spool.rig.text[: spool.rig.text.index("interlocks:")]
        locks = Interlocks(load_rig(text=f"{text}interlocks:\n  it: {entry}\n", registry=registry))
        locks.zero("hoop", 0.0)
        locks.zero("axial", 0.0)
        return locks

    return make


def show(
    locks: Interlocks, channel: str, readings: Iterable[float], under_load: bool = True, begun_s: float = 0.0
) -> None:
    """One reading a second."""
    for now, reading in enumerate(readings):
        locks.check({channel: np.array([reading])}, under_load, begun_s + now)


def ramp(bar_per_s: float, seconds: int = 15) -> list[float]:
    return [20 * BAR + bar_per_s * BAR * t for t in range(seconds)]


def test_a_rate_trips_either_way_and_tells_all(watch: Watch) -> None:
    words = r"'it': pressure rising by 1.2 bar/s over 4 s, limit 1 bar/s, 5.0 s into the run"
    with pytest.raises(Tripped, match=words) as caught:
        show(watch(RATE), "pressure", ramp(1.2))
    assert (caught.value.interlock, caught.value.channel, caught.value.limit) == ("it", "pressure", "1 bar/s")
    assert caught.value.value == pytest.approx(1.2 * BAR)
    with pytest.raises(Tripped, match=r"falling by 2.2 bar/s over 4 s, limit 2 bar/s"):
        show(watch(RATE), "pressure", ramp(-2.2, 9))
    show(watch(RATE), "pressure", ramp(0.98))
    show(watch(RATE), "pressure", ramp(-1.98, 9))


def test_noise_and_one_spike_never_trip_a_rate(watch: Watch) -> None:
    """A scatter of 0.3 bar, hundreds of times the transmitter's, makes 0.1 bar/s over 4 s; a spike passes the limit."""
    noise = np.random.default_rng(1).normal(20 * BAR, 0.3 * BAR, 5000)
    show(watch(RATE), "pressure", noise)
    for size in (15 * BAR, -15 * BAR):
        spiked = [20 * BAR] * 40
        spiked[20] += size
        show(watch("{channel: pressure, rising faster than: 1 bar/s, over: 4 s}"), "pressure", spiked)


def test_a_block_counts_by_its_mean_in_its_middle(watch: Watch) -> None:
    """A ramp in blocks of a second, begun at odd times: by their ends they would seem faster or slower."""

    def blocks(bar_per_s: float) -> None:
        locks, times = watch(RATE), np.linspace(0.0, 0.9, 10)
        for begun in (0.0, 1.1, 2.0, 4.3, 5.1, 6.6, 8.0):
            raw = np.array(20 * BAR + bar_per_s * BAR * (begun + times), dtype=np.float64)
            locks.check({"pressure": raw}, True, begun + 5.0, {"pressure": begun}, 0.1)

    blocks(0.999)
    with pytest.raises(Tripped):
        blocks(1.001)


def test_a_new_zero_and_a_shunt_are_no_rate_of_strain(watch: Watch) -> None:
    locks = watch("{channel: hoop, rising faster than: 10 µε/min, over: 1 s}")
    show(locks, "hoop", [0.0, 0.0, 5e-4, 5e-4, 0.0], under_load=False)
    show(locks, "hoop", [0.0, 0.0], begun_s=10.0)
    locks.zero("hoop", -5e-4)
    show(locks, "hoop", [0.0, 0.0, 0.0], begun_s=20.0)
    with pytest.raises(Tripped):
        show(locks, "hoop", [0.0, 1e-5, 2e-5], begun_s=30.0)


def test_two_channels_may_not_drift_apart(watch: Watch) -> None:
    locks = watch("{channel: hoop, against: axial, apart by more than: 100 µε}")
    assert set(locks.channels) == {"hoop", "axial", "pressure"}
    one = {"hoop": np.array([2e-4]), "axial": np.array([1.6e-4])}
    locks.check(one, under_load=True)
    locks.check({"hoop": np.array([9e-4])}, under_load=True)  # alone it is not compared
    for high, low in (("hoop", "axial"), ("axial", "hoop")):
        with pytest.raises(Tripped, match=r"hoop and axial apart by 19\d.* µε, limit 100 µε"):
            locks.check({high: np.array([2e-4]), low: np.array([1e-4])}, under_load=True)


def test_a_silent_channel_is_heard_by_the_readings_of_others(watch: Watch) -> None:
    """A driver that blocks and one that gives no number: both end in the time since the last reading."""
    locks = watch("{channel: water, silent for longer than: 6 s}")
    other = {"hoop": np.array([0.0])}
    for now in (0.0, 5.0):
        locks.check({"water": np.array([20.0])} | other, True, now)
    locks.check({"water": np.array([np.nan])} | other, True, 8.0)  # one reading may be missing
    with pytest.raises(Tripped, match=r"water silent for 6.5 s, limit 6 s"):
        locks.check(other, True, 11.5)
    locks.check(other, False, 100.0)
    locks.check(other, True, 200.0)  # the time runs from the first look under load


def test_a_reading_that_does_not_change_is_none(watch: Watch) -> None:
    locks = watch("{channel: pressure, unchanged for longer than: 5 s}")
    show(locks, "pressure", [BAR + t % 2 for t in range(40)])
    with pytest.raises(Tripped, match=r"pressure unchanged for 6 s, limit 5 s"):
        show(locks, "pressure", [BAR] * 40)


def test_the_time_at_pressure_adds_up_and_rest_does_not_count(watch: Watch) -> None:
    locks = watch("{channel: pressure, above: 30 bar, for longer than: 8 s}")
    up, down = [31 * BAR] * 4, [29 * BAR] * 50  # three seconds lie between four readings
    show(locks, "pressure", [*up, *down, *up])
    with pytest.raises(Tripped, match=r"pressure above 30 bar for 9 s, limit 8 s"):
        show(locks, "pressure", [*down, *up], begun_s=100.0)


def test_yield_is_told_by_the_part_model(spool: Plan, watch: Watch) -> None:
    """By hand, closed ends (Lame, von Mises at the bore; Timoshenko, Strength of Materials II, from memory).

    sqrt(3) p b²/(b² - a²) = yield and e = p a²/(b² - a²) (2 - nu)/E; transverse sensitivity adds some 0.2 %.
    """
    by_hand = 235e6 / sqrt(3) * (1 - 2 * 4.52 / 219.1) ** 2 * (2 - 0.29) / 206e9
    assert yield_strain(spool.rig, "hoop") == pytest.approx(by_hand, rel=3e-3)
    locks = watch("{channel: hoop, above share of yield: 50 %}")
    half = 0.5 * by_hand
    show(locks, "hoop", [0.0, 0.98 * half / 4 * 2.08])
    for sign in (1, -1):
        words = r"limit 518.\d µε \(50 % of 1037 µε at first yield by part model 'cylinder', nominal values\)"
        with pytest.raises(Tripped, match=words):
            show(locks, "hoop", [sign * 1.03 * half / 4 * 2.08])
    show(locks, "hoop", [1e-3], under_load=False)  # a shunt is no strain of the part


def test_the_first_of_several_wins(spool: Plan) -> None:
    names = [lock.name for lock in locks_of(spool.rig)]
    assert names[:2] == ["overpressure", "hoop strain"]
    with pytest.raises(Tripped, match="'overpressure'"):
        Interlocks(spool.rig).check({"pressure": np.array([45 * BAR]), "hoop": np.array([0.5])}, True)


def test_in_a_test_only_one_is_replaced_and_only_while_it_lasts(spool: Plan) -> None:
    locks = Interlocks(spool.rig)
    own: Lock = locks.locks[0]
    from rigproof.interlocks import AtRest

    test, how = own.for_test({"pressure": AtRest(-1e2, 1e2, 0.0, 0.4 * BAR)})
    assert how == "by load"
    reading = {"pressure": np.array([0.3 * BAR])}
    with pytest.raises(Tripped, match=r"limit 0.2 bar \(set for the test\)"), locks.replaced(test):
        locks.check(reading, under_load=True)
    locks.check(reading, under_load=True)
    assert locks.locks[0] is own
