"""Whole runs by hand: from a file of answers, at a terminal, and without one."""

from __future__ import annotations

import json
import os
import select
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from rigproof.__main__ import run
from rigproof.errors import ExitCode
from rigproof.journal import read_journal

# A program in a session of its own, with the pseudo-terminal as its controlling one, so that Ctrl-C reaches it. A
# person who has gone is called for a second, not for 15 s.
AT_A_TERMINAL = """\
import fcntl, termios
fcntl.ioctl(0, termios.TIOCSCTTY, 0)
from rigproof.__main__ import main
from rigproof.run import safe_end
safe_end.MISSING_FOR_S = 1.0
main()
"""
LIMIT_S = 30.0
CTRL_C, CTRL_D = "\x03", "\x04"
LOAD_ALONE = """\
rigproof: procedure/1
name: load alone
steps:
  - cycles: {source: weights, to: 58.85 N, times: 2, levels: 3, exercise: 0, dwell: 0 s, rest: 0 s}
"""
PLATES = ("D-0005\n", "\n", "S-0031\n", "\n", "R-0117\n", "\n", "M-0020\n", "\n", "yes\n")


class Conversation:
    """`rigproof` at a terminal, and somebody who types when it asks."""

    def __init__(self, *arguments: str) -> None:
        self._keyboard, slave = os.openpty()
        self._program = subprocess.Popen(
            [sys.executable, "-c", AT_A_TERMINAL, *arguments],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            start_new_session=True,
        )
        os.close(slave)
        self._seen, self._answered = b"", 0

    def type(self, *lines: str) -> None:
        """Answer the next questions, each when it is asked."""
        for line in lines:
            while len(self._seen) == self._answered or not self._seen.endswith(b"> "):
                assert self._read(), self._seen.decode()
            self._answered = len(self._seen)
            os.write(self._keyboard, line.encode())

    def end(self) -> tuple[int, str]:
        """Exit code and the whole screen."""
        while self._read():
            pass
        return self._program.wait(LIMIT_S), self._seen.decode()

    def hang_up(self) -> int:
        """The window is closed; returns the exit code."""
        os.close(self._keyboard)
        self._keyboard = -1
        return self._program.wait(LIMIT_S)

    def close(self) -> None:
        self._program.kill()
        self._program.wait()
        if self._keyboard >= 0:
            os.close(self._keyboard)

    def _read(self) -> bool:
        if not select.select([self._keyboard], [], [], LIMIT_S)[0]:
            return False
        try:
            data = os.read(self._keyboard, 4096)
        except OSError:  # the program has ended
            return False
        self._seen += data
        return bool(data)


@pytest.fixture
def converse() -> Iterator[Callable[..., Conversation]]:
    begun: list[Conversation] = []

    def begin(*arguments: str) -> Conversation:
        begun.append(Conversation(*arguments))
        return begun[-1]

    yield begin
    for conversation in begun:
        conversation.close()


def transcribed(journal: Path) -> str:
    """The answers of a run as a file of answers; where Enter was pressed there is nothing to write."""
    asked = [entry.data for entry in read_journal(journal).entries if entry.kind == "asked"]
    lines = [f"{entry['label']}: {entry['answer']}" for entry in asked if entry["answer"]]
    return "\n".join(["rigproof: answers/1", "person: A. Example", *lines])


def judged(verdict: dict[str, Any]) -> list[tuple[object, ...]]:
    """What was found; how fast the machine was, which is the wall clock's in a run that is not simulated, left out."""
    timed = "reading to safe command"
    return [
        (check["name"], check["finding"], None if check["name"] == timed else check["measured"])
        for check in verdict["checks"]
    ]


