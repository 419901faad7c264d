"""Whole acceptances of a simulated spool whose transmitter, thermometer and pump speak Modbus, and every way out."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from rigproof.__main__ import run as program
from rigproof.commands.simulated import bench_reach
from rigproof.documents import fit, load_procedure, load_rig
from rigproof.errors import ExitCode
from rigproof.plugins import Registry
from rigproof.run.accepting import run_and_judge
from rigproof.run.plan import Plan
from rigproof.run.progress import Silent
from rigproof.verdict.record import Verdict
from rigproof_modbus.client import Line
from rigproof_twin.modbus import SimulatedUnit, protocol

from .spool import SPOOL, modbus_rig

pytestmark = pytest.mark.network
Acceptance = Callable[..., Verdict]
CYCLES = """\
  - cycles: {source: pump, to: 20 bar, times: 2, levels: 2, exercise: 0, dwell: 1 s, rest: 1 s, readings: 2}
"""
UNDER_PRESSURE = "cycle 1 of 2: level 2 of 2"


class At(Silent):
    """Does something once the run is under pressure; keeps the alarms."""

    def __init__(self, action: Callable[[], None]) -> None:
        self.action: Callable[[], None] | None = action
        self.alarms: list[str] = []

    def say(self, text: str) -> None:
        if UNDER_PRESSURE in text and self.action:
            action, self.action = self.action, None
            action()

    def alarm(self, text: str) -> None:
        self.alarms.append(text)


@pytest.fixture(scope="module")
def whole(registry: Registry) -> Plan:
    return _plan(registry, (SPOOL / "acceptance.yaml").read_text("utf-8"))


@pytest.fixture(scope="module")
def short(registry: Registry) -> Plan:
    return _plan(registry, f"rigproof: procedure/1\nname: x\nsteps:\n{CYCLES}")


def _plan(registry: Registry, procedure_text: str) -> Plan:
    rig = load_rig(text=modbus_rig(), registry=registry)
    procedure = load_procedure(text=procedure_text, registry=registry)
    fit(rig, procedure)
    return Plan(rig, procedure, registry)


def journal(folder: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in (folder / "journal.jsonl").read_text("utf-8").splitlines()]


def assert_left_safe(folder: Path) -> None:
    entries = journal(folder)
    pressures = [max(e["values"]["pressure"]) for e in entries if "pressure" in e.get("values", {})]
    assert max(pressures) > 9e5
    *_, safe, end = entries
    assert safe["kind"] == "safe"
    assert safe["confirmed"], safe["text"]
    assert abs(safe["load"]) <= 0.5e5
    assert end["kind"] == "end"


def test_a_sound_spool_is_accepted(accept: Acceptance, whole: Plan, tmp_path: Path) -> None:
    verdict = accept(whole, tmp_path)
    assert verdict.verdict == "accept", verdict.why
    found = {record.name: record for record in verdict.instruments}
    assert (found["transmitter"].serial_number, found["transmitter"].firmware) == ("P-0220", "simulated")
    assert (found["pump"].maker, found["pump"].firmware) == ("", "not asked")


def test_the_same_seed_gives_the_same_readings(accept: Acceptance, short: Plan, tmp_path: Path) -> None:
    """The wire lies in another thread, and still nothing depends on the machine's own time."""
    texts = []
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        accept(short, tmp_path / name)
        texts.append((tmp_path / name / "journal.jsonl").read_bytes())
    assert texts[0] == texts[1]


@pytest.mark.parametrize("flaw", ["soft-bond", "thin-wall"])
def test_a_flaw_is_still_caught(accept: Acceptance, whole: Plan, tmp_path: Path, flaw: str) -> None:
    assert accept(whole, tmp_path, [flaw]).verdict == "reject"


def test_a_transmitter_that_reads_high_is_not_accepted(accept: Acceptance, whole: Plan, tmp_path: Path) -> None:
    assert accept(whole, tmp_path, ["high-pressure-reading=10 %"]).verdict != "accept"


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_signal(accept: Acceptance, short: Plan, tmp_path: Path, number: signal.Signals) -> None:
    verdict = accept(short, tmp_path, progress=At(lambda: os.kill(os.getpid(), number)))
    assert verdict.verdict == "void"
    assert verdict.end.startswith("stopped: ")
    assert_left_safe(tmp_path)


def test_a_trip(accept: Acceptance, whole: Plan, tmp_path: Path) -> None:
    verdict = accept(whole, tmp_path, ["overshoot=60 %"])
    assert verdict.verdict == "void"
    assert "interlock 'overpressure'" in verdict.end
    assert_left_safe(tmp_path)


