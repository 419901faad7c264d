"""Writing: the form of a line, what is refused, and what happens when the disk or a signal gets in the way."""

from __future__ import annotations

import errno
import hashlib
import json
import os
import resource
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest

from rigproof.clock import Clock
from rigproof.errors import JournalError
from rigproof.journal import JournalWriter, read_journal, verify


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "journal.jsonl"


def test_a_line_is_compact_json_with_the_link_last(path: Path, clock: Clock) -> None:
    with JournalWriter(path, clock) as journal:
        clock.wait(0.25)
        entry = journal.write("note", text="350 Ω", value=0.1)
    body = '{"n":0,"t":0.25,"kind":"note","text":"350 Ω","value":0.1}'
    link = hashlib.sha256(("rigproof: journal/1" + body).encode()).hexdigest()[:16]
    assert path.read_text("utf-8") == body[:-1] + f',"link":"{link}"}}\n'
    assert (entry.n, entry.t, entry.kind, entry.data) == (0, 0.25, "note", {"text": "350 Ω", "value": 0.1})


def test_each_link_hangs_on_the_one_before(path: Path, clock: Clock) -> None:
    with JournalWriter(path, clock) as journal:
        journal.write("same")
        journal.write("same")
    first, second = (json.loads(line) for line in path.read_text().splitlines())
    body = b'{"n":1,"t":0.0,"kind":"same"}'
    assert second["link"] == hashlib.sha256(first["link"].encode() + body).hexdigest()[:16]


def test_samples_are_columns_by_channel_and_missing_ones_are_null(path: Path, clock: Clock) -> None:
    with JournalWriter(path, clock) as journal:
        entry = journal.samples(
            {"hoop": 3.5, "axial": 3.7},
            0.1,
            {"hoop": np.array([1e-3, np.nan, np.inf]), "axial": np.array([1.0, 2.0])},
            label="zero",
        )
    written = {
        "t0": {"hoop": 3.5, "axial": 3.7},
        "dt": 0.1,
        "values": {"hoop": [1e-3, None, None], "axial": [1.0, 2.0]},
        "label": "zero",
    }
    assert entry.data == written
    assert read_journal(path).entries == (entry,)


def test_the_entry_returned_is_the_entry_read(path: Path, clock: Clock) -> None:
    with JournalWriter(path, clock) as journal:
        entry = journal.write("mixed", pair=(1, 2), number=np.float64(0.1), whole=np.int64(7), row=np.array([1.5, 2.5]))
    assert entry.data == {"pair": [1, 2], "number": 0.1, "whole": 7, "row": [1.5, 2.5]}
    assert read_journal(path).entries == (entry,)


def test_bytes_an_instrument_sent_that_are_no_utf8_come_back(path: Path, clock: Clock) -> None:
    reply = b"\xb5\x00 \xff".decode("utf-8", "surrogateescape")
    with JournalWriter(path, clock) as journal:
        journal.write("reply", text=reply)
    assert read_journal(path).entries[0].data["text"] == reply


@pytest.mark.parametrize("key", ["n", "t", "kind", "link"])
def test_the_journals_own_keys_are_refused_as_fields(path: Path, clock: Clock, key: str) -> None:
    with JournalWriter(path, clock) as journal, pytest.raises(JournalError, match=f"'{key}'.*another name"):
        journal.write("note", **{key: 1})


@pytest.mark.parametrize("value", [float("nan"), float("inf"), {1, 2}, b"raw", object()])
def test_what_json_cannot_hold_is_refused_and_leaves_no_trace(path: Path, clock: Clock, value: object) -> None:
    with JournalWriter(path, clock) as journal:
        with pytest.raises(JournalError, match=r"kind=note.*write null"):
            journal.write("note", value=value)
        assert journal.write("after").n == 0
    assert verify(path) == ()


def test_blocks_that_are_no_rows_are_refused(path: Path, clock: Clock) -> None:
    with JournalWriter(path, clock) as journal, pytest.raises(JournalError, match=r"samples of a: shape \(2, 1\)"):
        journal.samples({"a": 0.0}, 1.0, {"a": np.zeros((2, 1))})
    assert path.read_bytes() == b""


