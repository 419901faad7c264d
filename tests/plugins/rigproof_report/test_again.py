"""The commands on the page do what the page says."""

from __future__ import annotations

import shlex
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from rigproof.__main__ import run
from rigproof.errors import ExitCode
from rigproof.run.plan import Plan
from rigproof.verdict.record import ResumeRecord, Verdict
from rigproof_report.again import proof_commands, run_commands, why_not
from rigproof_report.record import read_record

if TYPE_CHECKING:
    from .conftest import MakeVerdict

HEAD = {"rig": {"file": "rigs/spool/rig.yaml"}, "procedure": {"file": "rigs/spool/acceptance.yaml"}}
RESUMED = ResumeRecord(utc="2026-11-26T08:00:00+00:00", after="killed", left_safe=True, zero_moved={})
ROOT = Path(__file__).parents[3]


def test_the_same_run_comes_again(
    accept: Callable[..., Verdict], spool: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Typed as they stand, in the folder that holds the run: the rig's path is the one it was run with."""
    (tmp_path / "a run").mkdir()
    flaws = ["loose-gauge=15 %", "swapped-channels"]
    verdict = accept(spool, tmp_path / "a run", flaws, 7)
    record = read_record(verdict, tmp_path / "a run" / "journal.jsonl")
    monkeypatch.chdir(tmp_path)
    (tmp_path / "rigs").symlink_to(ROOT / "rigs")
    commands = [shlex.split(line) for line in run_commands(verdict, record.head, "a run")]
    assert commands[0][3:] == [
        *("--simulated", "--seed", "7", "--flaw", "loose-gauge=15 %", "--flaw", "swapped-channels"),
        *("--out", "run-again"),
    ]
    assert [words[0] for words in commands] == ["rigproof", "rigproof"]
    assert run(commands[0][1:]) == ExitCode.REJECT
    assert run(commands[1][1:]) == 0  # no difference
    written = [(tmp_path / name / "journal.jsonl").read_bytes() for name in ("a run", "run-again")]
    assert written[0].splitlines()[1:] == written[1].splitlines()[1:]
    for line in proof_commands("a run"):
        assert run(shlex.split(line)[1:]) in (ExitCode.ACCEPT, ExitCode.REJECT)


def test_a_live_run_and_one_on_a_bench_cannot_come_again(verdict: MakeVerdict) -> None:
    cases: list[tuple[dict[str, Any], str]] = [
        ({"simulated": False}, "it was a live one"),
        ({"simulated": True}, "its simulated bench stood in another process"),
        ({"simulated": False, "replayed": True, "resumed": (RESUMED,)}, "it was cut off or suspended, and resumed"),
    ]
    for changed, why in cases:
        assert run_commands(verdict(twin=None, **changed), HEAD, "d") == ()
        assert why_not(verdict(twin=None, **changed)) == why


def test_a_replayed_run_and_one_with_another_procedure(verdict: MakeVerdict) -> None:
    replayed = verdict(twin=None, simulated=False, replayed=True)
    assert why_not(replayed) == ""
    assert run_commands(replayed, HEAD, "d")[0] == "rigproof run rigs/spool --replayed --out run-again"
    other = HEAD | {"procedure": {"file": "rigs/spool/installation.yaml"}}
    assert run_commands(replayed, other, "d")[0] == (
        "rigproof run rigs/spool --procedure installation.yaml --replayed --out run-again"
    )
