"""Who takes the trials: processes of this machine, or the workers of a Dask cluster; both are executors of futures."""

from __future__ import annotations

import multiprocessing
import multiprocessing.process
import os
import re
import signal
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from rigproof.errors import RigproofError, UsageError

from .results import digests
from .trial import Result, Trial, take

_ADDRESS = re.compile(r"(?:[a-z]+://)?[^\s/]+:[0-9]{1,5}(?:/\S*)?")


@dataclass(frozen=True)
class Crew:
    """`make` gives an executor, a new one where the old one has broken; `lost` is how a dead worker shows."""

    make: Callable[[], Executor]
    workers: int
    lost: tuple[type[BaseException], ...] = (BrokenProcessPool,)


@dataclass(frozen=True)
class Job:
    """What a worker does with a trial. The worker's own copy of the documents must be that of the campaign."""

    rig: Path
    documents: tuple[tuple[str, str], ...]  # name and SHA-256

    def __call__(self, trial: Trial) -> Result:
        """Take the trial. Raises `UsageError` alone, which every process can hand on."""
        try:
            _expect(self)
            # Off the main thread no run listens to signals: a worker that is told to end dies, and its trial is
            # taken again elsewhere; else it would be a run that an operator stopped, and no result of the trial.
            with ThreadPoolExecutor(1) as aside:
                return aside.submit(take, self.rig, trial).result()
        except RigproofError as error:
            raise UsageError(f"{trial.command(self.rig)}: {error}") from None


@lru_cache(maxsize=4)
def _expect(job: Job) -> None:
    if tuple(digests(job.rig).items()) != job.documents:
        raise UsageError("the worker has other documents than the campaign (SHA-256 differs); make them the same")


def local(workers: int) -> Crew:
    """Processes on this machine."""
    context = multiprocessing.get_context("spawn")
    return Crew(lambda: ProcessPoolExecutor(workers, context, initializer=_begin), workers)


def _begin() -> None:
    """Ctrl-C is for the campaign, which lets its workers finish; without the campaign a worker ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent,), daemon=True).start()


def _end_with(parent: multiprocessing.process.BaseProcess) -> None:
    """An idle worker would wait for ever on a campaign that was killed."""
    parent.join()
    os._exit(1)


@contextmanager
def cluster(address: str) -> Iterator[Crew]:
    """The workers of a Dask scheduler, such as tcp://127.0.0.1:8786. Raises `UsageError` where there are none."""
    try:
        from distributed import Client, KilledWorker
    except ImportError:
        raise UsageError('--scheduler: needs the library distributed: pip install "rigproof[cluster]"') from None
    if not _ADDRESS.fullmatch(address):  # a client of none leaves a traceback behind when it is thrown away
        raise UsageError(f"--scheduler {address}: is no address; write one such as tcp://127.0.0.1:8786")
    try:
        client: Any = Client(address, timeout=10, set_as_default=False)  # type: ignore[no-untyped-call]  # no types
    except (OSError, ValueError, TimeoutError) as error:
        raise UsageError(f"--scheduler {address}: no scheduler answers there ({error})") from None
    with client:
        threads = sum(client.nthreads().values())
        if not threads:
            raise UsageError(f"--scheduler {address}: the scheduler has no workers; start some: dask worker {address}")
        yield Crew(lambda: client.get_executor(pure=False), threads, (KilledWorker,))
