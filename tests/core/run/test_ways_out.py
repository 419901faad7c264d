"""Every way out of a run: whoever fails, and however, the source gets its safe command and the journal says so."""

from __future__ import annotations

import errno
import gc
import json
import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from rigproof.errors import ExitCode, InstrumentError, JournalError
from rigproof.instruments import Driver, FloatArray, Identity
from rigproof.run.plan import Plan
from rigproof.run.progress import Reading, Silent
from rigproof.verdict.record import Verdict
from rigproof_scpi.pressure_source import PressureSource
from rigproof_scpi.pressure_transmitter import PressureTransmitter

Acceptance = Callable[..., Verdict]

CYCLES = """\
  - cycles: {source: pump, to: 20 bar, times: 2, levels: 2, exercise: 0, dwell: 1 s, rest: 1 s, readings: 2}
"""
UNDER_PRESSURE = "cycle 1 of 2: level 2 of 2"  # said at 10 bar, on the way to 20 bar


@pytest.fixture(scope="module")
def short(planned: Callable[..., Plan]) -> Plan:
    return planned(CYCLES)


class At(Silent):
    """Does something once the run is under pressure; keeps the alarms."""

    def __init__(self, action: Callable[[], None] | None) -> None:
        self.action, self.alarms = action, list[str]()

    def say(self, text: str) -> None:
        if UNDER_PRESSURE in text and self.action:
            action, self.action = self.action, None
            action()

    def alarm(self, text: str) -> None:
        self.alarms.append(text)


def raising(error: BaseException) -> Callable[[], None]:
    def fail() -> None:
        raise error.with_traceback(None)  # one object serves several tests

    return fail


def journal(folder: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in (folder / "journal.jsonl").read_text("utf-8").splitlines()]


def assert_left_safe(folder: Path) -> None:
    """It was under pressure, then the source was made safe, the part's own channel agrees, and the end stands."""
    entries = journal(folder)
    pressures = [max(e["values"]["pressure"]) for e in entries if "pressure" in e.get("values", {})]
    assert max(pressures) > 9e5
    kinds = [e["kind"] for e in entries]
    assert kinds[kinds.index("safe") :] in (["safe", "end"], ["safe", "defect", "end"])  # no disk before the command
    safe, end = entries[kinds.index("safe")], entries[-1]
    assert safe["confirmed"], safe["text"]
    assert abs(safe["load"]) <= 0.5e5
    assert ("defect" in kinds) == (end["how"] == "defect")


# -- the listener -------------------------------------------------------------------------------------------------


class Gone(Silent):
    """A listener that has gone away: from the moment the part is under pressure, it raises whatever it is told."""

    def __init__(self, error: BaseException, looks: bool = False) -> None:
        self.error, self.looks, self.gone = error, looks, False

    def _hear(self) -> None:
        if self.gone:
            raise self.error.with_traceback(None)

    def say(self, text: str) -> None:
        self.gone |= UNDER_PRESSURE in text and not self.looks
        self._hear()

    def reading(self, text: str, values: Mapping[str, Reading]) -> None:
        self.gone |= UNDER_PRESSURE in text
        self._hear()

    def alarm(self, text: str) -> None:
        self._hear()


@pytest.mark.parametrize("looks", [False, True])
@pytest.mark.parametrize("error", [BrokenPipeError(32, "Broken pipe"), UnicodeEncodeError("ascii", "µ", 0, 1, "no")])
def test_a_listener_that_has_gone_away(
    accept: Acceptance, short: Plan, tmp_path: Path, error: Exception, looks: bool
) -> None:
    verdict = accept(short, tmp_path, progress=Gone(error, looks))
    assert verdict.verdict == "void"
    assert type(error).__name__ in verdict.end
    assert_left_safe(tmp_path)


def test_a_listener_that_wants_to_leave_python(accept: Acceptance, short: Plan, tmp_path: Path) -> None:
    """`sys.exit` in a listener is an exception like any other, also while the rig is made safe."""
    verdict = accept(short, tmp_path, progress=Gone(SystemExit(3)))
    assert verdict.verdict == "void"
    assert_left_safe(tmp_path)


@pytest.mark.parametrize(
    "error", [SystemExit(3), MemoryError(), RecursionError(), OSError(5, "x"), EOFError(), ZeroDivisionError()]
)
def test_an_exception_in_a_step_voids_the_run(
    accept: Acceptance, short: Plan, tmp_path: Path, error: BaseException
) -> None:
    progress = At(raising(error))
    verdict = accept(short, tmp_path, progress=progress)
    assert verdict.verdict == "void"
    assert verdict.end.startswith(f"defect: {type(error).__name__}")
    assert_left_safe(tmp_path)
    assert any("defect" in alarm for alarm in progress.alarms)
    assert next(e["text"] for e in journal(tmp_path) if e["kind"] == "defect").startswith("Traceback")


@pytest.mark.parametrize("error", [KeyboardInterrupt(), GeneratorExit()])
def test_what_cannot_be_held_back_goes_on_its_way_once_the_rig_is_safe(
    accept: Acceptance, short: Plan, tmp_path: Path, error: BaseException
) -> None:
    with pytest.raises(type(error)):
        accept(short, tmp_path, progress=At(raising(error)))
    assert_left_safe(tmp_path)
    assert journal(tmp_path)[-1]["how"] == "broken off"


