"""What interlocks make of one reading and of many."""

from __future__ import annotations

from dataclasses import replace
from math import inf, nan

import numpy as np
import pytest

from rigproof.errors import Tripped
from rigproof.run.interlocks import Interlocks
from rigproof.run.plan import Plan


def zeroed(spool: Plan) -> Interlocks:
    locks = Interlocks(spool.rig)
    locks.zero("hoop", 1e-5)
    return locks


@pytest.mark.parametrize("channel", ["hoop", "wall temperature", "pressure"])
def test_a_reading_alone_is_worth_the_same_as_among_others(spool: Plan, channel: str) -> None:
    locks = zeroed(spool)
    raw = {"hoop": [1e-4, -3e-4, nan], "wall temperature": [107.8, 90.0, nan], "pressure": [1e5, 35e5, nan]}[channel]
    together = locks.quantity(channel, np.array(raw))
    alone = [locks.quantity(channel, np.array([reading])) for reading in raw]
    assert together is not None
    np.testing.assert_array_equal(np.concatenate([one for one in alone if one is not None]), together)


def test_a_bridge_waits_for_its_zero_and_nothing_else_does(spool: Plan) -> None:
    locks = Interlocks(spool.rig)
    assert locks.quantity("hoop", np.array([1.0])) is None
    locks.check({"hoop": np.array([0.1])}, under_load=True)
    assert locks.quantity("wall temperature", np.array([100.0])) == pytest.approx([0.0], abs=1e-9)


@pytest.mark.parametrize("others", [0, 3])
@pytest.mark.parametrize(
    ("channel", "reading", "words"),
    [
        ("pressure", 38.1e5, "'overpressure': pressure at 38.1 bar, limit 38 bar"),
        ("hoop", 4.5e-4, "'hoop strain': hoop at .* µε, limit 700 µε"),
        ("hoop", nan, "hoop gives no reading under load"),
        ("hoop", 0.5, "hoop gives no reading under load"),  # the signal corner at the excitation corner: no strain
        ("pressure", inf, "pressure gives no reading under load"),
    ],
)
def test_one_bad_reading_trips_alone_and_among_good_ones(
    spool: Plan, channel: str, reading: float, words: str, others: int
) -> None:
    raw = np.array([1e-5] * others + [reading])
    with np.errstate(all="ignore"), pytest.raises(Tripped, match=words):
        zeroed(spool).check({channel: raw}, under_load=True)


def test_without_load_a_missing_reading_is_no_reason_to_trip(spool: Plan) -> None:
    zeroed(spool).check({"hoop": np.array([nan]), "pressure": np.array([inf])}, under_load=False)


def test_the_limit_of_a_source_is_watched_even_where_nobody_wrote_an_interlock(spool: Plan) -> None:
    locks = Interlocks(replace(spool.rig, interlocks={}))
    assert locks.channels == ("pressure",)
    locks.check({"pressure": np.array([39.9e5])}, under_load=True)
    with pytest.raises(Tripped, match=r"'limit of pump': pressure at 40.2 bar, limit 40 bar"):
        locks.check({"pressure": np.array([40.2e5])}, under_load=True)
