"""A driver that does not come back under load: the run breaks it off, vents, and says whose fault it was."""

from __future__ import annotations

import os
import signal
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from rigproof.errors import InstrumentError
from rigproof.instruments import Connection, Driver, FloatArray, Identity, Reads, Settings
from rigproof.journal import read_journal
from rigproof.run import deadline
from rigproof.run.plan import Plan
from rigproof.run.progress import Silent
from rigproof.verdict.record import Verdict
from rigproof_scpi.pressure_source import PressureSource
from rigproof_scpi.pressure_transmitter import PressureTransmitter
from rigproof_twin.clock import VirtualClock

LOAD = "  - cycles: {source: pump, to: 10 bar, times: 2, levels: 2, exercise: 0, dwell: 2 s, rest: 2 s}\n"


class Stuck(Driver, Reads):
    """Asks for ever, catches all that would stop it, and once even what no driver should."""

    swallowed = 0

    kind = "stuck"

    def open(self) -> Identity:
        return Identity("", "", "", "")

    def close(self) -> None:
        """Nothing."""

    def errors(self) -> list[str]:
        while True:
            try:
                time.sleep(0.01)
            except Exception:
                continue
            except BaseException:
                self.swallowed += 1
                if self.swallowed > 1:
                    raise

    def read(self, inputs: list[int], count: int, interval_s: float) -> FloatArray:  # type: ignore[override]
        threading.Event().wait()
        raise AssertionError


@pytest.fixture
def stuck(monkeypatch: pytest.MonkeyPatch) -> Driver:
    monkeypatch.setattr(deadline, "_allowed_s", lambda *_: 0.1)
    monkeypatch.setattr(deadline, "AGAIN_S", 0.1)
    deadline.take_time()
    return deadline.under_a_deadline(Stuck(Connection("meter", "", "", 0.1, VirtualClock()), Settings()))


@pytest.mark.parametrize(("call", "arguments"), [("errors", ()), ("read", ([1], 1, 0.0))])
def test_an_endless_loop_and_an_endless_wait_are_broken_off(
    stuck: Driver, call: str, arguments: tuple[object, ...]
) -> None:
    with pytest.raises(InstrumentError, match=rf"meter: did not come back from `{call}` in 0 s and was broken off"):
        getattr(stuck, call)(*arguments)
    assert signal.getitimer(signal.ITIMER_REAL) == (0.0, 0.0)
    assert signal.getsignal(signal.SIGALRM) == signal.SIG_DFL


def test_a_slow_measurement_has_its_time() -> None:
    """50 readings of two inputs, each of which may take 2 s of a timeout of 5 s."""
    assert deadline._allowed_s("read", 5.0, ([1, 2], 50, 0.02)) > 50 * 2 * 2.0
    assert deadline._allowed_s("insulation_ohm", 5.0, (1, 50.0, 60.0)) > 2 * 60.0


def test_it_says_how_long_it_took_and_not_how_long_it_might_have(
    stuck: Driver, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A stop shortens a call under way."""
    monkeypatch.setattr(deadline, "_allowed_s", lambda *_: 600.0)
    monkeypatch.setattr(deadline, "_hurried_s", lambda _: 0.1)
    stop = threading.Timer(0.1, os.kill, (os.getpid(), signal.SIGUSR1))
    before = signal.signal(signal.SIGUSR1, lambda *_: deadline.hurry())
    stop.start()
    try:
        with pytest.raises(InstrumentError, match="`errors` in 0 s"):
            stuck.errors()
    finally:
        signal.signal(signal.SIGUSR1, before)
        deadline.take_time()


@pytest.mark.parametrize("again", [1, 3], ids=["in a reading", "and in the safe end"])
def test_a_stop_breaks_off_a_driver_that_waits_for_ever(
    planned: Callable[..., Plan],
    accept: Callable[..., Verdict],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    again: int,
) -> None:
    """Under load the transmitter's driver hangs; Ctrl-C comes, and the pump is vented."""
    monkeypatch.setattr(deadline, "_hurried_s", lambda _: 0.2)
    read, hangs = PressureTransmitter.read, [again]

    def hang(self: PressureTransmitter, *arguments: object) -> FloatArray:
        if pressed(tmp_path) and hangs[0]:
            hangs[0] -= 1
            if hangs[0] == again - 1:
                os.kill(os.getpid(), signal.SIGINT)
            while True:
                time.sleep(0.01)
        return read(self, *arguments)  # type: ignore[arg-type]

    monkeypatch.setattr(PressureTransmitter, "read", hang)
    verdict = accept(planned(LOAD), tmp_path, progress=Silent())
    assert verdict.verdict == "void"
    assert "transmitter: did not come back from `read`" in verdict.end
    assert [end.confirmed for end in verdict.safe_end] == [True]


def pressed(folder: Path) -> bool:
    """Whether the source has been sent somewhere."""
    entries = read_journal(folder / "journal.jsonl").entries
    return any(entry.kind == "command" and entry.data.get("target") for entry in entries)


def test_what_an_instrument_has_against_a_step_is_heard_though_its_driver_never_asks(
    planned: Callable[..., Plan], accept: Callable[..., Verdict], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[str] = []

    def errors(self: PressureTransmitter) -> list[str]:
        told.append("")
        return ["sensor supply fault"] if len(told) > 1 else []  # not at the start

    monkeypatch.setattr(PressureTransmitter, "errors", errors)
    verdict = accept(planned(LOAD), tmp_path)
    assert verdict.verdict == "void"
    assert "transmitter: reports sensor supply fault; what it did in this step is in doubt" in verdict.end


def test_a_load_that_runs_ahead_of_its_rate_ends_the_run(
    planned: Callable[..., Plan], accept: Callable[..., Verdict], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Fifteen times as fast."""
    rise = PressureSource.rise_to
    monkeypatch.setattr(PressureSource, "rise_to", lambda self, to, rate: rise(self, to, 15 * rate))
    verdict = accept(planned(LOAD), tmp_path)
    assert verdict.verdict == "void"
    assert "pump: pressure rose from " in verdict.end
    assert verdict.end.count(" at 0.5 bar/s; see how the source takes its rate") == 1
    assert [end.confirmed for end in verdict.safe_end] == [True]


def test_what_a_leak_took_may_come_back_at_once(
    planned: Callable[..., Plan], accept: Callable[..., Verdict], tmp_path: Path
) -> None:
    """After the hold the valve is opened and the part takes the pressure of the source, before it is lowered."""
    proof = "  - proof: {source: pump, to: 20 bar, stages: [100 %], dwell: 2 s, hold: 2 min, rest: 2 s}\n"
    verdict = accept(planned(proof), tmp_path, flaws=["slow-leak=2 bar/min"])
    assert verdict.verdict == "reject", verdict.end
    assert any("decay" in why for why in verdict.why)