# -- signals ------------------------------------------------------------------------------------------------------


@pytest.fixture
def deaf() -> Iterator[Callable[..., None]]:
    """What a signal meets outside a run: nothing, so that one the run does not catch fails a test, not all of them."""

    def ignore(*_: object) -> None:
        pass

    before = {number: signal.signal(number, ignore) for number in (signal.SIGHUP, signal.SIGQUIT)}
    yield ignore
    for number, handler in before.items():
        signal.signal(number, handler)


@pytest.mark.parametrize("number", [signal.SIGHUP, signal.SIGQUIT])
def test_a_lost_terminal_stops_the_run(
    accept: Acceptance, short: Plan, tmp_path: Path, number: signal.Signals, deaf: Callable[..., None]
) -> None:
    verdict = accept(short, tmp_path, progress=At(lambda: os.kill(os.getpid(), number)))
    assert verdict.verdict == "void"
    assert verdict.end.startswith("stopped: ")
    assert number.name in verdict.end
    assert_left_safe(tmp_path)
    assert signal.getsignal(number) is deaf


# -- drivers ------------------------------------------------------------------------------------------------------


def failing(times: float, error: BaseException, original: Callable[..., Any], calls: list[str]) -> Callable[..., Any]:
    """A method of a driver that raises the first `times` times it is called."""

    def method(self: Driver, *args: Any) -> Any:
        calls.append(self.kind)
        if len(calls) <= times:
            raise error.with_traceback(None)
        return original(self, *args)

    return method


@pytest.fixture
def broken(monkeypatch: pytest.MonkeyPatch) -> Callable[..., Callable[[], list[str]]]:
    """A function: (driver class, method, error, times) -> what breaks it so from now on; gives the list of calls."""

    def prepare(driver: type[Driver], method: str, error: BaseException, times: float) -> Callable[[], list[str]]:
        calls: list[str] = []

        def now() -> list[str]:
            monkeypatch.setattr(driver, method, failing(times, error, getattr(driver, method), calls))
            return calls

        return now

    return prepare


class Lost(InstrumentError):
    """A plugin's own kind of lost instrument."""


@pytest.mark.parametrize("error", [EOFError(), Lost("pump", "gone"), OSError(5, "x"), SystemExit(1)])
def test_a_source_that_fails_once_is_asked_again(
    accept: Acceptance, short: Plan, tmp_path: Path, broken: Callable[..., Any], error: BaseException
) -> None:
    """As a link that has closed: the next try is over a fresh one."""
    now = broken(PressureSource, "go_safe", error, 1)
    calls: list[list[str]] = []

    def stop() -> None:
        calls.append(now())
        os.kill(os.getpid(), signal.SIGINT)

    verdict = accept(short, tmp_path, progress=At(stop))
    assert verdict.verdict == "void"
    assert verdict.end.startswith("stopped: ")
    assert len(calls[0]) == 2
    assert_left_safe(tmp_path)


@pytest.mark.parametrize("error", [EOFError(), Lost("pump", "gone"), SystemExit(1)])
def test_a_source_that_never_answers_is_an_alarm_and_the_end_still_stands(
    accept: Acceptance, short: Plan, tmp_path: Path, broken: Callable[..., Any], error: BaseException
) -> None:
    now = broken(PressureSource, "go_safe", error, float("inf"))

    def stop() -> None:
        now()
        os.kill(os.getpid(), signal.SIGINT)

    progress = At(stop)
    verdict = accept(short, tmp_path, progress=progress)
    assert verdict.verdict == "void"
    (end,) = verdict.safe_end
    assert not end.confirmed
    assert any("SAFE STATE NOT CONFIRMED" in alarm for alarm in progress.alarms)
    assert any("not confirmed safe" in why for why in verdict.why)
    assert journal(tmp_path)[-1]["kind"] == "end"


@pytest.mark.parametrize(
    ("driver", "method", "error", "times", "how"),
    [
        (PressureTransmitter, "read", EOFError(), 3, "defect: EOFError"),
        (PressureTransmitter, "read", Lost("transmitter", "gone"), 3, "instrument lost: transmitter: gone"),
        (PressureSource, "settled", EOFError(), 3, "defect: EOFError"),
        (PressureSource, "is_safe", EOFError(), 1, "stopped: "),
    ],
)
def test_a_driver_that_fails_under_load(
    accept: Acceptance,
    short: Plan,
    tmp_path: Path,
    broken: Callable[..., Any],
    driver: type[Driver],
    method: str,
    error: Exception,
    times: int,
    how: str,
) -> None:
    """A few failures, then it answers again: the safe end has the patience to get its confirmation."""
    now = broken(driver, method, error, times)

    def fail() -> None:
        now()
        if method == "is_safe":
            os.kill(os.getpid(), signal.SIGINT)

    verdict = accept(short, tmp_path, progress=At(fail))
    assert verdict.verdict == "void"
    assert verdict.end.startswith(how)
    assert_left_safe(tmp_path)


