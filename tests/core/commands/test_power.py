"""`rigproof power` on the beam without its waits, and on a short procedure of the spool."""

from __future__ import annotations

import csv
import json
import os
import re
import shutil
import signal
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from rigproof.__main__ import run
from rigproof.campaign.crew import Crew
from rigproof.campaign.results import FILE, Results
from rigproof.campaign.trial import Result, Trial
from rigproof.commands import power
from rigproof.quantities import parse
from rigproof.verdict.record import Outcome

RIG = Path(__file__).parents[3] / "tests" / "rigs" / "spool"
SHORT = """rigproof: procedure/1
name: A shunt calibration alone
decision: {rule: guarded acceptance, risk: 5 %}
steps:
  - resistance: {channels: all strain, change from packet: within 0.5 %}
  - shunt: {channels: all strain, resistor: 174.8 kΩ ± 0.1 %, settle: 0.1 s}
"""


@pytest.fixture
def short(tmp_path: Path) -> Path:
    folder = tmp_path / "rig"
    shutil.copytree(RIG, folder)
    (folder / "acceptance.yaml").write_text(SHORT, "utf-8")
    return folder


def ran(capsys: pytest.CaptureFixture[str], *words: str | Path) -> tuple[int, str, str]:
    code = run(["power", *map(str, words)])
    said = capsys.readouterr()
    return code, said.out, said.err


