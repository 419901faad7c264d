"""The source of a table: it arrives where the record does, and never says what the record does not."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from rigproof.errors import InstrumentError
from rigproof_replay.source import ReplaySource

Make = Callable[..., ReplaySource]

# Up by 1 bar a second to 20 bar, held for 20 s, down again in 20 s, at rest for 10 s.
PROFILE = "t,p\n" + "".join(f"{t},{min(t, 20, max(60 - t, 0))}\n" for t in range(71))


def arrives(driver: ReplaySource, bar: float) -> float:
    """When the source says that it is there."""
    driver.rise_to(bar * 1e5, 1e5)
    clock = driver.connection.clock
    while not driver.settled():
        clock.wait(1.0)
    return clock.now()


def test_goes_where_the_record_goes_when_it_does(source: Make) -> None:
    driver = source(PROFILE)
    assert arrives(driver, 10) == 10.0
    assert arrives(driver, 20) == 20.0
    assert arrives(driver, 10) == 50.0  # on the way down
    assert arrives(driver, 0) == 60.0


def test_within_says_what_is_near_enough(source: Make) -> None:
    driver = source(PROFILE, **{"within": "1 bar"})
    assert arrives(driver, 20.5) == 20.0
    assert arrives(driver, 0.0) == 59.0


@pytest.mark.parametrize(
    ("bar", "after", "said"),
    [
        (25, 0.0, "never reaches 25 bar after 0 s: its load comes no nearer than 20 bar; correct `to`"),
        (20, 55.0, "never reaches 20 bar after 55 s: its load comes no nearer than 5 bar"),
        (-1, 0.0, "never reaches -1 bar after 0 s: its load comes no nearer than 0 bar"),
    ],
)
def test_says_at_once_that_the_record_never_goes_there(source: Make, bar: float, after: float, said: str) -> None:
    driver = source(PROFILE)
    driver.connection.clock.wait(after)
    with pytest.raises(InstrumentError) as caught:
        driver.rise_to(bar * 1e5, 1e5)
    assert said in str(caught.value)


def test_compression_arrives_from_above(source: Make) -> None:
    down = "t,p\n" + "".join(f"{t},{-t}\n" for t in range(11))
    driver = source(down, **{"load": {"column": "p", "unit": "kN"}, "within": "0.5 kN", "safe below": "1 kN"})
    driver.rise_to(-5e3, 1e3)
    assert not driver.settled()
    driver.connection.clock.wait(5.0)
    assert driver.settled()


def test_is_safe_only_where_the_record_is_and_ends_so(source: Make) -> None:
    driver = source(PROFILE)
    driver.go_safe()
    assert driver.is_safe()
    driver.connection.clock.wait(30.0)
    driver.go_safe()
    assert not driver.is_safe()
    driver.connection.clock.wait(35.0)
    assert driver.is_safe()
    left_on = source("\n".join(PROFILE.splitlines()[:30]))
    assert not left_on.is_safe(), "no load at the start, and all of it at the end of the record"


def test_a_missing_load_never_arrives_and_is_not_safe(source: Make) -> None:
    driver = source("t,p\n0,\n1,\n")
    assert not driver.is_safe()
    with pytest.raises(InstrumentError, match="never reaches 1 bar"):
        driver.rise_to(1e5, 1e5)


def test_units_must_be_of_one_kind(source: Make) -> None:
    assert source(PROFILE).problems() == []
    wrong = source(PROFILE, **{"within": "1 kN"}).problems()
    assert [keys for keys, *_ in wrong] == [("load", "unit"), ("safe below",)]
    assert "'bar' is no unit of force" in wrong[0][1]
    assert "is a gauge pressure, and `within` is a force" in wrong[1][1]
