"""Taking many trials, on one or several processors of this machine; the results do not depend on how many."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from functools import partial
from pathlib import Path
from typing import Self

from rigproof.errors import UsageError

from .results import Results
from .trial import Result, Trial, take

MOST_BREAKS = 3  # pools that break without one more result: then it is no accident
AHEAD = 4  # trials a worker may have waiting

Progress = Callable[[int, int], None]  # done, of how many


class Crew:
    """Workers that take trials of one rig; a context, at whose end they stop. One worker is this process itself."""

    def __init__(self, rig: Path, workers: int, one: Callable[[Path, Trial], Result] = take) -> None:
        self._one = partial(one, rig)
        self._workers = workers
        self._pool: Executor | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc: object) -> None:
        self._dismiss()

    def take(self, trials: Sequence[Trial], results: Results, progress: Progress) -> list[Result]:
        """The results of `trials`, in their order; those that `results` knows are not taken again.

        A worker that is killed costs the trials in work, which are taken again by new ones. Raises `UsageError` where
        workers end again and again.
        """
        wanted = [trial for trial in dict.fromkeys(trials) if trial not in results]
        done = breaks = 0
        while done < len(wanted):
            before = done
            try:
                for result in self._taken(wanted[done:]):
                    results.add(result)
                    done += 1
                    progress(done, len(wanted))
            except BrokenProcessPool as error:
                self._dismiss()
                breaks = breaks + 1 if done == before else 0
                if breaks >= MOST_BREAKS:
                    raise UsageError(
                        f"--workers {self._workers}: workers end again and again ({error}); take fewer, or look at "
                        "the memory"
                    ) from None
        return [results[trial] for trial in trials]

    def _taken(self, trials: Sequence[Trial]) -> Iterator[Result]:
        if self._workers == 1:
            yield from map(self._one, trials)
            return
        if self._pool is None:
            self._pool = ProcessPoolExecutor(self._workers, multiprocessing.get_context("spawn"))
        yield from self._in_order(self._pool, trials)

    def _in_order(self, pool: Executor, trials: Sequence[Trial]) -> Iterator[Result]:
        """In the order of the trials, so that a file of them has the same bytes however many work."""
        waiting = []
        try:
            for trial in trials:
                waiting.append(pool.submit(self._one, trial))
                if len(waiting) >= self._workers * AHEAD:
                    yield waiting.pop(0).result()
            while waiting:
                yield waiting.pop(0).result()
        finally:
            for future in waiting:
                future.cancel()

    def _dismiss(self) -> None:
        pool, self._pool = self._pool, None
        if pool is not None:
            pool.shutdown(wait=True, cancel_futures=True)
