"""`rigproof run --json`: one event a line, and nothing else on standard output."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from pydantic import TypeAdapter

from rigproof.__main__ import run
from rigproof.documents import schema
from rigproof.errors import ExitCode
from rigproof.plugins import Registry
from rigproof.run.events import Event

LIMIT_S = 60.0
SHORT = """\
rigproof: procedure/1
name: one stage and a hold
steps:
  - balance: {channels: all strain, settle: 5 s}
  - proof: {source: pump, to: 20 bar, stages: [100 %], dwell: 2 s, hold: 60 s, rest: 2 s}
"""
Run = Callable[..., subprocess.Popen[str]]


@pytest.fixture
def short(spool_folder: Path, tmp_path: Path) -> Path:
    folder = tmp_path / "rig"
    folder.mkdir()
    for name in ("rig.yaml", "twin.yaml"):
        (folder / name).write_text((spool_folder / name).read_text("utf-8"), "utf-8")
    (folder / "acceptance.yaml").write_text(SHORT, "utf-8")
    return folder


def events(text: str) -> list[dict[str, Any]]:
    """Each line is an object, and one of those that `rigproof schema event` describes."""
    lines = text.splitlines()
    for line in lines:
        TypeAdapter(Event).validate_json(line)
    return [json.loads(line) for line in lines]


def test_a_run_as_events(short: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "out"
    assert run(["run", str(short), "--simulated", "--flaw", "leakage", "--json", "--out", str(out)]) == ExitCode.ACCEPT
    shown = capsys.readouterr()
    assert shown.err == ""
    first, *between, last = events(shown.out)
    assert (first["event"], first["format"], first["simulated"]) == ("run", "rigproof: event/1", True)
    assert (first["record"], first["steps"]) == (str(out), ["balance", "proof"])
    assert any("relief device" in caution for caution in first["cautions"])
    assert (last["event"], last["exit_code"]) == ("verdict", 0)
    assert last["verdict"] == json.loads((out / "verdict.json").read_text("utf-8"))
    steps = [(e["step"], e["step_kind"]) for e in between if e["event"] == "step"]
    assert steps == [(1, "balance"), (2, "proof")]
    judged = [(c["step"], c["name"], c["finding"]) for e in between if e["event"] == "checks" for c in e["checks"]]
    assert judged == [(c["step"], c["name"], c["finding"]) for c in last["verdict"]["checks"]]
    assert ("stage", "settling", 5.0) in [(e["event"], e.get("text"), e.get("left_s")) for e in between]
    assert [e["text"] for e in between if e["event"] == "remark"][-1] == "lowering: pump to 0 bar"
    assert between[-1]["event"] == "safe"
    looks = [channel for e in between if e["event"] == "reading" for channel in e["channels"]]
    assert {"Pa", "1"} <= {channel["unit"] for channel in looks}


def test_a_wrong_command_is_an_event(capsys: pytest.CaptureFixture[str]) -> None:
    for words in (["nowhere"], ["nowhere", "--simulated", "--replayed"], ["nowhere", "--no-such-option"]):
        assert run(["run", *words, "--json"]) == ExitCode.WRONG_INPUT
        shown = capsys.readouterr()
        (event,) = events(shown.out)
        assert (event["event"], event["exit_code"]) == ("error", 4)
        assert event["faults"][0]["rule"]
        assert shown.err


def test_the_schema_names_every_event(registry: Registry) -> None:
    described = schema("event", registry)
    assert described["title"] == "rigproof: event/1"
    names = {ref.rpartition("/")[2] for ref in described["discriminator"]["mapping"].values()}
    assert names == {choice["$ref"].rpartition("/")[2] for choice in described["oneOf"]}
    assert set(described["discriminator"]["mapping"]) == {
        *("run", "step", "remark", "stage", "reading", "checks"),
        *("alarm", "lowering", "safe", "verdict", "error"),
    }


@pytest.fixture
def begin(short: Path, tmp_path: Path) -> Run:
    """A run in a program of its own whose hold takes long."""
    written = (short / "acceptance.yaml").read_text("utf-8").replace("hold: 60 s", "hold: 20 h")
    (short / "acceptance.yaml").write_text(written, "utf-8")

    def popen(*options: str) -> subprocess.Popen[str]:
        command = [sys.executable, "-m", "rigproof", "run", str(short), "--simulated", "--out", str(tmp_path / "out")]
        return subprocess.Popen([*command, *options], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)

    return popen


def test_ctrl_c_twice_is_an_alarm_and_the_load_comes_down(begin: Run) -> None:
    with begin("--json") as program:
        assert program.stdout is not None
        kept = []
        for line in program.stdout:
            kept.append(line)
            if '"text":"hold"' in line or '"event":"alarm"' in line:
                os.kill(program.pid, signal.SIGINT)
        said = program.stderr.read() if program.stderr else ""
        assert program.wait(LIMIT_S) == 3
    found = events("".join(kept))
    ending = [e for e in found if e["event"] in {"alarm", "lowering", "safe"}][1:]  # the first is of the start
    assert ending[0] == {"event": "alarm", "text": "stopped: by the operator (Ctrl-C)"}
    loads = [e["load"] for e in ending if e["event"] == "lowering"]
    assert loads == sorted(loads, reverse=True)
    assert loads[0] > 5e4
    assert ending[-1]["event"] == "safe"
    assert "source reports its safe state, pressure" in ending[-1]["text"]
    assert found[-1]["exit_code"] == 3
    assert said == "!!! stopped: by the operator (Ctrl-C)\n"


def test_quiet_shows_an_alarm_and_how_it_ended(begin: Run, tmp_path: Path) -> None:
    with begin("--quiet") as program:
        journal, end = tmp_path / "out" / "journal.jsonl", time.monotonic() + LIMIT_S
        while not journal.exists() or '"label":"hold"' not in journal.read_text("utf-8"):
            assert time.monotonic() < end
            time.sleep(0.05)
        os.kill(program.pid, signal.SIGINT)
        said, wrong = program.communicate(timeout=LIMIT_S)
    assert (program.returncode, wrong) == (3, "")
    lines = [line.strip() for line in said.splitlines() if line]
    assert lines[0] == "!!! stopped: by the operator (Ctrl-C)"
    assert re.match(r"making pump safe: source reports (NOT )?its safe state, pressure \d+\.?\d* bar", lines[1])
    safe, why, record, going_on, verdict = lines[-5:]
    assert safe.startswith("pump safe: source reports its safe state, pressure ")
    assert (why, record) == ("stopped: by the operator (Ctrl-C)", f"record: {tmp_path / 'out'}")
    assert going_on.startswith("to go on: rigproof run ")
    assert verdict == "verdict: void (simulated)"


def test_quiet_is_two_lines_where_nothing_is_wrong(
    short: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["run", str(short), "--simulated", "--quiet", "--out", str(tmp_path / "out")]) == ExitCode.ACCEPT
    assert capsys.readouterr().out == f"record: {tmp_path / 'out'}\nverdict: accept (simulated)\n"


def test_a_reader_that_stalls_stalls_no_run(begin: Run, short: Path, tmp_path: Path) -> None:
    """A pipe holds 64 kB; the run must come to its end, and all is there when the reader reads on."""
    text = (short / "acceptance.yaml").read_text("utf-8").replace("hold: 20 h", "hold: 60 s")
    many = "\n".join([*text.splitlines()[:-1], *["  - balance: {channels: all strain, settle: 0 s}"] * 150])
    (short / "acceptance.yaml").write_text(many, "utf-8")
    with begin("--json") as program:
        journal, end = tmp_path / "out" / "journal.jsonl", time.monotonic() + LIMIT_S
        while not journal.exists() or '"kind":"end"' not in journal.read_text("utf-8"):
            assert time.monotonic() < end
            time.sleep(0.1)
        said, _ = program.communicate(timeout=LIMIT_S)
    found = events(said)
    assert len(said) > 65536
    assert sum(e["event"] == "step" for e in found) == 151
    assert found[-1]["event"] == "verdict"
