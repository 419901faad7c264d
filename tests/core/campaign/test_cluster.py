"""A campaign on a real Dask scheduler with workers as processes of their own, on loopback."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from rigproof.campaign.crew import Crew, Job, cluster, local
from rigproof.campaign.engine import Engine
from rigproof.campaign.results import FILE, Results, digests
from rigproof.campaign.trial import Trial
from rigproof.errors import Stopped, UsageError

pytest.importorskip("distributed", reason="the library distributed is not installed")
pytestmark = [pytest.mark.network, pytest.mark.filterwarnings("ignore::DeprecationWarning")]

TRIALS = [Trial(("thin-wall=5 %",), seed) for seed in range(40)]
PATIENCE_S = 60


class Cluster:
    """A scheduler and two workers."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._processes: list[subprocess.Popen[bytes]] = []
        note = folder / "scheduler.json"
        self._start("dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard", "--no-show",
                    "--scheduler-file", str(note))  # fmt: skip
        self.address = self._address(note)
        self.workers = [self.worker(), self.worker()]

    def _start(self, command: str, *words: str) -> subprocess.Popen[bytes]:
        with (self._folder / f"log{len(self._processes)}").open("wb") as log:
            code = f"from distributed.cli.{command} import main; main()"
            started = subprocess.Popen([sys.executable, "-c", code, *words], stdout=log, stderr=log, cwd=self._folder)
        self._processes.append(started)
        return started

    def worker(self) -> subprocess.Popen[bytes]:
        return self._start("dask_worker", self.address, "--nthreads", "1", "--no-nanny", "--no-dashboard")

    def _address(self, note: Path) -> str:
        import json

        until = time.monotonic() + PATIENCE_S
        while time.monotonic() < until:
            if note.exists() and (text := note.read_text("utf-8")):
                address: str = json.loads(text)["address"]
                return address
            time.sleep(0.1)
        raise AssertionError("the scheduler did not start: " + (self._folder / "log0").read_text("utf-8"))

    @property
    def scheduler(self) -> subprocess.Popen[bytes]:
        return self._processes[0]

    def end(self) -> None:
        for process in self._processes:
            if process.poll() is None:
                process.kill()
            process.wait()


@pytest.fixture
def dask(hands: Any, tmp_path: Path) -> Iterator[Cluster]:
    folder = tmp_path / "dask"
    folder.mkdir()
    made = Cluster(folder)
    try:
        wait_for_workers(made.address, 2)
        yield made
    finally:
        made.end()


def wait_for_workers(address: str, count: int) -> None:
    from distributed import Client

    with Client(address, set_as_default=False) as client:  # type: ignore[no-untyped-call]
        client.wait_for_workers(count, timeout=PATIENCE_S)


def file_of(folder: Path, crew: Crew, job: Any, documents: dict[str, str], listener: Any) -> bytes:
    with Results(folder, documents) as results, Engine(results, crew, job, listener) as engine:
        engine.take(TRIALS)
    return (folder / FILE).read_bytes()


def test_the_same_bytes_as_on_this_machine(
    dask: Cluster, hands: Any, tmp_path: Path, documents: dict[str, str], listener: Any
) -> None:
    with cluster(dask.address) as crew:
        assert crew.workers == 2
        there = file_of(tmp_path / "there", crew, hands.result, documents, listener)
    assert there == file_of(tmp_path / "here", local(1), hands.result, documents, listener)


def test_a_worker_killed_in_the_middle_loses_nothing(
    dask: Cluster, hands: Any, tmp_path: Path, documents: dict[str, str], listener: Any
) -> None:
    here = file_of(tmp_path / "here", local(1), hands.result, documents, listener)
    taken = listener.taken

    def kills(done: int, of: int, left_s: float) -> None:
        taken(done, of, left_s)
        if done == 10:
            os.kill(dask.workers[0].pid, signal.SIGKILL)

    listener.taken = kills
    with cluster(dask.address) as crew:
        there = file_of(tmp_path / "there", crew, hands.slow, documents, listener)
    assert dask.workers[0].wait(PATIENCE_S) == -signal.SIGKILL
    assert there == here


def test_a_scheduler_that_is_killed_is_told_and_what_was_done_is_kept(
    dask: Cluster, hands: Any, tmp_path: Path, documents: dict[str, str], listener: Any
) -> None:
    def kills(done: int, of: int, left_s: float) -> None:
        if done == 10:
            dask.scheduler.kill()

    listener.taken = kills
    said = r"the scheduler at tcp://127\.0\.0\.1:\d+ is gone; \d+ runs are kept in .*, and the same command goes on"
    with pytest.raises(Stopped, match=said), cluster(dask.address) as crew:
        file_of(tmp_path / "out", crew, hands.slow, documents, listener)
    there = file_of(tmp_path / "out", local(1), hands.result, documents, listener)
    assert there == file_of(tmp_path / "here", local(1), hands.result, documents, listener)


def test_a_campaign_that_waits_for_a_worker_says_so(
    dask: Cluster, hands: Any, tmp_path: Path, documents: dict[str, str], listener: Any
) -> None:
    def kills(done: int, of: int, left_s: float) -> None:
        if done == 10:
            for worker in dask.workers:
                worker.kill()

    def say(text: str) -> None:
        said.append(text)
        if "no worker is left" in text:
            dask.worker()

    said: list[str] = []
    listener.taken, listener.say = kills, say
    with cluster(dask.address) as crew:
        there = file_of(tmp_path / "out", crew, hands.slow, documents, listener)
    assert there == file_of(tmp_path / "here", local(1), hands.result, documents, listener)
    assert f"no worker is left, and the campaign waits for one: dask worker {dask.address}" in said


def test_a_worker_without_the_rig_is_named(
    dask: Cluster, spool_folder: Path, tmp_path: Path, documents: dict[str, str], listener: Any
) -> None:
    job = Job(tmp_path / "nowhere", tuple(digests(spool_folder).items()))
    said = r"^worker tcp://127\.0\.0\.1:\d+: .*rig\.yaml: cannot be read .*put the campaign's folder there, at the same"
    with pytest.raises(UsageError, match=said), cluster(dask.address) as crew:
        file_of(tmp_path / "out", crew, job, documents, listener)


def test_nobody_there() -> None:
    with pytest.raises(UsageError, match="no scheduler answers there"), cluster("tcp://127.0.0.1:9"):
        pass
