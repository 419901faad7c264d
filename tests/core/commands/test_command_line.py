"""The command line: exit codes, plain messages, no traceback."""

from __future__ import annotations

import json
import shutil
import time
from pathlib import Path

import pytest

from rigproof.__main__ import run
from rigproof.clock import JumpingClock, PacedClock
from rigproof.errors import ExitCode


def test_run_judge_report_verify(spool_folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out, again = tmp_path / "run", tmp_path / "again"
    assert run(["run", str(spool_folder), "--simulated", "--out", str(out)]) == ExitCode.ACCEPT
    shown = capsys.readouterr().out
    assert shown.startswith("SIMULATED RIG")
    assert shown.endswith("verdict: accept (simulated)\n")
    assert "thermal output over the working temperatures" in shown  # what was not shown
    assert run(["judge", str(out / "journal.jsonl"), "--out", str(again)]) == ExitCode.ACCEPT
    assert (again / "verdict.json").read_bytes() == (out / "verdict.json").read_bytes()
    assert run(["report", str(out)]) == ExitCode.ACCEPT
    assert (out / "junit.xml").exists()
    assert (out / "checks.csv").exists()
    assert run(["verify", str(out)]) == ExitCode.ACCEPT
    capsys.readouterr()
    assert run(["run", str(spool_folder), "--simulated", "--out", str(out)]) == ExitCode.WRONG_INPUT
    assert "is there already" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("flaw", "code"),
    [("overshoot=60 %", ExitCode.VOID), ("dead-instrument", ExitCode.VOID), ("leakage", ExitCode.REJECT)],
)
def test_exit_codes(spool_folder: Path, tmp_path: Path, flaw: str, code: ExitCode) -> None:
    arguments = ["run", str(spool_folder), "--simulated", "--quiet", "--flaw", flaw, "--out", str(tmp_path)]
    assert run(arguments) == code


