"""Whatever ends a run, the source goes to its safe state and that is read back into the journal."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import pytest

from rigproof.errors import InstrumentError
from rigproof.instruments import FloatArray
from rigproof.run import accepting
from rigproof.run.live import LiveRig
from rigproof.run.plan import Plan
from rigproof.run.progress import Silent
from rigproof.verdict.judging import judge
from rigproof.verdict.record import Verdict

Acceptance = Callable[..., Verdict]


class At(Silent):
    """Does something when the run says a certain thing; keeps the alarms."""

    def __init__(self, words: str, action: Any) -> None:
        self.words, self.action, self.alarms = words, action, list[str]()

    def say(self, text: str) -> None:
        if self.words in text and self.action:
            action, self.action = self.action, None
            action()

    def alarm(self, text: str) -> None:
        self.alarms.append(text)


def journal(folder: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in (folder / "journal.jsonl").read_text("utf-8").splitlines()]


def assert_safe(verdict: Verdict, folder: Path) -> None:
    (end,) = verdict.safe_end
    assert end.confirmed, end.text
    entries = journal(folder)
    safe = [entry for entry in entries if entry["kind"] == "safe"]
    assert safe[0]["load"] <= 0.5e5
    assert entries[-1]["kind"] == "end"


UNDER_PRESSURE = "stage 3 of 4"


def test_normal_end(accept: Acceptance, spool: Plan, tmp_path: Path) -> None:
    assert_safe(accept(spool, tmp_path), tmp_path)


@pytest.mark.parametrize(("number", "who"), [(signal.SIGINT, "Ctrl-C"), (signal.SIGTERM, "SIGTERM")])
def test_signal(accept: Acceptance, spool: Plan, tmp_path: Path, number: signal.Signals, who: str) -> None:
    progress = At(UNDER_PRESSURE, lambda: os.kill(os.getpid(), number))
    verdict = accept(spool, tmp_path, progress=progress)
    assert verdict.verdict == "void"
    assert who in verdict.end
    assert highest_pressure(tmp_path) > 20e5  # it really was under pressure
    assert_safe(verdict, tmp_path)
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_second_signal_does_not_cut_the_safe_end_short(accept: Acceptance, spool: Plan, tmp_path: Path) -> None:
    class Twice(At):
        def alarm(self, text: str) -> None:
            super().alarm(text)
            os.kill(os.getpid(), signal.SIGINT)

    verdict = accept(spool, tmp_path, progress=Twice(UNDER_PRESSURE, lambda: os.kill(os.getpid(), signal.SIGINT)))
    assert verdict.verdict == "void"
    assert_safe(verdict, tmp_path)


def test_a_stop_while_judging_is_held_back_and_said(
    accept: Acceptance, spool: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped(*given: Any) -> Verdict:
        os.kill(os.getpid(), signal.SIGINT)
        return judge(*given)

    monkeypatch.setattr(accepting, "judge", stopped)
    said: list[bool] = []
    progress = At("the stop by the operator (Ctrl-C) came after the last step", lambda: said.append(True))
    assert accept(spool, tmp_path, progress=progress).verdict == "accept"
    assert said
    assert (tmp_path / "verdict.json").exists()
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_exception_in_a_step(accept: Acceptance, spool: Plan, tmp_path: Path) -> None:
    def fail() -> None:
        raise ZeroDivisionError("a plugin's defect")

    verdict = accept(spool, tmp_path, progress=At(UNDER_PRESSURE, fail))
    assert verdict.verdict == "void"
    assert verdict.end.startswith("defect: ZeroDivisionError")
    assert_safe(verdict, tmp_path)


def test_trip(accept: Acceptance, spool: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A reading above the interlock's limit: the transmitter's reading is raised here, above the wire."""
    read = LiveRig.read

    def high(self: LiveRig, label: str, channels: Sequence[str], *args: Any, **tags: Any) -> Mapping[str, FloatArray]:
        values = read(self, label, channels, *args, **tags)
        if label == "stage" and tags.get("stage") == 3:
            self._interlocks.check({"pressure": values["pressure"] + 15e5}, True)
        return values

    monkeypatch.setattr(LiveRig, "read", high)
    verdict = accept(spool, tmp_path)
    assert verdict.verdict == "void"
    assert verdict.end.startswith("tripped: interlock 'overpressure': pressure at ")
    assert_safe(verdict, tmp_path)