def test_a_file_with_what_the_simulated_person_saw_gives_the_same_findings(
    beam_folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    simulated, real, file = tmp_path / "simulated", tmp_path / "real", tmp_path / "answers.txt"
    assert run(["run", str(beam_folder), "--simulated", "--quiet", "--out", str(simulated)]) == ExitCode.ACCEPT
    file.write_text(transcribed(simulated / "journal.jsonl"), "utf-8")
    assert run(["run", str(beam_folder), "--answers", str(file), "--out", str(real)]) == ExitCode.ACCEPT
    assert "worked by hand: A. Example, file answers.txt" in capsys.readouterr().out
    first, second = (json.loads((folder / "verdict.json").read_text("utf-8")) for folder in (simulated, real))
    assert judged(first) == judged(second)
    asked = [entry.data["question"] for entry in read_journal(real / "journal.jsonl").entries if entry.kind == "asked"]
    assert any(text.startswith("Resistance, strain channel top (no load). ") for text in asked)
    assert second["people"] == [{"name": "A. Example", "how": "file answers.txt"}]
    assert second["simulated"] is False
    assert run(["verify", str(real)]) == ExitCode.ACCEPT
    assert run(["report", str(real)]) == ExitCode.ACCEPT


def test_lines_that_nobody_asked_for_are_told_and_kept(
    beam_folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    simulated, real, file = tmp_path / "simulated", tmp_path / "real", tmp_path / "answers.txt"
    assert run(["run", str(beam_folder), "--simulated", "--quiet", "--out", str(simulated)]) == ExitCode.ACCEPT
    lines = transcribed(simulated / "journal.jsonl").splitlines()
    file.write_text("\n".join([*lines, "indicator value 1: 7"]), "utf-8")
    said = f"answers.txt:{len(lines) + 1}: `indicator value 1: 7` does not count: nobody asked for it after line "
    capsys.readouterr()
    assert run(["run", str(beam_folder), "--answers", str(file), "--quiet", "--out", str(real)]) == ExitCode.ACCEPT
    assert f"caution: {said}" in capsys.readouterr().out
    told = json.loads((real / "verdict.json").read_text("utf-8"))["cautions"][-1]
    assert told.startswith(said)
    assert run(["verify", str(real)]) == ExitCode.ACCEPT


def test_another_set_of_weights_than_the_rig_s_voids_the_run(
    beam_folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "answers.txt"
    said = "weights serial number: D-0006\nweights empty: yes\n"
    file.write_text(f"rigproof: answers/1\nperson: A. Example\n{said}", "utf-8")
    assert run(["run", str(beam_folder), "--answers", str(file), "--out", str(tmp_path / "out")]) == ExitCode.VOID
    assert "D-0005" in capsys.readouterr().out  # rig.yaml names another set


def test_of_a_run_that_ended_early_no_line_is_said_to_be_left_over(
    beam_folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file, out = tmp_path / "answers.txt", tmp_path / "out"
    said = "weights serial number: D-0006\nweights empty: yes\nindicator value 1: 7\n"
    file.write_text(f"rigproof: answers/1\nperson: A. Example\n{said}", "utf-8")
    assert run(["run", str(beam_folder), "--answers", str(file), "--out", str(out)]) == ExitCode.VOID
    assert "does not count" not in capsys.readouterr().out
    assert "does not count" not in (out / "verdict.json").read_text("utf-8")


def test_a_number_that_was_misread_is_asked_once_more(
    beam_folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "answers.txt"
    said = "weights serial number: D-0006\nweights serial number: D-0005\nweights empty: yes\n"
    file.write_text(f"rigproof: answers/1\nperson: A. Example\n{said}", "utf-8")
    assert run(["run", str(beam_folder), "--answers", str(file), "--out", str(tmp_path / "out")]) == ExitCode.VOID
    shown = capsys.readouterr().out
    assert "'D-0006' is not the one that rig.yaml names. Read it again." in shown
    assert "the rig names 'D-0005'" not in shown
    assert "no answer: " in shown or "and 'indicator serial number' is asked" in shown  # the next instrument


def test_without_a_terminal_the_remedies_are_named(
    beam_folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    assert run(["run", str(beam_folder), "--out", str(out)]) == ExitCode.WRONG_INPUT
    assert capsys.readouterr().err == (
        "indicator, ohmmeter, insulation tester, weights: a person works this by hand, and there is no terminal to "
        "ask in; start the run in a terminal, give --answers FILE, or --simulated\n"
    )
    assert not out.exists()


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--simulated", "--person", "A. Example"], "a simulated or replayed run asks nobody here"),
        (["--simulated", "--answers", "answers.txt"], "a simulated or replayed run asks nobody here"),
        (["--replayed", "--person", "A. Example"], "a simulated or replayed run asks nobody here"),
        (["--answers", "answers.txt", "--person", "A. Example"], "the file of --answers names the person"),
        (["--person", "7"], "'7' is no name of a person"),
        (["--simulated", "--operator", "7"], "'7' is no name of a person"),
        (["--answers", "none.txt"], "--answers none.txt: cannot be read"),
    ],
)
def test_options_that_cannot_be(
    beam_folder: Path, capsys: pytest.CaptureFixture[str], options: list[str], said: str
) -> None:
    assert run(["run", str(beam_folder), *options]) == ExitCode.WRONG_INPUT
    assert said in capsys.readouterr().err


def test_nobody_is_asked_for_a_rig_that_needs_nobody(spool_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["run", str(spool_folder), "--person", "A. Example"]) == ExitCode.WRONG_INPUT
    assert "--person: no instrument of this rig is read by hand" in capsys.readouterr().err


def test_check_connects_without_asking_anybody(beam_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", str(beam_folder), "--connect"]) == ExitCode.ACCEPT
    assert capsys.readouterr().out.count("worked by hand, asked in the run") == 4
    assert run(["check", str(beam_folder), "--connect", "--simulated"]) == ExitCode.ACCEPT
    assert "S-0031" in capsys.readouterr().out


def test_plan_warns_of_weights(beam_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["plan", str(beam_folder)]) == ExitCode.ACCEPT
    shown = " ".join(capsys.readouterr().out.split())
    for word in (
        "worked by hand; the time to read",
        "Weights fall",
        "safety shoes",
        "Put a support close under the pan",
        "nobody else is within reach",
    ):
        assert word in shown


def test_ctrl_c_under_load_calls_for_the_weights_until_they_are_off(
    beam_folder: Path, tmp_path: Path, converse: Callable[..., Conversation]
) -> None:
    (beam_folder / "acceptance.yaml").write_text(LOAD_ALONE, "utf-8")
    talk = converse("run", str(beam_folder), "--out", str(tmp_path / "out"))
    zero = ("1445\n", "\n", "555\n", "\n")
    talk.type("A. Example\n", *PLATES, *zero, *zero, "A\n", "1632\n", "\n", "370\n", "\n")
    talk.type(CTRL_C, "no\n", "yes\n")
    code, shown = talk.end()
    assert code == ExitCode.VOID
    assert shown.count("TAKE ALL WEIGHTS OFF THE PAN NOW") == 2  # at the start and now
    entries = read_journal(tmp_path / "out" / "journal.jsonl").entries
    assert entries[-1].data["why"] == "stopped by the operator (Ctrl-C)"
    asked = [(e.data["label"], e.data["answer"]) for e in entries if e.kind == "asked"]
    assert asked[-3:] == [("weights put on B", None), ("weights empty", "no"), ("weights empty", "yes")]
    assert [e.data["confirmed"] for e in entries if e.kind == "safe"] == [True]


def test_wrong_answers_are_asked_again_and_ctrl_d_loses_the_meter(
    beam_folder: Path, tmp_path: Path, converse: Callable[..., Conversation]
) -> None:
    talk = converse("run", str(beam_folder), "--person", "A. Example", "--out", str(tmp_path / "out"))
    talk.type(*PLATES, "3510\n", "351 mV\n", "350,99\n", "350.99\n", "\n", CTRL_D, "yes\n")
    code, shown = talk.end()
    words = " ".join(shown.split())
    assert code == ExitCode.VOID
    assert "3510.00 Ω is not between 300 Ω and 400 Ω" in words
    assert "'mV' is a unit of voltage, and a resistance is wanted" in words
    assert "write a decimal point, as in '350.99 Ω'" in words
    assert "instrument lost: ohmmeter: no answer: the input ended" in words
    kept = [e.data["answer"] for e in read_journal(tmp_path / "out" / "journal.jsonl").entries if e.kind == "asked"]
    assert kept[-7:] == ["3510", "351 mV", "350,99", "350.99", "", None, "yes"]


def test_a_closed_terminal_voids_the_run_and_confirms_nothing(
    beam_folder: Path, tmp_path: Path, converse: Callable[..., Conversation]
) -> None:
    talk = converse("run", str(beam_folder), "--person", "A. Example", "--out", str(tmp_path / "out"))
    talk.type(*PLATES, "350.99\n")
    assert talk.hang_up() == ExitCode.VOID
    entries = read_journal(tmp_path / "out" / "journal.jsonl").entries
    assert entries[-1].data["how"] in {"stopped", "instrument lost"}  # the signal and the lost input race
    assert [e.data["confirmed"] for e in entries if e.kind == "safe"] == [False]
