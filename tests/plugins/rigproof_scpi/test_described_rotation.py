"""A source that turns the part by its map: the angle is sent in degrees and read back until the part stands there."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import radians
from typing import Any

import pytest
from pydantic import ValidationError

from rigproof.errors import InstrumentError
from rigproof_scpi.command_map import SourceMap
from rigproof_scpi.described_source import DescribedSource

from .conftest import StillClock
from .test_described_source import MAP
from .test_sockets import connection, served

ROTATES = {"send": "TURN {value}", "ask": "ANGLE", "reply": "{value} DEG"}


class Table:
    """It comes nearer by 50° with each look, or says what a test wants."""

    def __init__(self, says: str | None = None) -> None:
        self.stands, self.target, self.says = 0.0, 0.0, says
        self.heard: list[str] = []

    def answer(self, line: bytes) -> bytes | None:
        message = line.decode().strip()
        self.heard.append(message)
        if message.startswith("TURN "):
            self.target = float(message.removeprefix("TURN "))
        if message == "ANGLE":
            self.stands = min(self.target, self.stands + 50.0)
            return f"{self.stands if self.says is None else self.says} DEG\n".encode()
        return {"FAULT": b"NONE\n", "MODE": b"VENTED\n"}.get(message, b"")


def opened(port: int, clock: StillClock, **changes: Any) -> DescribedSource:
    settings = SourceMap.model_validate({**MAP, "rotate": ROTATES, **changes})
    made = DescribedSource(replace(connection(port), clock=clock), settings)
    made.open()
    return made


@pytest.mark.network
def test_it_waits_until_the_part_stands_there() -> None:
    table, clock = Table(), StillClock()
    with served(table.answer) as port:
        driver = opened(port, clock)
        table.heard.clear()
        driver.rotate_to(radians(120))
        driver.close()
    assert [message for message in table.heard if message != "FAULT"] == ["TURN 120.000", "ANGLE", "ANGLE", "ANGLE"]
    assert clock.waits[-2:] == [1.0, 1.0]


@pytest.mark.network
@pytest.mark.parametrize("says", ["480", "-240", "119.6"])
def test_a_whole_turn_more_or_less_is_the_same_position(says: str) -> None:
    table, clock = Table(says), StillClock()
    with served(table.answer) as port:
        driver = opened(port, clock)
        driver.rotate_to(radians(120))
        driver.close()
    assert 1.0 not in clock.waits


@pytest.mark.network
@pytest.mark.parametrize("says", ["119", "9.91E37", "9.9E37"])
def test_one_that_does_not_get_there_is_a_failure(says: str) -> None:
    table, clock = Table(says), StillClock()
    with served(table.answer) as port:
        driver = opened(port, clock)
        with pytest.raises(InstrumentError, match="did not rotate the part to 120° within 120 s"):
            driver.rotate_to(radians(120))
        driver.close()


def test_without_rotate_it_does_not_turn() -> None:
    assert DescribedSource.rotates(SourceMap.model_validate({**MAP, "rotate": ROTATES}))
    assert not DescribedSource.rotates(SourceMap.model_validate(MAP))
    driver = DescribedSource(connection(1), SourceMap.model_validate(MAP))
    with pytest.raises(InstrumentError, match="its map has no `rotate`"):
        driver.rotate_to(0.0)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda words: {**words, "send": "TURN"}, "no message of `rotate` has {value}"),
        (lambda words: {**words, "reply": "DONE"}, "has no {value}"),
        (lambda words: {"send": words["send"]}, "Field required"),
    ],
)
def test_a_map_that_cannot_turn_it_is_refused(change: Callable[[dict[str, str]], dict[str, str]], message: str) -> None:
    with pytest.raises(ValidationError, match=message):
        SourceMap.model_validate({**MAP, "rotate": change(ROTATES)})
