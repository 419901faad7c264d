"""`rigproof verify`: the chain of the journal, and the verdict by judging again."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rigproof.__main__ import run
from rigproof.commands.verify import verify_folder
from rigproof.errors import ExitCode
from rigproof.plugins import Registry
from rigproof.run.plan import Plan
from rigproof.verdict.record import Verdict


@pytest.fixture(scope="module")
def record(accept: Callable[..., Verdict], spool: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("run")
    accept(spool, folder, ["leakage"])
    return folder


@pytest.fixture
def copy(record: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(record, tmp_path / "copy"))


def test_an_untouched_record_holds(copy: Path, registry: Registry) -> None:
    checked, problems = verify_folder(copy, registry)
    assert problems == []
    assert "byte for byte" in checked[-1]
    assert run(["verify", str(copy)]) == ExitCode.ACCEPT


def test_a_forged_verdict_is_told(copy: Path, registry: Registry) -> None:
    verdict = copy / "verdict.json"
    verdict.write_text(verdict.read_text("utf-8").replace('"verdict": "reject"', '"verdict": "accept"'), "utf-8")
    _, problems = verify_folder(copy, registry)
    assert problems == ["verdict.json: is not what the journal gives; it differs in verdict"]
    assert run(["verify", str(copy)]) == ExitCode.VOID


@pytest.mark.parametrize("content", [b"", b"{}", b"\x00"])
def test_a_file_that_is_no_verdict_is_told(copy: Path, registry: Registry, content: bytes) -> None:
    (copy / "verdict.json").write_bytes(content)
    assert "is no verdict" in verify_folder(copy, registry)[1][0]


def test_an_edited_cut_or_empty_journal_is_told(copy: Path, registry: Registry) -> None:
    journal = copy / "journal.jsonl"
    whole = journal.read_bytes()
    journal.write_bytes(whole.replace(b'"volt":50.0', b'"volt":51.0', 1))
    assert "its link does not chain it" in verify_folder(copy, registry)[1][0]
    journal.write_bytes(b"".join(whole.splitlines(keepends=True)[:-1]))
    assert "has no end" in verify_folder(copy, registry)[1][0]
    journal.write_bytes(b"")
    assert verify_folder(copy, registry)[1] == ["journal.jsonl: holds no run"]


@settings(max_examples=150, suppress_health_check=list(HealthCheck))
@given(st.data())
def test_any_changed_byte_of_journal_or_verdict_is_found(copy: Path, registry: Registry, draw: st.DataObject) -> None:
    name = draw.draw(st.sampled_from(["journal.jsonl"] * 9 + ["verdict.json"]))  # a verdict costs a judging each time
    path = copy / name
    whole = path.read_bytes()
    place = draw.draw(st.integers(0, len(whole) - 1))
    other = draw.draw(st.integers(0, 255).filter(lambda value: value != whole[place]))
    path.write_bytes(whole[:place] + bytes([other]) + whole[place + 1 :])
    try:
        assert verify_folder(copy, registry)[1], (name, place, other)
    finally:
        path.write_bytes(whole)
