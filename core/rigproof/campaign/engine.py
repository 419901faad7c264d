"""Takes trials on many workers and keeps them in one order, so that the results file does not depend on how many.

The file is at any moment the beginning of what it will be: trials are handed out in order, a little ahead, and written
in order. A worker that dies costs only time; after Ctrl-C those under way are finished and kept.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import CancelledError, Executor, Future
from contextlib import suppress
from types import TracebackType
from typing import Protocol, Self

from rigproof.errors import Stopped, UsageError
from rigproof.run.signals import StopSignals

from .crew import Crew
from .results import Results
from .trial import Result, Trial

AHEAD = 3  # trials handed out for each worker: one in hand, the others so that none waits
LOOK_EVERY_S = 0.2  # how often a wait looks whether somebody asked to stop
MISSED_AFTER_S = 5.0  # how often a wait looks whether there is any worker at all
PATIENCE = 5  # times that workers may die without one trial coming back in between
Waiting = deque[tuple[Trial, Future[Result]]]


class Progress(Protocol):
    """A listener to a campaign."""

    def taken(self, done: int, of: int, left_s: float) -> None:
        """A trial is kept; `of` is the whole number as far as it is known, `left_s` the time left."""

    def say(self, text: str) -> None:
        """Something the person should know."""


class Engine:
    """Context manager: `job` takes a trial on a worker of `crew`; `expected` trials are for the progress alone."""

    def __init__(
        self, results: Results, crew: Crew, job: Callable[[Trial], Result], progress: Progress, expected: int = 0
    ) -> None:
        self._results, self._crew, self._job, self._progress = results, crew, job, progress
        self._expected = expected
        self._asked: set[Trial] = set()
        self._new = self._deaths = self._missing = 0
        self._executor: Executor | None = None
        self._start = 0.0
        self._looked_s, self._there = (
            0.0,
            True,
        )  # when it was last seen whether workers are there, and whether they were

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._executor is not None:
            self._executor.shutdown(wait=error is None)

    def take(self, trials: Sequence[Trial]) -> list[Result]:
        """The results of `trials`; those in the file already are not taken again.

        Raises `Stopped` after Ctrl-C, with all that was done in the file; `UsageError` for a trial that cannot be.
        """
        missing = [trial for trial in dict.fromkeys(trials) if trial not in self._results]
        self._asked.update(trials)
        self._missing = len(missing)
        self._take_missing(missing)
        return [self._results[trial] for trial in trials]

    def _take_missing(self, missing: Sequence[Trial]) -> None:
        if not missing:
            return
        if self._executor is None:
            self._executor, self._start = self._crew.make(), time.monotonic()
        todo, waiting = iter(missing), Waiting()
        with StopSignals() as stop:
            try:
                while self._hand_out(todo, waiting):
                    self._keep_next(waiting, stop.check)
            except Stopped as asked:
                self._finish(waiting)
                raise Stopped(f"{asked}; {self._what_is_left()}") from None
            except self._crew.gone:
                raise Stopped(f"{self._crew.gone_says}; {self._what_is_left()}") from None
            except BaseException:
                for _, future in waiting:
                    future.cancel()
                raise

    def _what_is_left(self) -> str:
        runs = "1 run is" if len(self._results) == 1 else f"{len(self._results)} runs are"
        if self._results.kept:
            return f"{runs} kept in {self._results.path}, and the same command goes on from there"
        return f"{runs} thrown away: with --out DIR they are kept, and the same command goes on from there"

    def _hand_out(self, todo: Iterator[Trial], waiting: Waiting) -> bool:
        """Fill up what is under way; false when all is done."""
        assert self._executor is not None
        while len(waiting) < AHEAD * self._crew.workers and (trial := next(todo, None)):
            waiting.append((trial, self._submit(trial)))
        return bool(waiting)

    def _submit(self, trial: Trial) -> Future[Result]:
        assert self._executor is not None
        try:
            return self._executor.submit(self._job, trial)
        except self._crew.lost as error:  # noted like the death of the worker that had it
            future: Future[Result] = Future()
            future.set_exception(error)
            return future

    def _keep_next(self, waiting: Waiting, check: Callable[[], None]) -> None:
        _, future = waiting[0]
        while True:
            check()
            try:
                result = future.result(timeout=LOOK_EVERY_S)
            except TimeoutError:
                self._look_for_workers()
                continue
            except self._crew.lost:
                self._renew(waiting)
                return
            break
        waiting.popleft()
        self._results.append(result)
        self._new, self._deaths = self._new + 1, 0
        self._tell()

    def _look_for_workers(self) -> None:
        """Say once that nobody is left to wait for, and once that somebody has come."""
        if self._crew.present is None or time.monotonic() - self._looked_s < MISSED_AFTER_S:
            return
        self._looked_s = time.monotonic()
        with suppress(OSError, TimeoutError):  # a scheduler that is gone shows itself by its futures
            there = self._crew.present() > 0
            if there != self._there:
                waits = f"no worker is left, and the campaign waits for one: {self._crew.call}"
                self._progress.say("a worker is there again" if there else waits)
            self._there = there

    def _renew(self, waiting: Waiting) -> None:
        """A worker has died: whatever died with it is handed out again, in its old place."""
        self._deaths += 1
        trial = waiting[0][0]
        if self._deaths > PATIENCE:
            raise UsageError(
                f"workers died {PATIENCE} times in a row, the last time at flaws {trial.flaws}, seed {trial.seed}; "
                "look at the memory, or take fewer"
            )
        self._progress.say("a worker died; its runs are taken again")
        assert self._executor is not None
        self._executor.shutdown(wait=False)
        self._executor = self._crew.make()
        for place, (lost, future) in enumerate(waiting):
            if future.cancelled() or not future.done() or future.exception():
                waiting[place] = lost, self._submit(lost)

    def _finish(self, waiting: Waiting) -> None:
        """Keep what is under way: the latest that nobody has begun are taken back, the others waited for."""
        while waiting and waiting[-1][1].cancel():
            waiting.pop()
        if waiting:
            self._progress.say(f"stopping, once what is handed out already is done: {len(waiting)} more")
        while waiting:
            try:
                self._keep_next(waiting, lambda: None)
            except CancelledError:
                break

    def _tell(self) -> None:
        self._missing -= 1
        done = len(self._asked) - self._missing
        of = max(len(self._asked), self._expected)
        each_s = (time.monotonic() - self._start) / self._new
        self._progress.taken(done, of, each_s * (of - done))