def test_overshooting_source_trips(accept: Acceptance, spool: Plan, tmp_path: Path) -> None:
    verdict = accept(spool, tmp_path, ["overshoot=60 %"])
    assert verdict.verdict == "void"
    assert "interlock 'overpressure'" in verdict.end
    assert_safe(verdict, tmp_path)


def test_lost_amplifier(accept: Acceptance, spool: Plan, tmp_path: Path) -> None:
    verdict = accept(spool, tmp_path, ["dead-instrument"])
    assert verdict.verdict == "void"
    assert_safe(verdict, tmp_path)


def test_lost_source_is_an_alarm(
    accept: Acceptance, spool: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing answers at the source any more: the run must say so, loudly, and never claim a safe state."""
    from rigproof_scpi.pressure_source import PressureSource

    lost = False

    def lose() -> None:
        nonlocal lost
        lost = True
        os.kill(os.getpid(), signal.SIGINT)

    def refuse(self: PressureSource, *_: object) -> None:
        if lost:
            raise InstrumentError("pump", "no reply")
        original(self)

    original = PressureSource.go_safe
    monkeypatch.setattr(PressureSource, "go_safe", refuse)
    progress = At(UNDER_PRESSURE, lose)
    verdict = accept(spool, tmp_path, progress=progress)
    (end,) = verdict.safe_end
    assert not end.confirmed
    (alarm,) = (alarm for alarm in progress.alarms if "SAFE STATE NOT CONFIRMED" in alarm)
    assert "use the rig's own stop and vent" in alarm
    assert re.search(r"\(pump: no reply; pressure \d+\.?\d* bar still on\)", alarm)  # which the transmitter still reads
    assert end.load is not None
    assert end.load > 1e5


def highest_pressure(folder: Path) -> float:
    blocks = [entry["values"] for entry in journal(folder) if entry["kind"] == "samples"]
    return float(max(max(block["pressure"]) for block in blocks if "pressure" in block))


def test_ctrl_c_on_the_command_line(spool_folder: Path, tmp_path: Path) -> None:
    """The whole command: exit code 3, source safe, no traceback. The stop comes once the rig is under pressure."""
    command = [sys.executable, "-m", "rigproof", "run", str(spool_folder), "--simulated", "--out", str(tmp_path)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True) as process:
        path = tmp_path / "journal.jsonl"
        for _ in range(600):
            if path.exists() and '"text":"stage 1 of 4' in path.read_text("utf-8", "replace"):
                break
            time.sleep(0.02)
        process.send_signal(signal.SIGINT)
        output, _ = process.communicate(timeout=60)
    assert process.returncode == 3, output
    assert "Traceback" not in output
    assert "pump safe" in output
    assert any(entry["kind"] == "safe" and entry["confirmed"] for entry in journal(tmp_path))


def test_a_trip_tells_how_long_it_took_to_the_safe_command(accept: Acceptance, spool: Plan, tmp_path: Path) -> None:
    """The commands are out before the trip is written: no disk stands between the two."""
    verdict = accept(spool, tmp_path, ["overshoot=60 %"])
    entries = journal(tmp_path)
    (trip,) = [entry for entry in entries if entry["kind"] == "trip" and "provoked" not in entry]
    assert (trip["interlock"], trip["channel"], trip["limit"]) == ("overpressure", "pressure", "38 bar")
    assert trip["began_s"] < trip["read_s"] < trip["told_s"]["pump"] <= trip["t"]
    assert trip["took_s"] == pytest.approx(trip["told_s"]["pump"] - trip["read_s"], abs=1e-3)
    assert 0 < trip["took_s"] < 0.1
    (block,) = [e for e in entries if e["kind"] == "samples" and e["t"] == trip["read_s"] and "pressure" in e["values"]]
    assert trip["value"] == pytest.approx(max(block["values"]["pressure"]))
    assert f"the safe command was out {1000 * trip['took_s']:.0f} ms later" in verdict.why[0]
