"""`rigproof verify`: what was changed after the run is told, and told where it is."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from rigproof.clock import WallClock
from rigproof.commands.verify import command, verify_folder
from rigproof.errors import ExitCode, JournalError
from rigproof.journal import JournalWriter, read_journal
from rigproof.verdict.record import DocumentRecord, Verdict, to_bytes

RIG, PROCEDURE = "rigproof: rig/1\nname: Träger\n", "rigproof: procedure/1\n"


def document(name: str, sha256: str) -> DocumentRecord:
    return DocumentRecord(name=name, sha256=sha256)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """What a run leaves: a journal, and the verdict that was made from it."""
    with JournalWriter(tmp_path / "journal.jsonl", WallClock()) as journal:
        journal.write("run", rig={"text": RIG}, procedure={"text": PROCEDURE})
        journal.write("note", text="wet floor")
        journal.write("end", how="finished")
    verdict = Verdict(
        verdict="undecided",
        why=(),
        simulated=False,
        twin=None,
        rig=document("beam", hashlib.sha256(RIG.encode()).hexdigest()),
        part="beam",
        procedure=document("none", hashlib.sha256(PROCEDURE.encode()).hexdigest()),
        journal=document("journal.jsonl", read_journal(tmp_path / "journal.jsonl").sha256),
        started="2026-11-25T08:00:00+00:00",
        ended="2026-11-25T09:00:00+00:00",
        end="finished",
        decision_rule="guarded acceptance",
        risk=0.05,
        coverage=0.99,
        instruments=(),
        plugins=(),
        judged_with=(),
        steps=(),
        checks=(),
        shown=(),
        not_shown=(),
        safe_end=(),
        cautions=(),
    )
    (tmp_path / "verdict.json").write_bytes(to_bytes(verdict))
    return tmp_path


def change(path: Path, old: str, new: str) -> None:
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new), "utf-8")


def test_an_untouched_record_holds(folder: Path) -> None:
    checked, problems = verify_folder(folder)
    assert problems == []
    assert checked[0].startswith("journal.jsonl: 3 lines hold, SHA-256 ")
    assert checked[1:] == [f"verdict.json: names this {what}" for what in ("journal", "rig", "procedure")]


def test_a_changed_line_is_named(folder: Path) -> None:
    change(folder / "journal.jsonl", "wet", "dry")
    checked, problems = verify_folder(folder)
    assert checked == []
    assert [problem[:23] for problem in problems] == ["journal.jsonl: line 2: "]


def test_lines_cut_off_whole_are_told_by_the_verdict(folder: Path) -> None:
    """The chain of what is left holds; the verdict was made from more."""
    lines = (folder / "journal.jsonl").read_bytes().splitlines(keepends=True)
    (folder / "journal.jsonl").write_bytes(b"".join(lines[:2]))
    _, problems = verify_folder(folder)
    assert len(problems) == 1
    assert problems[0].startswith("verdict.json: journal SHA-256 ")


@pytest.mark.parametrize("what", ["rig", "procedure"])
def test_a_verdict_that_names_another_document_is_told(folder: Path, what: str) -> None:
    text = {"rig": RIG, "procedure": PROCEDURE}[what]
    change(folder / "verdict.json", hashlib.sha256(text.encode()).hexdigest(), "0" * 64)
    _, problems = verify_folder(folder)
    assert [problem.split(" is named")[0] for problem in problems] == [f"verdict.json: {what} SHA-256 {'0' * 64}"]


def test_a_journal_that_names_no_documents_is_told(folder: Path) -> None:
    (folder / "journal.jsonl").unlink()
    with JournalWriter(folder / "journal.jsonl", WallClock()):
        pass
    _, problems = verify_folder(folder)
    assert [problem.split()[1] for problem in problems] == ["journal", "rig", "procedure"]
    assert problems[1].endswith("the record has none")


def test_a_run_without_a_verdict_is_said_and_holds(folder: Path) -> None:
    (folder / "verdict.json").unlink()
    checked, problems = verify_folder(folder)
    assert problems == []
    assert checked[-1] == "verdict.json: there is none; `rigproof judge` makes it from the journal"


@pytest.mark.parametrize("content", ["", "{}", "[" * 10_000, "\x00"])
def test_a_file_that_is_no_verdict_is_told(folder: Path, content: str) -> None:
    (folder / "verdict.json").write_text(content)
    _, problems = verify_folder(folder)
    assert len(problems) == 1
    assert problems[0].startswith("verdict.json: is no verdict (")


def test_a_folder_without_a_journal_cannot_be_verified(tmp_path: Path) -> None:
    with pytest.raises(JournalError, match="cannot be read"):
        verify_folder(tmp_path)


def test_the_command_speaks_to_people_and_machines(folder: Path) -> None:
    said = CliRunner().invoke(command, [str(folder)], standalone_mode=False)
    assert said.return_value == ExitCode.ACCEPT
    assert said.output.count("verdict.json: names this") == 3
    change(folder / "journal.jsonl", "wet", "dry")
    said = CliRunner().invoke(command, [str(folder)], standalone_mode=False)
    assert said.return_value == ExitCode.REJECT
    assert said.output.startswith("DOES NOT HOLD: journal.jsonl: line 2: ")
    said = CliRunner().invoke(command, [str(folder), "--json"], standalone_mode=False)
    read = json.loads(said.output)
    assert (said.return_value, read["holds"], read["checked"], len(read["problems"])) == (ExitCode.REJECT, False, [], 1)