def test_the_matrix_and_its_files(short: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = (short, "--matrix", "--runs", "2", "--workers", "2", "--out", tmp_path / "out", "--quiet")
    code, out, err = ran(capsys, *words)
    assert (code, err) == (2, "")
    assert "SIMULATED" in out
    assert "THE SOUND RIG IS NEVER ACCEPTED (" in out  # nothing is loaded
    assert {path.name for path in (tmp_path / "out").iterdir()} == {FILE, "matrix.json", "matrix.csv", "matrix.svg"}
    with (tmp_path / "out" / "matrix.csv").open(encoding="utf-8", newline="") as stream:
        lines = {(line["flaw"], line["check"]): line for line in csv.DictReader(stream)}
    assert lines["wrong-shunt=2 %", "shunt: shunt reading"]["caught"] == "2"
    assert lines["sound rig", "shunt: shunt reading"]["caught"] == "0"
    assert (lines["wrong-shunt=2 %", "any"]["reject"], lines["sound rig", "any"]["undecided"]) == ("2", "2")
    before = (tmp_path / "out" / FILE).read_bytes()
    code, out, _ = ran(capsys, *words, "--json")
    assert code == 2
    assert json.loads(out) | {"runs_per_second": 0} == {"runs_per_second": 0} | json.loads(
        (tmp_path / "out" / "matrix.json").read_text("utf-8")
    )
    assert (tmp_path / "out" / FILE).read_bytes() == before  # nothing is run a second time
    assert f"No run was taken now: all that counts stood in {tmp_path / 'out'} already" in ran(capsys, *words)[1]


def test_flaws_that_the_rig_cannot_have_are_told(beam_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = ran(capsys, beam_folder, "--matrix", "--runs", "1", "--json")
    absent = {item["flaw"].partition("=")[0]: item["why"] for item in json.loads(out)["cannot_have"]}
    assert code == 1  # a hole: what one run cannot find
    assert absent["slow-leak"] == "the rig has no pressure source"


@pytest.mark.parametrize(
    ("sound", "flawed", "numbers", "code"),
    [
        ("accept", "reject", "other", 0),
        ("accept", "undecided", "other", 0),  # found, though not surely
        ("accept", "accept", "other", 1),  # a hole
        ("accept", "accept", "", 0),  # without effect: nothing could find it
        ("undecided", "accept", "other", 2),  # no sound rig is accepted: nobody can say
        ("void", "void", "other", 2),
    ],
)
def test_a_nightly_job_can_fail_on_a_hole(
    short: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    sound: Outcome,
    flawed: Outcome,
    numbers: str,
    code: int,
) -> None:
    def taken(trial: Trial) -> Result:
        """The last flaw is the one that may be missed."""
        if not trial.flaws:
            return Result(trial, sound, "", (), f"sound {trial.seed}")
        missed = trial.flaws == ("wrong-shunt=2 %",)
        return Result(trial, flawed if missed else "reject", "", (), numbers or f"sound {trial.seed}")

    monkeypatch.setattr(power, "Job", lambda _rig, _documents: taken)
    monkeypatch.setattr(power, "local", lambda workers: Crew(lambda: ThreadPoolExecutor(workers), workers))
    found, out, _ = ran(capsys, short, "--matrix", "--runs", "3")
    assert found == code
    assert ("  wrong-shunt=2 %: 0 %" in out) == (code == 1)
    assert ran(capsys, short, "--matrix", "--runs", "3", "--json")[0] == code
    assert ran(capsys, short, "--healthy", "--runs", "3")[0] == 0  # it measures, and does not judge


def up_to_12_permille(trial: Trial) -> Result:
    """In place of an acceptance, which takes a second: what comes out is known then."""
    size = parse(trial.flaws[0].partition("=")[2], "ratio").value if trial.flaws else 0.0
    return Result(trial, "accept" if size <= 0.012 else "reject", "", ())


def test_one_flaw_over_its_sizes(
    short: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(power, "Job", lambda _rig, _documents: up_to_12_permille)
    monkeypatch.setattr(power, "local", lambda workers: Crew(lambda: ThreadPoolExecutor(workers), workers))
    words = (short, "--flaw", "wrong-shunt", "--from", "0.1 %", "--to", "3 %", "--runs", "436", "--json")
    more = ("--limit", "1 %", "--process-mean", "0 %", "--process-sd", "1 %", "--workers", "2", "--out", tmp_path / "o")
    code, out, _ = ran(capsys, *words, *more)
    data: dict[str, Any] = json.loads(out)
    assert code == 0
    assert data["caught at 95 %"]["size"] == pytest.approx(0.012, rel=0.1)
    assert data["producer's risk"]["share"] == 0.0
    assert data["consumer's risk"] | {"size": 0.01, "count": 75} == data["consumer's risk"]
    risks = data["global risks"]  # Φ(1.2) - Φ(1) is accepted, though it is beyond 1 %; all that conforms is accepted
    assert risks["consumer"]["value"] == pytest.approx(0.0436, abs=5e-3)
    assert risks["producer"]["value"] == pytest.approx(0.0, abs=1e-9)
    assert risks["beyond the ends"] == pytest.approx(0.5398 + 0.0013, abs=1e-3)  # Φ(0.1), 1 - Φ(3)
    assert {path.name for path in (tmp_path / "o").iterdir()} >= {"curve-wrong-shunt.svg", "curve-wrong-shunt.csv"}
    _, text, _ = ran(capsys, *words[:-1], *more)
    assert re.search(r"one of the rigs again:\n  .* --seed 1(2|3|4)\d\d --flaw 'wrong-shunt=1 %'", text)


def test_the_sound_rig(short: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = ran(capsys, short, "--healthy", "--runs", "3", "--json")
    data = json.loads(out)
    (row,) = data["rows"]
    assert code == 0
    assert data["accepted_share"] == 0
    assert data["runs_per_second"] > 0
    assert row["verdicts"] == {"accept": 0, "undecided": 3, "reject": 0, "void": 0}  # nothing is loaded


def test_the_sound_rigs_verdicts_are_counted_in_its_table(
    short: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert ran(capsys, short, "--healthy", "--runs", "2", "--out", tmp_path / "out")[0] == 0
    with (tmp_path / "out" / "healthy.csv").open(encoding="utf-8", newline="") as stream:
        (line,) = csv.DictReader(stream)
    counts = [line[verdict] for verdict in ("accept", "undecided", "reject", "void")]
    assert (line["check"], line["of"], counts) == ("any", "2", ["0", "2", "0", "0"])


def test_without_a_folder_nothing_is_said_to_be_kept(short: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Ctrl-C comes with the first run that is kept."""

    class Stops(Results):
        def append(self, result: Result) -> None:
            super().append(result)
            os.kill(os.getpid(), signal.SIGINT)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(power, "Results", Stops)
        old = signal.signal(signal.SIGINT, signal.default_int_handler)
        try:
            code, _, err = ran(capsys, short, "--healthy", "--runs", "50")
        finally:
            signal.signal(signal.SIGINT, old)
    assert code == 3
    assert re.search(r"\d runs? (is|are) thrown away: with --out DIR they are kept", err)


def test_other_documents_are_refused(short: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = (short, "--healthy", "--runs", "1", "--out", tmp_path / "out")
    assert ran(capsys, *words)[0] == 0
    (short / "acceptance.yaml").write_text(SHORT.replace("0.5 %", "0.6 %"), "utf-8")
    code, _, err = ran(capsys, *words)
    assert code == 4
    assert "results of another acceptance.yaml" in err


def test_ctrl_c_on_the_command_line(beam_folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The whole group gets the signal, as from a terminal; the workers finish, and the same command goes on."""
    out = tmp_path / "out"
    words = ["power", str(beam_folder), "--healthy", "--runs", "300", "--workers", "2", "--out", str(out)]
    whole = (
        "import signal; signal.signal(signal.SIGINT, signal.default_int_handler); from rigproof.__main__ import main"
    )
    code = f"{whole}\nif __name__ == '__main__': main()"
    script = tmp_path / "script.py"
    script.write_text(code, "utf-8")
    started = subprocess.Popen(
        [sys.executable, script, *words], start_new_session=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    while started.poll() is None and (not (out / FILE).exists() or (out / FILE).read_bytes().count(b"\n") < 4):
        pass
    os.killpg(started.pid, signal.SIGINT)
    _, err = started.communicate(timeout=120)
    assert started.returncode == 3
    assert "the same command goes on from there" in err.decode("utf-8")
    part = (out / FILE).read_bytes()
    kept = part.count(b"\n") - 1
    assert 3 <= kept < 300
    assert b'"void"' not in part  # no worker took the signal for an end of its run
    assert ran(capsys, *words[1:4], str(kept + 2), *words[5:])[0] == 0
    assert (out / FILE).read_bytes().startswith(part)


PROCESS = ("--process-mean", "0 %", "--process-sd")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "choose one of them"),
        (("--healthy", "--matrix"), "choose one of them"),
        (("--matrix", "--from", "1 %"), "belong to --flaw"),
        (("--matrix", "--workers", "2", "--scheduler", "tcp://127.0.0.1:1"), "a cluster brings its own workers"),
        (("--flaw", "thin-wall"), "--from the mild end --to the severe one"),
        (("--flaw", "thin-wal", "--from", "1 %", "--to", "2 %"), "no flaw is called 'thin-wal'"),
        (("--flaw", "swapped-channels", "--from", "1 %", "--to", "2 %"), "has no size"),
        (("--flaw", "thin-wall", "--from", "2 %", "--to", "2 %"), "are the same"),
        (("--flaw", "thin-wall", "--from", "3 bar", "--to", "4 bar"), "--from 3 bar: '3 bar': 'bar' is a unit of"),
        (("--flaw", "thin-wall", "--from", "3 %", "--to", "4 bar"), "--to 4 bar: "),
        (("--flaw", "thin-wall", "--from", "3 %", "--to", "4 %", "--limit", "x"), "--limit x: "),
        (("--flaw", "thin-wall", "--from", "3 %", "--to", "4 %", *PROCESS, "1 bar"), "--process-sd 1 bar: "),
        (("--flaw", "thin-wall", "--from", "3 %", "--to", "4 %", *PROCESS, "0 %"), "a standard deviation is above 0"),
        (("--flaw", "thin-wall", "--from", "3 %", "--to", "4 %", "--runs", "435"), "takes 436 at least: 136 look for"),
        (("--flaw", "thin-wal", "--from", "3 %", "--to", "4 %", "--runs", "3"), "no flaw is called 'thin-wal'"),
        (("--healthy", "--runs", "0"), "'0' is no whole number, 1 at least and 1,000,000 at most."),
        (("--healthy", "--runs", "ten"), "'ten' is no whole number, 1 at least"),
        (("--healthy", "--first-seed", "-1"), "'-1' is no whole number, 0 at least and 1,099,511,627,776 at most."),
        (("--healthy", "--scheduler", "nonsense"), "--scheduler nonsense: is no address; write one such as tcp://"),
        (("--flaw", "thin-wall", "--from", "1 %", "--to", "200 %"), "out of bounds"),
        (("--flaw", "thin-wall", "--from", "1 %", "--to", "2 %", "--process-sd", "1 %"), "need both"),
    ],
)
def test_words_that_do_not_fit(
    short: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], said: str
) -> None:
    code, _, err = ran(capsys, short, *words)
    assert code == 4
    assert said in err
