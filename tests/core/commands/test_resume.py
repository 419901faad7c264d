"""`rigproof run --resume` on the command line: the command that an unfinished run prints is the one that goes on."""

from __future__ import annotations

import shlex
import subprocess
import sys
from datetime import timedelta
from pathlib import Path

import pytest

from rigproof.__main__ import run
from rigproof.errors import ExitCode, Suspended
from rigproof.run.live import LiveRig
from rigproof.run.signals import StopSignals
from rigproof.steps.balance import Balance
from rigproof.steps.cycles import Cycles

STEPS = """\
rigproof: procedure/1
name: x
steps:
  - balance: {settle: 5 s}
  - cycles: {source: pump, to: 20 bar, times: 2, levels: 2, exercise: 0, dwell: 1 s, rest: 1 s, readings: 20}
"""


@pytest.fixture
def rig(spool_folder: Path, tmp_path: Path) -> Path:
    folder = tmp_path / "a rig"  # with a space, as folders have
    folder.mkdir()
    for name in ("rig.yaml", "twin.yaml"):
        (folder / name).write_text((spool_folder / name).read_text("utf-8"), "utf-8")
    (folder / "acceptance.yaml").write_text(STEPS, "utf-8")
    return folder


def going_on(shown: str) -> list[str]:
    """The command that was printed, and the verdict still last."""
    (line,) = (line.strip() for line in shown.splitlines() if line.strip().startswith("to go on: "))
    assert shown.splitlines()[-1] == "verdict: void (simulated)"
    program, *arguments = shlex.split(line.removeprefix("to go on: "))
    assert program == "rigproof"
    return arguments


