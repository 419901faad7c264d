"""`rigproof report`: a record is proved before it is shown."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from rigproof.__main__ import run
from rigproof.errors import ExitCode
from rigproof.journal import read_journal
from rigproof.run.plan import Plan
from rigproof.verdict.record import Verdict

REPORTS = ("report.html", "junit.xml", "checks.csv")


@pytest.fixture(scope="module")
def record(accept: Callable[..., Verdict], spool: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("run")
    accept(spool, folder, ["leakage"])
    return folder


@pytest.fixture
def copy(record: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(record, tmp_path / "copy"))


def refused(folder: Path, capsys: pytest.CaptureFixture[str]) -> str:
    """What is said where no report was written."""
    capsys.readouterr()
    assert run(["report", str(folder)]) == ExitCode.WRONG_INPUT
    assert not any((folder / name).exists() for name in REPORTS)
    said = capsys.readouterr()
    assert said.out == ""
    return said.err


def edited(folder: Path, change: Callable[[dict[str, object]], object]) -> None:
    path = folder / "verdict.json"
    data = json.loads(path.read_text("utf-8"))
    change(data)
    path.write_text(json.dumps(data), "utf-8")


def test_an_untouched_record_is_reported(copy: Path) -> None:
    assert run(["report", str(copy)]) == ExitCode.ACCEPT
    assert all((copy / name).exists() for name in REPORTS)


def test_an_edited_verdict_is_not(copy: Path, capsys: pytest.CaptureFixture[str]) -> None:
    edited(copy, lambda data: data.update(verdict="accept"))
    said = refused(copy, capsys)
    assert "is not what the journal gives, it differs in verdict: it was changed;" in said
    assert "`rigproof judge`" in said


def test_nor_one_that_hides_behind_other_plugins(copy: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Naming another version must not make an edited verdict one that cannot be compared."""
    stranger = {"name": "steps", "distribution": "rigproof", "version": "0.0.1"}
    edited(copy, lambda data: data.update(verdict="accept", judged_with=[stranger]))
    assert "it differs in verdict: it was changed, or the plugins" in refused(copy, capsys)


def test_other_plugins_that_say_the_same_do_no_harm(copy: Path) -> None:
    edited(copy, lambda data: data.update(judged_with=[]))
    assert run(["report", str(copy)]) == ExitCode.ACCEPT


def test_an_edited_journal_is_not(copy: Path, capsys: pytest.CaptureFixture[str]) -> None:
    journal = copy / "journal.jsonl"
    journal.write_bytes(journal.read_bytes().replace(b'"volt":50.0', b'"volt":51.0', 1))
    assert "its link does not chain it" in refused(copy, capsys)


def test_nor_a_whole_journal_of_another_run(
    copy: Path, accept: Callable[..., Verdict], spool: Plan, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "other").mkdir()
    accept(spool, tmp_path / "other", [])
    shutil.copy(tmp_path / "other" / "journal.jsonl", copy / "journal.jsonl")
    assert "journal" in refused(copy, capsys)


def test_without_a_journal_nothing_proves_the_verdict(copy: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (copy / "journal.jsonl").unlink()
    assert "cannot be read" in refused(copy, capsys)


def test_a_run_that_was_killed_is_reported_as_void(copy: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Its journal is true as far as it goes: what is cut off at the end is no edit, and the verdict says it."""
    journal = copy / "journal.jsonl"
    lines = journal.read_bytes().splitlines(keepends=True)
    journal.write_bytes(b"".join(lines[: len(lines) // 2]) + lines[len(lines) // 2][:40])
    assert read_journal(journal).torn
    assert run(["judge", str(journal), "--out", str(copy)]) == ExitCode.VOID
    assert run(["report", str(copy)]) == ExitCode.ACCEPT
    assert "the run was killed" in (copy / "report.html").read_text("utf-8")