def test_without_a_load_step_there_is_no_accept(
    spool_folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rig = tmp_path / "rig"
    shutil.copytree(spool_folder, rig)
    text = (rig / "acceptance.yaml").read_text("utf-8")
    kept = [line for line in text.splitlines() if "- cycles:" not in line and "- proof:" not in line]
    (rig / "acceptance.yaml").write_text("\n".join(kept), "utf-8")
    assert run(["run", str(rig), "--simulated", "--out", str(tmp_path / "out")]) == ExitCode.UNDECIDED
    assert "not shown: response to load" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "phrase"),
    [
        (["runn", "x"], "run"),
        (["run", "nowhere", "--simulated"], "there is no such folder"),
        (["run", "{spool}", "--simulated", "--flaw", "soft-bnd"], "did you mean 'soft-bond'?"),
        (["run", "{spool}", "--simulated", "--flaw", "soft-bond=5 bar"], "--flaw soft-bond=5 bar: '5 bar'"),
        (["run", "{spool}", "--simulated", "--flaw", "soft-bond=nan"], "--flaw soft-bond=nan: 'nan' does not begin"),
        (["run", "{spool}", "--simulated", "--flaw", "soft-bond=5"], "flaw soft-bond=5: out of bounds. Give a size"),
        (["run", "{spool}", "--simulated", "--flaw", "swapped-channels=1 %"], "has no size"),
        (["run", "{spool}", "--simulated", "--flaw", "leakage", "--flaw", "leakage=1 MΩ"], "planted already"),
        (["run", "{spool}", "--flaw", "leakage"], "add --simulated"),
        (["run", "{spool}", "--simulated", "--bench", "127.0.0.1:1"], "choose one"),
        (["run", "{spool}", "--simulated", "--seed", "-1"], "--seed"),
        (["judge", "nowhere.jsonl", "--out", "x"], "cannot be read"),
        (["report", "nowhere"], "cannot be read"),
        (["schema", "rigg"], "rig"),
    ],
)
def test_wrong_input_is_named(
    spool_folder: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    arguments: list[str],
    phrase: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run([argument.replace("{spool}", str(spool_folder)) for argument in arguments]) == ExitCode.WRONG_INPUT
    message = capsys.readouterr().err
    assert phrase in message
    assert "Traceback" not in message


def test_check_plan_flaws_and_schema(spool_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", str(spool_folder), "--connect", "--simulated"]) == ExitCode.ACCEPT
    assert "B-0107" in capsys.readouterr().out
    assert run(["plan", str(spool_folder)]) == ExitCode.ACCEPT
    plan = capsys.readouterr().out
    assert "shunt reading: hoop, axial" in plan
    assert "relief device" in plan
    assert run(["flaws", "--json"]) == ExitCode.ACCEPT
    assert {"soft-bond", "slow-leak"} <= {flaw["name"] for flaw in json.loads(capsys.readouterr().out)}
    for kind in ("rig", "procedure", "plan", "event", "verdict"):
        assert run(["schema", kind]) == ExitCode.ACCEPT
        assert json.loads(capsys.readouterr().out)["$schema"].endswith("2020-12/schema")


def test_a_faulty_document_is_placed(spool_folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rig = tmp_path / "rig"
    shutil.copytree(spool_folder, rig)
    text = (rig / "acceptance.yaml").read_text("utf-8").replace("source: pump, to: 25 bar", "source: pmp, to: 25 kN")
    (rig / "acceptance.yaml").write_text(text, "utf-8")
    assert run(["check", str(rig)]) == ExitCode.WRONG_INPUT
    message = capsys.readouterr().err
    line = next(n for n, line in enumerate(text.splitlines(), 1) if "pmp" in line)
    assert f"acceptance.yaml:{line}:" in message
    assert "did you mean 'pump'?" in message


@pytest.mark.parametrize("command", [["check"], ["plan"], ["run", "--simulated", "--out", "x"]])
def test_with_json_the_faults_are_data_too(
    spool_folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], command: list[str]
) -> None:
    rig = tmp_path / "rig"
    shutil.copytree(spool_folder, rig)
    text = (rig / "acceptance.yaml").read_text("utf-8").replace("source: pump, to: 25 bar", "source: pmp, to: 25 kN")
    (rig / "acceptance.yaml").write_text(text, "utf-8")
    assert run([*command, str(rig), "--json"]) == ExitCode.WRONG_INPUT
    shown = capsys.readouterr()
    said = json.loads(shown.out)
    if "run" in command:
        assert (said["event"], said["exit_code"], shown.out.count("\n")) == ("error", 4, 1)
        said = said["faults"]
    (fault,) = said
    assert fault == {
        "place": f"{rig}/acceptance.yaml:10:26: steps[6].cycles.source",
        "value": "pmp",
        "rule": "'pmp' is no source of the rig",
        "remedy": "did you mean 'pump'?",
    }
    assert "did you mean 'pump'?" in shown.err


def test_with_json_any_other_error_is_data_too(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", "nowhere", "--json"]) == ExitCode.WRONG_INPUT
    (fault,) = json.loads(capsys.readouterr().out)
    assert fault["place"] == "nowhere: document"
    assert run(["run", "nowhere", "--simulated", "--replayed", "--json"]) == ExitCode.WRONG_INPUT
    (fault,) = json.loads(capsys.readouterr().out)["faults"]
    assert "choose one of them" in fault["rule"]
    assert fault["place"] == "command line: --simulated, --bench and --replayed"


@pytest.mark.parametrize(
    ("flaws", "fault"),
    [
        (
            ["leakage=ten"],
            ("command line: --flaw", "leakage=ten", "'ten' does not begin with a number", "write it like"),
        ),
        (["loose-gage"], ("command line: --flaw", "loose-gage", "no flaw is called 'loose-gage'", "did you mean")),
        (
            ["swapped-arms"],
            ("command line", "", "flaw swapped-arms: the first strain channel has no full bridge", "Choose"),
        ),
    ],
)
def test_with_json_the_remedy_stands_by_itself(
    spool_folder: Path, capsys: pytest.CaptureFixture[str], flaws: list[str], fault: tuple[str, ...]
) -> None:
    planted = [word for flaw in flaws for word in ("--flaw", flaw)]
    assert run(["run", str(spool_folder), "--simulated", *planted, "--json"]) == ExitCode.WRONG_INPUT
    (found,) = json.loads(capsys.readouterr().out)["faults"]
    *rest, remedy = found.values()
    assert tuple(rest) == fault[:-1]
    assert remedy.startswith(fault[-1])


@pytest.mark.parametrize(
    ("words", "place"),
    [
        (["check", "rig", "--no-such-option"], "command line: --no-such-option"),
        (["check"], "command line: rig"),
        (["bench", "rig", "--port", "many"], "command line: --port"),
        (["no-such-command"], "command line"),
    ],
)
def test_with_json_the_place_on_the_command_line_is_named(
    capsys: pytest.CaptureFixture[str], words: list[str], place: str
) -> None:
    assert run([*words, "--json"]) == ExitCode.WRONG_INPUT
    (fault,) = json.loads(capsys.readouterr().out)
    assert fault["place"] == place
    assert "--help" in fault["remedy"]
    assert "--help" not in fault["rule"]


def test_a_pace_is_for_simulated_runs(spool_folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["run", str(spool_folder), "--pace", "10", "--out", str(tmp_path / "out")]) == ExitCode.WRONG_INPUT
    assert "add --simulated" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_a_paced_clock_waits_for_real_as_long_as_its_pace_says() -> None:
    clock, began = PacedClock(JumpingClock(), 100.0), time.monotonic()
    clock.wait(10.0)
    assert clock.now() == 10.0
    assert time.monotonic() - began >= 0.1