def test_a_suspended_run_prints_the_command_that_goes_on(
    rig: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    acquire = Balance.acquire

    def pause(self: Balance, live: LiveRig) -> None:
        if not live.record().earlier:
            raise Suspended("the adhesive cures", live.clock.utc() + timedelta(hours=12))
        acquire(self, live)

    monkeypatch.setattr(Balance, "acquire", pause)
    begun = ["run", str(rig), "--simulated", "--seed", "2", "--operator", "A.  Example", "--out", str(tmp_path / "out")]
    assert run(begun) == ExitCode.VOID
    shown = capsys.readouterr().out
    assert "  suspended until 2026-11-25 20:00:0" in shown
    again = going_on(shown)
    assert again[again.index("--operator") + 1] == "A. Example"
    again[again.index("--operator") + 1] = "B. Example"
    assert run(again) == ExitCode.ACCEPT
    shown = capsys.readouterr().out
    assert "\noperator: B. Example\n" in shown
    assert "\n  operator: A. Example; B. Example\n" in shown
    assert "resumed after: suspended until 2026-11-25 20:00:0" in shown
    assert "to go on" not in shown
    assert "step 1 balance was begun 2 times, and the last one counts" in shown
    assert run(["verify", str(tmp_path / "out")]) == ExitCode.ACCEPT
    assert run(["report", str(tmp_path / "out")]) == ExitCode.ACCEPT
    page = (tmp_path / "out" / "report.html").read_text("utf-8")
    assert "Resumed 1 time" in page
    assert "<dt>Operator</dt><dd>A. Example; B. Example</dd>" in page
    assert "suspended until 2026-11-25 20:00:0" in page
    assert 'name="resumed" value="resumed 2026-11-25 20:00:0' in (tmp_path / "out" / "junit.xml").read_text("utf-8")
    assert '"operator" value="A. Example; B. Example"' in (tmp_path / "out" / "junit.xml").read_text("utf-8")
    assert run([*begun[:-1], str(tmp_path / "other")]) == ExitCode.VOID
    capsys.readouterr()
    assert run(["diff", str(tmp_path / "other"), str(tmp_path / "out")]) == 1
    assert "resumed 1 after: none -> suspended until" in capsys.readouterr().out


def test_a_stopped_run_goes_on_and_draws_only_the_cycles_that_count(
    rig: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    one_cycle = Cycles._one_cycle

    def stop(self: Cycles, live: LiveRig, cycle: int, top: float, rate: float | None) -> None:
        one_cycle(self, live, cycle, top, rate)
        StopSignals._note(live._stop, 2, None)

    with monkeypatch.context() as patch:
        patch.setattr(Cycles, "_one_cycle", stop)
        assert run(["run", str(rig), "--simulated", "--out", str(tmp_path / "out")]) == ExitCode.VOID
    assert run(going_on(capsys.readouterr().out)) == ExitCode.ACCEPT
    assert run(["run", str(rig), "--simulated", "--out", str(tmp_path / "whole")]) == ExitCode.ACCEPT
    dots = []
    for name in ("out", "whole"):
        assert run(["report", str(tmp_path / name)]) == ExitCode.ACCEPT
        drawings = (tmp_path / name / "report.html").read_text("utf-8").split("<figure")
        dots.append(sum(each.count('class="dot"') for each in drawings if "strain over load" in each))
    assert dots[0] == dots[1] > 0


@pytest.mark.parametrize(
    "arguments",
    [
        ["--simulated"],
        ["--simulated", "--out", "x", "--seed", "0"],
        ["--simulated", "--out", "x", "--flaw", "leakage"],
        ["--replayed", "--out", "x"],
    ],
)
def test_what_the_record_has_cannot_be_asked_again(
    rig: Path, arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["run", str(rig), "--resume", *arguments]) == ExitCode.WRONG_INPUT
    assert "--resume: give --out with the folder of the run, no --seed and no --flaw" in capsys.readouterr().err


def test_a_folder_that_is_not_there(rig: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["run", str(rig), "--simulated", "--resume", "--out", str(tmp_path / "none")]
    assert run(arguments) == ExitCode.WRONG_INPUT
    assert "is not there, so there is no run to go on with; leave --resume out" in capsys.readouterr().err
    assert not (tmp_path / "none").exists()


def test_a_resumed_journal_is_not_replayed(
    rig: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from rigproof.errors import DocumentError
    from rigproof_replay.journal_record import read_journal_record

    path = tmp_path / "out" / "journal.jsonl"
    command = [sys.executable, "-m", "rigproof", "run", str(rig), "--simulated", "--out", str(tmp_path / "out")]
    subprocess.run(command, check=True, capture_output=True)
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(lines[: len(lines) // 2]))
    subprocess.run([*command, "--resume"], check=True, capture_output=True)
    with pytest.raises(DocumentError, match="was resumed"):
        read_journal_record(path)


def test_a_run_that_went_to_its_end_says_how_to_judge_it(
    rig: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    assert run(["run", str(rig), "--simulated", "--quiet", "--out", str(out)]) == ExitCode.ACCEPT
    assert run(["run", str(rig), "--simulated", "--out", str(out), "--resume"]) == ExitCode.WRONG_INPUT
    assert f"`rigproof judge {out} --out {out}` makes its verdict again" in capsys.readouterr().err
    before = (out / "verdict.json").read_bytes()
    assert run(["judge", str(out), "--out", str(out)]) == ExitCode.ACCEPT
    assert (out / "verdict.json").read_bytes() == before


def test_a_planted_defect_is_said_to_be_there_again(
    rig: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = ["--simulated", "--out", str(tmp_path / "out")]
    assert run(["run", str(rig), *out, "--flaw", "dead-instrument=30 s"]) == ExitCode.VOID
    shown = capsys.readouterr().out
    assert "to go on, with what is planted (dead-instrument" in shown
    assert "2 cycles: broken off" in shown
    run(["run", str(rig), *out, "--resume"])
    assert "simulated as before, so this is planted still: dead-instrument" in capsys.readouterr().out


@pytest.mark.parametrize(
    "begun",
    [["--simulated", "--pace", "100000", "--quiet"], ["--simulated", "--operator", "A. Example"], ["--simulated"]],
)
def test_the_command_that_goes_on_is_the_one_that_began(
    rig: Path, tmp_path: Path, begun: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    out = ["--out", str(tmp_path / "out")]
    assert run(["run", str(rig), *out, *begun, "--flaw", "dead-instrument=3 s"]) == ExitCode.VOID
    (line,) = (line for line in capsys.readouterr().out.splitlines() if "to go on" in line)
    again = shlex.split(line.split("there again: ")[1])
    assert sorted(again) == sorted(["rigproof", "run", str(rig), *out, "--resume", *begun])
    assert run(again[1:]) == ExitCode.VOID  # the planted one is there again
