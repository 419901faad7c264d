"""What a busy machine does to the kit's tests: a stall fails none of them, and hides no mistake.

A stalled machine is made by a C function that holds the interpreter's lock: no other thread runs meanwhile, the kit's
measure of stalls as little as the driver, whose timeout is over when it runs again.
"""

from __future__ import annotations

import socket
import time

import pytest

from rigproof_pytest import peer, steady  # now: imported first inside a pytester, it would be there twice
from rigproof_pytest.watch import Stalls

pytest_plugins = ["pytester"]

HEAD = """
import time
import sound

class Slow(sound.Bench):
    def answer(self, message):
        if message == "P1":
            over = time.monotonic() + next(LASTS, 0.0)
            while time.monotonic() < over:
                STALL()
        return super().answer(message)

class TestMeter(sound.MeterContract):
    driver = sound.Meter
    def instrument(self):
        return Slow()
"""
HOLDS_ALL = "STALL = lambda: sum(range(5_000_000))\n"  # about 0.1 s
HOLDS_ITSELF = "STALL = lambda: time.sleep(0.1)\n"
ONCE, FOUR_TIMES = "LASTS = iter([0.6])\n", "LASTS = iter([2.0] * 4)\n"  # s; the longest timeout is 1.2 s


def tried(pytester: pytest.Pytester, *texts: str) -> pytest.RunResult:
    pytester.makepyfile(test_it=HEAD + "".join(texts))
    return pytester.runpytest_inprocess("-q", "-k", "test_shape")


def test_a_stall_of_the_machine_is_not_held_against_the_driver(with_sound: pytest.Pytester) -> None:
    assert tried(with_sound, HOLDS_ALL, ONCE).parseoutcomes()["passed"] == 1


def test_what_fails_however_often_it_is_tried_fails(with_sound: pytest.Pytester) -> None:
    result = tried(with_sound, HOLDS_ALL, FOUR_TIMES)
    assert result.parseoutcomes()["failed"] == 1
    result.stdout.fnmatch_lines(["*raised InstrumentError while the instrument was well*"])


def test_a_reply_that_was_sent_and_came_too_late_is_waited_for_once(
    with_sound: pytest.Pytester, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The thread that answers got its turn too late, and no other thread did: no stall is seen."""
    monkeypatch.setattr(steady, "_STALL_S", float("inf"))
    receive, lasts = peer._receive, iter([0.4])

    def late(line: socket.socket) -> bytes:
        data = receive(line)
        time.sleep(next(lasts, 0.0) if data.startswith(b"P1") else 0.0)
        return data

    monkeypatch.setattr(peer, "_receive", late)
    assert tried(with_sound, HOLDS_ITSELF, "LASTS = iter([])\n").parseoutcomes()["passed"] == 1
    assert next(lasts, None) is None


def test_an_instrument_that_is_slow_by_itself_is_no_stall(
    with_sound: pytest.Pytester, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A quiet machine, whatever the machine of this test: the first failure stands."""
    monkeypatch.setattr(steady, "_STALL_S", float("inf"))
    assert tried(with_sound, HOLDS_ITSELF, ONCE).parseoutcomes()["failed"] == 1


def test_a_stall_is_seen() -> None:
    with Stalls() as stalls:
        time.sleep(0.05)
        sum(range(10_000_000))
    assert stalls.worst_s > 0.02


def test_a_stall_is_seen_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Though the thread that watches has not run since."""
    monkeypatch.setattr(Stalls, "_watch", lambda _: None)
    with Stalls() as stalls:
        time.sleep(0.05)
        assert stalls.worst_s > 0.02


MISTAKES = {
    "took": ("settimeout(4.0)", r"*took * s where the reply to * never comes*"),
    "hangs": ("settimeout(None)", r"*had not come back after * s*"),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_timeout_that_is_ignored_is_found_on_a_busy_machine(
    with_sound: pytest.Pytester, monkeypatch: pytest.MonkeyPatch, mistake: str
) -> None:
    """However little is called a stall: here every thread is late enough."""
    monkeypatch.setattr(steady, "_STALL_S", -1.0)
    monkeypatch.setattr(steady, "_TRIES", 2)
    call, told = MISTAKES[mistake]
    with_sound.makepyfile(
        test_it="import sound\nclass Mine(sound.Meter):\n"
        f"    def _connect(self):\n        super()._connect()\n        self._line.{call}\n"
        "class TestMine(sound.MeterContract):\n    driver = Mine\n"
    )
    result = with_sound.runpytest_inprocess("-q", "-k", "test_timeout")
    assert result.parseoutcomes()["failed"] == 1
    result.stdout.fnmatch_lines([told])