def test_drivers_that_cannot_be_closed_do_not_cost_the_end(
    accept: Acceptance, short: Plan, tmp_path: Path, broken: Callable[..., Any]
) -> None:
    now = broken(PressureTransmitter, "close", OSError(9, "Bad file descriptor"), float("inf"))

    def fail() -> None:
        now()
        raise ZeroDivisionError

    verdict = accept(short, tmp_path, progress=At(fail))
    assert verdict.end.startswith("defect: ZeroDivisionError")
    assert_left_safe(tmp_path)
    gc.collect()  # the session left open goes here: a finalizer that logs may break `ast.parse` in a later test


def test_an_instrument_that_does_not_open_leaves_the_sources_commanded_safe(
    accept: Acceptance, short: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    commanded: list[str] = []
    go_safe = PressureSource.go_safe

    def safe(self: PressureSource) -> None:
        commanded.append(self.connection.name)
        go_safe(self)

    def refuse(self: PressureTransmitter) -> Identity:
        raise EOFError

    monkeypatch.setattr(PressureSource, "go_safe", safe)
    monkeypatch.setattr(PressureTransmitter, "open", refuse)
    verdict = accept(short, tmp_path)
    assert verdict.verdict == "void"
    assert verdict.end.startswith("defect: EOFError")
    assert commanded == ["pump"]
    assert not verdict.safe_end[0].confirmed  # nobody reads the load


# -- the record and the screen ------------------------------------------------------------------------------------


@pytest.fixture
def fill(monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    """A function that fills the disk."""
    full = False

    def no_room(call: Callable[..., Any]) -> Callable[..., Any]:
        def either(*args: Any) -> Any:
            if full:
                raise OSError(errno.ENOSPC, "No space left on device")
            return call(*args)

        return either

    def now() -> None:
        nonlocal full
        full = True

    monkeypatch.setattr(os, "fsync", no_room(os.fsync))
    monkeypatch.setattr(os, "write", no_room(os.write))
    return now


def test_a_full_disk_makes_the_rig_safe_and_then_says_so(
    accept: Acceptance, short: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fill: Callable[[], None]
) -> None:
    loads: list[float] = []
    read = PressureTransmitter.read

    def remember(self: PressureTransmitter, *args: Any) -> FloatArray:
        loads.append(float(read(self, *args)[0, 0]))
        return np.array([[loads[-1]]] * args[1])

    monkeypatch.setattr(PressureTransmitter, "read", remember)
    progress = At(fill)
    with pytest.raises(JournalError, match="the disk is full") as lost:
        accept(short, tmp_path, progress=progress)
    assert lost.value.exit_code == ExitCode.VOID  # a run whose record is lost is no fault of the documents
    assert max(loads) > 9e5
    assert abs(loads[-1]) < 0.5e5
    assert any(alarm.startswith("no record: ") for alarm in progress.alarms)


def test_a_full_disk_and_a_lost_source_claim_no_safe_rig(
    accept: Acceptance, short: Plan, tmp_path: Path, fill: Callable[[], None], broken: Callable[..., Any]
) -> None:
    now = broken(PressureSource, "go_safe", EOFError(), float("inf"))

    def both() -> None:
        now()
        fill()

    progress = At(both)
    with pytest.raises(JournalError, match="the disk is full") as lost:
        accept(short, tmp_path, progress=progress)
    assert "made safe" not in str(lost.value)
    assert any("SAFE STATE NOT CONFIRMED" in alarm for alarm in progress.alarms)


def command(spool_folder: Path, tmp_path: Path) -> list[str]:
    """The command line of a short run of the spool."""
    for name in ("rig.yaml", "twin.yaml"):
        (tmp_path / name).write_text((spool_folder / name).read_text("utf-8"), "utf-8")
    (tmp_path / "acceptance.yaml").write_text(f"rigproof: procedure/1\nname: x\nsteps:\n{CYCLES}", "utf-8")
    return [sys.executable, "-m", "rigproof", "run", str(tmp_path), "--simulated", "--out", str(tmp_path)]


def test_a_closed_pipe_on_the_command_line(spool_folder: Path, tmp_path: Path) -> None:
    """`rigproof run … | head`: the reader goes away in the middle of the run."""
    environment = {**os.environ, "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(
        command(spool_folder, tmp_path), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        for line in process.stdout:
            if UNDER_PRESSURE in line:
                break
        process.stdout.close()
        said = process.stderr.read()
        process.wait(60)
    assert process.returncode == 3, said
    assert said == ""
    assert_left_safe(tmp_path)


def test_a_pipe_that_was_never_read(spool_folder: Path, tmp_path: Path) -> None:
    """Nobody ever listened: no load may be on when the command ends, and the code is no verdict."""
    reading, writing = os.pipe()
    os.close(reading)
    done = subprocess.run(
        command(spool_folder, tmp_path), stdout=writing, stderr=subprocess.PIPE, text=True, timeout=60, check=False
    )
    os.close(writing)
    assert done.returncode == 3, done.stderr
    assert "Traceback" not in done.stderr