def test_a_journal_is_never_written_over(path: Path, clock: Clock) -> None:
    path.write_text("somebody's run")
    with pytest.raises(JournalError, match=r"is there already.*another folder"):
        JournalWriter(path, clock)
    assert path.read_text() == "somebody's run"


def test_a_missing_folder_is_named(tmp_path: Path, clock: Clock) -> None:
    with pytest.raises(
        JournalError, match=r"journal=.*gone/journal.jsonl: cannot be written .*the folder is not there"
    ):
        JournalWriter(tmp_path / "gone" / "journal.jsonl", clock)


@contextmanager
def as_nobody() -> Iterator[None]:
    """Root may write anywhere, so the test steps down from it."""
    root = os.geteuid() == 0
    if root:
        os.seteuid(65534)
    try:
        yield
    finally:
        if root:
            os.seteuid(0)


def test_a_folder_that_may_not_be_written_is_named(tmp_path: Path, clock: Clock) -> None:
    tmp_path.chmod(0o555)
    with as_nobody(), pytest.raises(JournalError, match=r"Permission denied.*choose another folder"):
        JournalWriter(tmp_path / "journal.jsonl", clock)
    tmp_path.chmod(0o755)


def test_nothing_can_be_added_after_close(path: Path, clock: Clock) -> None:
    journal = JournalWriter(path, clock)
    journal.close()
    journal.close()
    with pytest.raises(JournalError, match="is closed"):
        journal.write("late")


def test_one_writer_per_file(path: Path, clock: Clock) -> None:
    with JournalWriter(path, clock), pytest.raises(JournalError, match="another process is writing it"):
        JournalWriter(path, clock, resume=True)


class Syncs:
    """Counts what is synced, by whether it is a folder."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.files = self.folders = 0
        self.now_s = 0.0
        real = os.fsync

        def fsync(file: int) -> None:
            if os.path.isdir(f"/proc/self/fd/{file}"):
                self.folders += 1
            else:
                self.files += 1
            real(file)

        monkeypatch.setattr(os, "fsync", fsync)
        monkeypatch.setattr(time, "monotonic", lambda: self.now_s)


def test_events_are_synced_at_once_and_samples_once_a_second(
    path: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    syncs = Syncs(monkeypatch)
    with JournalWriter(path, clock) as journal:
        assert (syncs.files, syncs.folders) == (1, 1)
        journal.write("event")
        assert syncs.files == 2
        for syncs.now_s in (0.4, 0.9, 1.1, 1.2, 2.05, 2.2):
            journal.samples({"a": 0.0}, 0.1, {"a": np.zeros(1)})
        assert syncs.files == 4  # at 1.1 s and 2.2 s
    assert syncs.files == 5


def test_a_disk_that_fills_up_says_so_and_the_journal_goes_on_when_there_is_room(
    path: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    with JournalWriter(path, clock) as journal:
        journal.write("before")
        real = os.write

        def full(file: int, data: memoryview) -> int:
            if len(data) > 10:
                return real(file, data[:10])  # a disk takes what it can before it gives up
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

        with monkeypatch.context() as patch:
            patch.setattr(os, "write", full)
            with pytest.raises(JournalError, match=r"No space left.*make room"):
                journal.write("lost", text="x" * 100)
        half = read_journal(path)
        assert ([entry.kind for entry in half.entries], half.torn) == (["before"], True)
        journal.write("after")
    assert [entry.kind for entry in read_journal(path).entries] == ["before", "after"]


def test_a_file_that_may_not_grow_keeps_what_it_has(path: Path, clock: Clock) -> None:
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    with JournalWriter(path, clock) as journal:
        try:
            resource.setrlimit(resource.RLIMIT_FSIZE, (1000, hard))
            journal.write("fits", text="x" * 500)
            with pytest.raises(JournalError, match="raise the limit"):
                journal.write("does not", text="x" * 500)
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        assert path.stat().st_size == 1000  # the half-written line is there …
        assert read_journal(path).torn
        journal.write("room again")  # … and goes before the next one
    assert [entry.kind for entry in read_journal(path).entries] == ["fits", "room again"]


INTERRUPTED = """
import json, signal, sys
from contextlib import suppress
from pathlib import Path
import numpy as np
from rigproof.clock import WallClock
from rigproof.journal import JournalWriter

