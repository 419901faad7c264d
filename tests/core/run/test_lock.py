"""Two runs never share a rig or a folder: the second is told who holds it; a dead one's lock is taken over."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from rigproof.errors import UsageError
from rigproof.run.lock import FILE, locked

HOLDS = """
import sys, time
from pathlib import Path
from rigproof.run.lock import locked
with locked([Path(sys.argv[1])], Path(sys.argv[1]), print):
    print("held", flush=True)
    time.sleep(60)
"""


def holder(folder: Path) -> subprocess.Popen[str]:
    """Another process that holds the folder."""
    other = subprocess.Popen([sys.executable, "-c", HOLDS, str(folder)], stdout=subprocess.PIPE, text=True)
    assert other.stdout
    assert other.stdout.readline() == "held\n"
    return other


def test_the_holder_is_named(tmp_path: Path) -> None:
    with holder(tmp_path) as other:
        said: list[str] = []
        with (
            pytest.raises(
                UsageError,
                match=rf"{tmp_path}: the run since 20\d\d-\d\d-\d\d \d\d:\d\d:\d\d UTC \(process {other.pid} on "
                rf"{socket.gethostname()}, user \w+, record in {tmp_path}\), is under way; wait for its end",
            ),
            locked([tmp_path], tmp_path, said.append),
        ):
            pass
        other.kill()
    assert said == []


def test_the_lock_of_a_dead_process_is_taken_over_with_a_word(tmp_path: Path) -> None:
    with holder(tmp_path) as other:
        other.kill()
    assert (tmp_path / FILE).exists()
    said: list[str] = []
    with locked([tmp_path], tmp_path / "new", said.append):
        assert json.loads((tmp_path / FILE).read_text("utf-8"))["pid"] == os.getpid()
    assert len(said) == 1
    assert f"process {other.pid} on" in said[0]
    assert said[0].endswith("has died; its lock is taken over")
    assert not (tmp_path / FILE).exists()


def test_nothing_is_left_behind_and_the_lock_is_free_again(tmp_path: Path) -> None:
    said: list[str] = []
    for _ in range(2):
        with locked([tmp_path, tmp_path], tmp_path, said.append):  # rig and record in one folder
            assert (tmp_path / FILE).exists()
        assert list(tmp_path.iterdir()) == []
    with pytest.raises(ZeroDivisionError), locked([tmp_path], tmp_path, said.append):
        raise ZeroDivisionError
    assert (list(tmp_path.iterdir()), said) == ([], [])


def test_a_lock_of_another_machine_is_not_taken_over(tmp_path: Path) -> None:
    left = {"pid": 7, "host": "another-machine", "user": "a", "since": "2026-11-26 08:00:00 UTC", "record": "/x"}
    (tmp_path / FILE).write_text(json.dumps(left), "utf-8")
    with (
        pytest.raises(UsageError, match=r"process 7 on another-machine.*then remove .*run\.lock"),
        locked([tmp_path], tmp_path, print),
    ):
        pass
    assert json.loads((tmp_path / FILE).read_text("utf-8")) == left


@pytest.mark.parametrize("content", [b"", b"\x00\xff", b"[]", b"{}"])
def test_a_file_without_a_name_hinders_nobody(tmp_path: Path, content: bytes) -> None:
    (tmp_path / FILE).write_bytes(content)
    said: list[str] = []
    with locked([tmp_path], tmp_path, said.append):
        pass
    assert said == []


def test_many_at_once_let_one_in(tmp_path: Path) -> None:
    """Eight processes go for one folder, over and over: never two inside, also while the file is removed and made."""
    inside = """
import os, sys, time
from pathlib import Path
from rigproof.errors import UsageError
from rigproof.run.lock import locked
folder, end, done = Path(sys.argv[1]), time.monotonic() + 1.5, 0
while time.monotonic() < end:
    try:
        with locked([folder], folder, print):
            os.close(os.open(folder / "inside", os.O_CREAT | os.O_EXCL))
            done += 1
            os.unlink(folder / "inside")
    except UsageError:
        pass
print(done)
"""
    command = [sys.executable, "-c", inside, str(tmp_path)]
    started = [subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) for _ in range(8)]
    said = [process.communicate(timeout=60) for process in started]
    assert [error for _, error in said if error] == []
    assert sum(int(done) for done, _ in said) > 8


# -- on the command line ------------------------------------------------------------------------------------------


def rigproof(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "rigproof", *map(str, arguments)],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def test_a_live_run_locks_its_rig_and_a_simulated_one_only_its_folder(spool_folder: Path, tmp_path: Path) -> None:
    rig = tmp_path / "rig"
    rig.mkdir()
    for name in ("rig.yaml", "twin.yaml"):
        here = (spool_folder / name).read_text("utf-8").replace("192.0.2.", "127.0.0.")  # no addresses for examples
        (rig / name).write_text(here, "utf-8")
    (rig / "acceptance.yaml").write_text("rigproof: procedure/1\nname: x\nsteps:\n  - resistance: {}\n", "utf-8")
    with holder(rig) as other:
        live = rigproof("run", rig, "--out", tmp_path / "live")
        simulated = rigproof("run", rig, "--out", tmp_path / "simulated", "--simulated", "--quiet")
        other.kill()
    assert (live.returncode, simulated.returncode) == (4, 2), (live.stderr, simulated.stderr)
    assert f"process {other.pid} on" in live.stderr
    assert "Traceback" not in live.stderr
    with holder(tmp_path / "simulated") as other:
        second = rigproof("run", rig, "--out", tmp_path / "simulated", "--simulated", "--resume")
        other.kill()
    assert second.returncode == 4
    assert f"process {other.pid} on" in second.stderr


def test_a_rig_folder_that_may_not_be_written_is_told(tmp_path: Path) -> None:
    said: list[str] = []
    if os.getuid() == 0:  # root may write anywhere, so the test steps down from it
        os.seteuid(65534)
    try:
        with locked([Path("/usr")], tmp_path, said.append):
            pass
    finally:
        os.seteuid(os.getuid())
    assert said == ["/usr may not be written, so nothing keeps a second run off it"]
