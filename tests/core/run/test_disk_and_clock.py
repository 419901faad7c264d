"""A disk that fills up, a folder that may not be written, a date that is set during the run: told, and nothing lost."""

from __future__ import annotations

import errno
import os
import resource
import subprocess
import sys
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from rigproof.clock import Clock
from rigproof.errors import ExitCode, JournalError
from rigproof.journal import read_journal
from rigproof.plugins import Registry
from rigproof.run.accepting import keep, run_and_judge
from rigproof.run.opening import Reach
from rigproof.run.plan import Plan
from rigproof.run.progress import Silent
from rigproof.run.simulated import on_twin
from rigproof.verdict.judging import judge
from rigproof.verdict.record import Verdict, to_bytes

STEPS = "  - resistance: {}\n  - balance: {settle: 60 s}\n"
MAKES = """\
rigproof: procedure/1
name: x
steps:
  - resistance: {}
  - balance: {settle: 5 s}
  - cycles: {source: pump, to: 20 bar, times: 2, levels: 2, exercise: 0, dwell: 1 s, rest: 1 s, readings: 20}
"""


@pytest.fixture
def rig(spool_folder: Path, tmp_path: Path) -> Path:
    folder = tmp_path / "rig"
    folder.mkdir()
    for name in ("rig.yaml", "twin.yaml"):
        (folder / name).write_text((spool_folder / name).read_text("utf-8"), "utf-8")
    (folder / "acceptance.yaml").write_text(MAKES, "utf-8")
    return folder


def rigproof(*arguments: str | Path, most_bytes: int = 0) -> subprocess.CompletedProcess[str]:
    """The command line; its files may not grow beyond `most_bytes`, as on a disk that is full."""

    def limit() -> None:
        if most_bytes:
            resource.setrlimit(resource.RLIMIT_FSIZE, (most_bytes, resource.RLIM_INFINITY))

    command = [sys.executable, "-m", "rigproof", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, timeout=120, check=False, preexec_fn=limit)


# -- the disk -----------------------------------------------------------------------------------------------------


def test_a_run_whose_disk_filled_up_goes_on_once_there_is_room(rig: Path, tmp_path: Path) -> None:
    """The file may grow to 50 kB: the journal stops in the cycles, under pressure."""
    out = tmp_path / "out"
    full = rigproof("run", rig, "--simulated", "--out", out, "--quiet", most_bytes=50_000)
    assert full.returncode == ExitCode.VOID, full.stderr
    assert "the rig was made safe" in full.stderr
    assert "`--resume` goes on with what was recorded" in full.stderr
    assert "Traceback" not in full.stderr
    kept = read_journal(out / "journal.jsonl")
    assert kept.torn
    again = rigproof("run", rig, "--simulated", "--out", out, "--resume")
    assert again.returncode == ExitCode.ACCEPT, again.stderr
    assert "the last line of the record was cut off: it was dropped, and lies in journal.jsonl.torn" in again.stdout
    assert "resumed 2026-11-25" in again.stdout
    assert read_journal(out / "journal.jsonl").entries[: len(kept.entries)] == kept.entries
    assert rigproof("verify", out).returncode == 0


def test_a_verdict_without_room_leaves_the_journal_and_says_how_to_make_it(
    accept: Callable[..., Verdict],
    planned: Callable[..., Plan],
    registry: Registry,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def no_room(*_: Any) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patch:
        patch.setattr(Path, "replace", no_room)
        with pytest.raises(
            JournalError, match=r"verdict\.json: cannot be written \(No space left.*`rigproof judge "
        ) as lost:
            accept(planned(STEPS), tmp_path)
    assert lost.value.exit_code == ExitCode.VOID
    assert [path.name for path in tmp_path.iterdir()] == ["journal.jsonl"]  # no half verdict
    verdict = judge(read_journal(tmp_path / "journal.jsonl"), registry)
    keep(verdict, tmp_path)
    assert (tmp_path / "verdict.json").read_bytes() == to_bytes(verdict)


def test_an_old_verdict_stays_where_a_new_one_has_no_room(
    accept: Callable[..., Verdict], planned: Callable[..., Plan], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    verdict = accept(planned(STEPS), tmp_path)

    def no_room(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", no_room)
    with pytest.raises(OSError, match="No space left"):
        keep(verdict.model_copy(update={"end": "another"}), tmp_path)
    assert (tmp_path / "verdict.json").read_bytes() == to_bytes(verdict)
    assert {path.name for path in tmp_path.iterdir()} == {"journal.jsonl", "verdict.json"}


@pytest.mark.parametrize(
    ("folder", "words"), [("/sys", "cannot be written (Permission denied)"), ("/sys/out", "cannot be made")]
)
def test_a_folder_that_may_not_be_written_is_named(rig: Path, folder: str, words: str) -> None:
    """`/sys` lets nobody make a file, not even root."""
    said = rigproof("run", rig, "--simulated", "--out", folder)
    assert said.returncode == ExitCode.WRONG_INPUT, said.stderr
    assert words in said.stderr
    assert "choose another folder" in said.stderr
    assert "Traceback" not in said.stderr


# -- the date -----------------------------------------------------------------------------------------------------


class SetClock:
    """The twin's clock, whose date somebody sets at `at_s`; its seconds go on as ever."""

    def __init__(self, clock: Clock, at_s: float, by: timedelta) -> None:
        self._clock, self._at_s, self._by = clock, at_s, by

    def now(self) -> float:
        return self._clock.now()

    def wait(self, seconds: float) -> None:
        self._clock.wait(seconds)

    def utc(self) -> datetime:
        return self._clock.utc() + (self._by if self.now() >= self._at_s else timedelta())


@pytest.mark.parametrize(
    ("by", "words"),
    [
        (timedelta(hours=-1), "the date was set back by 3600 s between 2026-11-25 08:00:00 and 2026-11-25 07:0"),
        (timedelta(hours=3), "the date was set forward, or the machine slept, by 10800 s between 2026-11-25 08:00:00"),
        (timedelta(seconds=-2), ""),  # a time service does so
    ],
)
def test_a_date_that_is_set_during_the_run_is_told_and_changes_no_check(
    planned: Callable[..., Plan], registry: Registry, spool_folder: Path, tmp_path: Path, by: timedelta, words: str
) -> None:
    plan, found = planned(STEPS), []
    for name, clock_by in (("even", timedelta()), ("set", by)):
        folder = tmp_path / name
        folder.mkdir()
        with on_twin(plan, spool_folder, 0, ()) as (reach, twin):
            clock = SetClock(reach.clock, 30.0, clock_by)
            moved = Reach(clock, reach.visa_library, simulated=True, addresses=reach.addresses)
            found.append(run_and_judge(plan, moved, folder, Silent(), twin))
    even, moved_verdict = found
    assert moved_verdict.checks == even.checks
    assert even.clock == ()
    assert "; ".join(moved_verdict.clock).startswith(words)
    assert len(moved_verdict.clock) == bool(words)
    times = [entry.t for entry in read_journal(tmp_path / "set" / "journal.jsonl").entries]
    assert times == sorted(times)
    assert to_bytes(judge(read_journal(tmp_path / "set" / "journal.jsonl"), registry)) == to_bytes(moved_verdict)