class Stop(Exception):
    pass

def stop(number, frame):
    raise Stop

acknowledged = []
signal.signal(signal.SIGALRM, stop)
with JournalWriter(Path(sys.argv[1]), WallClock()) as journal:
    for turn in range(150):
        with suppress(Stop):
            signal.setitimer(signal.ITIMER_REAL, 1e-4 + turn * 3e-6)
            for _ in range(5000):  # far longer than the timer, but with an end
                acknowledged.append(journal.samples({"a": 0.0}, 0.1, {"a": np.zeros(3)}, mark=len(acknowledged)).n)
        acknowledged.append(journal.write("safe", mark=len(acknowledged)).n)
print(json.dumps(acknowledged))
"""


def test_a_signal_handler_that_raises_at_any_moment_breaks_no_chain(path: Path) -> None:
    """What follows a Ctrl-C, the source made safe, matters most. A process of its own: no tool of ours is hit too."""
    said = subprocess.run(
        [sys.executable, "-c", INTERRUPTED, str(path)], capture_output=True, text=True, timeout=60, check=True
    )
    journal = read_journal(path)
    assert not journal.torn
    marks = {entry.n: entry.data["mark"] for entry in journal.entries}
    assert [marks[n] for n in json.loads(said.stdout)] == list(range(len(json.loads(said.stdout))))
    assert sum(entry.kind == "safe" for entry in journal.entries) == 150


def test_resuming_goes_on_with_number_time_and_chain(path: Path, clock: Clock) -> None:
    with JournalWriter(path, clock) as journal:
        clock.wait(5.0)
        journal.write("before")
    torn = b'{"n":1,"t":6.0,"ki'
    with path.open("ab") as file:
        file.write(torn)
    clock.wait(3600.0)
    with JournalWriter(path, clock, resume=True) as journal:
        clock.wait(1.0)
        entry = journal.write("after")
    assert (entry.n, entry.t) == (1, 6.0)
    assert verify(path) == ()
    assert path.with_name("journal.jsonl.torn").read_bytes() == torn


def test_a_changed_journal_is_not_resumed(path: Path, clock: Clock) -> None:
    with JournalWriter(path, clock) as journal:
        journal.write("first")
    changed = path.read_bytes().replace(b"first", b"fairy")
    path.write_bytes(changed)
    with pytest.raises(JournalError, match=r"journal\.jsonl:1: its link"):
        JournalWriter(path, clock, resume=True)
    assert path.read_bytes() == changed


KILLED = """
import sys
from pathlib import Path
import numpy as np
from rigproof.clock import WallClock
from rigproof.journal import JournalWriter

path = Path(sys.argv[1])
journal = JournalWriter(path, WallClock(), resume=path.exists())
while True:
    for _ in range(5):
        entry = journal.samples({"a": 0.0, "b": 0.0}, 0.1, {"a": np.zeros(200), "b": np.zeros(200)})
        print(entry.n, flush=True)
    print(journal.write("event", text="x" * 300).n, flush=True)
"""


def test_nothing_acknowledged_is_lost_by_kill_9(path: Path) -> None:
    acknowledged = []
    for delay_s in (0.01, 0.03, 0.05):
        with subprocess.Popen([sys.executable, "-c", KILLED, str(path)], stdout=subprocess.PIPE, text=True) as child:
            assert child.stdout
            acknowledged.append(int(child.stdout.readline()))  # it writes now
            time.sleep(delay_s)
            child.kill()
            acknowledged += [int(line) for line in child.stdout.read().splitlines(keepends=True) if line.endswith("\n")]
    journal = read_journal(path)
    assert len(acknowledged) > 20
    assert set(acknowledged) <= {entry.n for entry in journal.entries}