def test_a_link_that_is_cut_once(
    accept: Acceptance, short: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The next exchange dies under the driver's hands; the run ends, and a fresh connection makes the source safe."""
    lines: list[Line] = []
    connect = Line.connect

    def remember(self: Line) -> None:
        connect(self)
        lines.append(self)

    def cut() -> None:
        for line in lines:
            if line._client is not None:
                line._client.socket.shutdown(2)

    monkeypatch.setattr(Line, "connect", remember)
    verdict = accept(short, tmp_path, progress=At(cut))
    assert verdict.verdict == "void"
    assert verdict.end.startswith("instrument lost: ")
    assert "no whole reply" in verdict.end
    assert_left_safe(tmp_path)


def test_a_pump_that_never_answers_again_is_an_alarm(
    accept: Acceptance, short: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    answer = protocol.answer
    gone = False

    def silent(unit: SimulatedUnit, request: bytes) -> bytes:
        unit.alive = unit.alive and not (gone and unit.number == 7)
        return answer(unit, request)

    def lose() -> None:
        nonlocal gone
        gone = True

    monkeypatch.setattr("rigproof_twin.modbus.station.answer", silent)
    for instrument in short.rig.instruments.values():
        if instrument.name == "pump":
            monkeypatch.setitem(instrument.__dict__, "timeout", type(instrument.timeout)(0.2, "time", "0.2 s"))
    progress = At(lose)
    verdict = accept(short, tmp_path, progress=progress)
    assert verdict.verdict == "void"
    assert not verdict.safe_end[0].confirmed
    assert any("SAFE STATE NOT CONFIRMED" in alarm for alarm in progress.alarms)


def test_a_served_bench_gives_the_same_verdict(whole: Plan, tmp_path: Path) -> None:
    for name in ("acceptance.yaml", "twin.yaml"):
        (tmp_path / name).write_text((SPOOL / name).read_text("utf-8"), "utf-8")
    (tmp_path / "rig.yaml").write_text(modbus_rig(), "utf-8")
    command = [sys.executable, "-m", "rigproof", "bench", str(tmp_path), "--port", "0"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        printed = [process.stdout.readline() for _ in range(9)]
        served = [line.split() for line in printed if " for " in line]
        ports = {words[-1]: words[0].partition(":")[2] for words in served}
        assert ports.keys() >= {"tcp://192.0.2.20:502", "tcp://192.0.2.21"}
        (clock,) = [line.split()[0] for line in printed if line.rstrip().endswith(" clock")]
        with bench_reach(clock, whole.rig) as reach:
            assert reach.addresses["tcp://192.0.2.21"] == f"tcp://127.0.0.1:{ports['tcp://192.0.2.21']}"
            verdict = run_and_judge(whole, reach, tmp_path, Silent())
        process.send_signal(signal.SIGINT)
        assert process.wait(timeout=20) == 0
    assert verdict.verdict == "accept", verdict.why


@pytest.mark.parametrize("command", [["check", "--connect", "--simulated"], ["plan"]])
def test_the_commands_know_it(tmp_path: Path, command: list[str]) -> None:
    for name in ("acceptance.yaml", "twin.yaml"):
        (tmp_path / name).write_text((SPOOL / name).read_text("utf-8"), "utf-8")
    (tmp_path / "rig.yaml").write_text(modbus_rig(), "utf-8")
    name, *options = command
    line = [sys.executable, "-m", "rigproof", name, str(tmp_path), *options]
    done = subprocess.run(line, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    if name == "check":
        assert "Test bay, pressure transmitter 60 bar, P-0220" in done.stdout


@pytest.mark.parametrize(
    ("written", "place"),
    [("      unit id: 1\n", "settings.unit id: "), ("", "settings: ")],
    ids=["written", "left out"],
)
def test_two_units_of_one_id_are_told_with_their_place(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], written: str, place: str
) -> None:
    (tmp_path / "twin.yaml").write_text((SPOOL / "twin.yaml").read_text("utf-8"), "utf-8")
    text = modbus_rig()
    assert text.count("      unit id: 2\n") == 1
    (tmp_path / "rig.yaml").write_text(text.replace("      unit id: 2\n", written), "utf-8")
    assert program(["bench", str(tmp_path), "--port", "0"]) == ExitCode.WRONG_INPUT
    told = capsys.readouterr().err
    assert f": instruments.thermometer.{place}1 is the unit id of another instrument at tcp://192.0.2.20:502" in told
    assert "give each unit on a line an id of its own" in told
