"""Who takes the trials: processes of this machine, or the workers of a Dask cluster; both are executors of futures."""

from __future__ import annotations

import logging
import multiprocessing
import multiprocessing.process
import os
import re
import signal
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError, Executor, ProcessPoolExecutor, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager, suppress
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
    """`make` gives an executor, a new one where the old one has broken; `lost` is how a dead worker shows.

    `gone` is how it shows that nobody hands out work any more, and `gone_says` who that was; `present` tells how many
    workers there are now, and `call` how to start one, where they may come and go.
    """

    make: Callable[[], Executor]
    workers: int
    lost: tuple[type[BaseException], ...] = (BrokenProcessPool,)
    gone: tuple[type[BaseException], ...] = ()
    gone_says: str = ""
    present: Callable[[], int] | None = None
    call: str = ""


@dataclass(frozen=True)
class Job:
    """What a worker does with a trial. The worker's own copy of the documents must be that of the campaign."""

    rig: Path
    documents: tuple[tuple[str, str], ...]  # name and SHA-256

    def __call__(self, trial: Trial) -> Result:
        """Take the trial. Raises `UsageError` alone, which every process can hand on."""
        try:
            _expect(self)
        except RigproofError as error:
            raise UsageError(f"{_who()}: {error}; put the campaign's folder there, at the same path") from None
        try:
            # Off the main thread no run listens to signals: a worker that is told to end dies, and its trial is
            # taken again elsewhere; else it would be a run that an operator stopped, and no result of the trial.
            with ThreadPoolExecutor(1) as aside:
                return aside.submit(take, self.rig, trial).result()
        except RigproofError as error:
            raise UsageError(f"{trial.command(self.rig)}: {error}") from None


def _who() -> str:
    """The worker that runs this, for messages that are read elsewhere."""
    with suppress(ImportError, ValueError):  # ValueError: this is no worker of a cluster
        from distributed import get_worker

        return f"worker {get_worker().address}"
    return "a worker of this machine"


@lru_cache(maxsize=4)
def _expect(job: Job) -> None:
    if tuple(digests(job.rig).items()) != job.documents:
        raise UsageError("has other documents than the campaign (SHA-256 differs)")


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
    call = f"dask worker {address}"
    with _quiet(), client:

        def present() -> int:
            return sum(client.nthreads().values())

        threads = present()
        if not threads:
            raise UsageError(f"--scheduler {address}: the scheduler has no workers; start some: {call}")
        yield Crew(
            lambda: client.get_executor(pure=False),
            threads,
            lost=(KilledWorker,),
            gone=(CancelledError,),
            gone_says=f"the scheduler at {address} is gone",
            present=present,
            call=call,
        )


@contextmanager
def _quiet() -> Iterator[None]:
    """Without the library's own tracebacks of a connection that was lost: the campaign says what that means."""
    named = [name for name in logging.root.manager.loggerDict if name.partition(".")[0] == "distributed"]
    heard = [log for log in map(logging.getLogger, named) if not log.disabled]  # each has a level of its own
    for log in heard:
        log.disabled = True
    try:
        yield
    finally:
        for log in heard:
            log.disabled = False
