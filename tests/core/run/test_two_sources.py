"""Making several sources safe: one that fails, however, does not cost the next its command and its confirmation."""

from __future__ import annotations

import json
import linecache
import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from rigproof.clock import WallClock
from rigproof.errors import InstrumentError
from rigproof.instruments import Connection, Driver, FloatArray, Identity, Loads, Reads, Settings
from rigproof.journal import JournalWriter
from rigproof.run import safe_end
from rigproof.run.plan import Plan
from rigproof.run.progress import Silent
from rigproof.run.safe_end import make_safe


class Pump(Driver, Loads):
    """A source that raises what it is told to, from the method it is told to."""

    kind = "pump"

    def __init__(self, fails: str = "", error: BaseException | None = None) -> None:
        super().__init__(Connection("pump", "", "", 1.0, WallClock()), Settings())
        self.fails, self.error, self.commands = fails, error, 0

    def _turn(self, method: str) -> None:
        if self.error is not None and method == self.fails:
            raise self.error.with_traceback(None)

    def open(self) -> Identity:
        self._turn("open")
        return Identity("own make", "pump", "1", "")

    def close(self) -> None:
        self._turn("close")

    def errors(self) -> list[str]:
        return []

    def rise_to(self, target: float, rate_per_s: float) -> None:
        raise AssertionError("nothing is loaded here")

    def settled(self) -> bool:
        return True

    def isolate(self, isolated: bool) -> None:
        raise AssertionError("nothing is loaded here")

    def go_safe(self) -> None:
        self._turn("go_safe")
        self.commands += 1

    def is_safe(self) -> bool:
        self._turn("is_safe")
        return True


class Transmitter(Driver, Reads):
    """Reads no load, or raises."""

    kind = "transmitter"

    def __init__(self, error: BaseException | None = None) -> None:
        super().__init__(Connection("transmitter", "", "", 1.0, WallClock()), Settings())
        self.error = error

    def open(self) -> Identity:
        return Identity("own make", "transmitter", "1", "")

    def close(self) -> None:
        pass

    def errors(self) -> list[str]:
        return []

    def read(self, inputs: Sequence[int], count: int, interval_s: float) -> FloatArray:
        if self.error is not None:
            raise self.error.with_traceback(None)
        return np.zeros((count, len(inputs)))


def two_sources(spool: Plan, first: Driver, transmitter: Driver, tmp_path: Path) -> tuple[bool, Pump, list[Any]]:
    """Make two sources safe, the first of which is `first`: (all confirmed, the second source, entries)."""
    pump = spool.rig.sources["pump"]
    sources = {name: pump.model_copy(update={"name": name, "instrument": name}) for name in ("first", "second")}
    second = Pump()
    with JournalWriter(tmp_path / "journal.jsonl", WallClock()) as record:
        drivers = {"first": first, "second": second, "transmitter": transmitter}
        left = make_safe(replace(spool.rig, sources=sources), drivers, WallClock(), record, Silent(), "safe")
    lines = (tmp_path / "journal.jsonl").read_text("utf-8").splitlines()
    return left.confirmed, second, [json.loads(line) for line in lines]


@pytest.fixture
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("CONFIRM_WITHIN_S", "MISSING_FOR_S", "LOOK_EVERY_S"):
        monkeypatch.setattr(safe_end, name, 0.01)


@pytest.mark.usefixtures("impatient")
@pytest.mark.parametrize("fails", ["go_safe", "is_safe"])
@pytest.mark.parametrize("error", [EOFError(), InstrumentError("pump", "no reply"), TypeError("x"), SystemExit(1)])
def test_a_source_that_fails_does_not_cost_the_next_its_turn(
    spool: Plan, tmp_path: Path, fails: str, error: BaseException
) -> None:
    confirmed, second, entries = two_sources(spool, Pump(fails, error), Transmitter(), tmp_path)
    assert not confirmed
    assert second.commands == 1
    assert [(entry["source"], entry["confirmed"]) for entry in entries] == [("first", False), ("second", True)]


class Unspeakable(Exception):
    """As some library raises it: it cannot be shown."""

    def __str__(self) -> str:
        raise KeyError("no text")


@pytest.mark.usefixtures("impatient")
@pytest.mark.parametrize("fails", ["go_safe", "is_safe"])
def test_an_error_that_cannot_be_shown_does_not_either(spool: Plan, tmp_path: Path, fails: str) -> None:
    confirmed, second, entries = two_sources(spool, Pump(fails, Unspeakable()), Transmitter(), tmp_path)
    assert not confirmed
    assert second.commands == 1
    assert "Unspeakable" in entries[0]["text"]


@pytest.mark.usefixtures("impatient")
def test_no_file_is_read_between_two_commands(spool: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk that hangs must not keep the second source from its command."""
    read: list[str] = []

    def note(name: str, *_: object) -> list[str]:
        read.append(name)
        return []

    for reads in ("getline", "getlines", "updatecache", "checkcache"):
        monkeypatch.setattr(linecache, reads, note)
    _, second, entries = two_sources(spool, Pump("go_safe", TypeError("x")), Transmitter(), tmp_path)
    assert second.commands == 1
    assert re.fullmatch(r"TypeError: x \(test_two_sources\.py:\d+\); pressure 0 bar, .*", entries[0]["text"])
    assert not read


@pytest.mark.usefixtures("impatient")
def test_a_source_whose_driver_cannot_be_closed_still_gets_its_second_try(spool: Plan, tmp_path: Path) -> None:
    class Stiff(Pump):
        def go_safe(self) -> None:
            self.commands += 1
            if self.commands == 1:
                raise EOFError

    first = Stiff("close", OSError(9, "Bad file descriptor"))
    confirmed, _, _ = two_sources(spool, first, Transmitter(), tmp_path)
    assert first.commands == 2
    assert confirmed


def test_a_source_that_cannot_be_asked_at_once_is_asked_again(
    spool: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Busy(Pump):
        asked = 0

        def is_safe(self) -> bool:
            self.asked += 1
            if self.asked < 3:
                raise EOFError
            return True

    monkeypatch.setattr(safe_end, "LOOK_EVERY_S", 0.001)
    confirmed, _, _ = two_sources(spool, Busy(), Transmitter(), tmp_path)
    assert confirmed


@pytest.mark.usefixtures("impatient")
@pytest.mark.parametrize("error", [EOFError(), IndexError(), SystemExit(1)])
def test_without_a_reading_of_the_load_no_source_is_confirmed(
    spool: Plan, tmp_path: Path, error: BaseException
) -> None:
    confirmed, second, entries = two_sources(spool, Pump(), Transmitter(error), tmp_path)
    assert not confirmed
    assert second.commands == 1
    assert [(entry["source"], entry["confirmed"]) for entry in entries] == [("first", False), ("second", False)]
    why = f"pressure gives no reading ({type(error).__name__}"
    assert all(why in entry["text"] and "test_two_sources.py:" in entry["text"] for entry in entries)
