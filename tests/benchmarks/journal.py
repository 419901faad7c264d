"""Writing the journal against writing the same bytes without encoding, chain or checks.

Eight channels at ten readings a second make one block a second, and the journal is synced once a second: so each block
is synced, on both sides. Without syncs only the processor counts, and text has its price: that row has no goal.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

import numpy as np

from rigproof.clock import JumpingClock
from rigproof.instruments import FloatArray
from rigproof.journal import JournalWriter

CHANNELS, READINGS, BLOCKS, REPEATS = 8, 10, 200, 5


def blocks() -> list[dict[str, FloatArray]]:
    """Bridge outputs near 1 mV/V, in steps of 5 nV/V as an amplifier gives them."""
    random = np.random.default_rng(0)
    return [
        {f"gauge {n}": np.round(random.normal(1e-3, 3e-8, READINGS) / 5e-9) * 5e-9 for n in range(CHANNELS)}
        for _ in range(BLOCKS)
    ]


def ours(path: Path, readings: list[dict[str, FloatArray]], synced: bool) -> None:
    """As a run writes."""
    clock = JumpingClock()
    with JournalWriter(path, clock) as journal:
        for block in readings:
            clock.wait(1.0)
            journal.samples(dict.fromkeys(block, clock.now()), 0.1, block, label="soak", tags={})
            if synced:
                journal.sync()


def raw(path: Path, lines: list[bytes], synced: bool) -> None:
    """The same lines, as they are."""
    file = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    for line in lines:
        os.write(file, line)
        if synced:
            os.fsync(file)
    os.close(file)


def seconds(job: Callable[[], None], clock: Callable[[], float]) -> float:
    """How long a job takes by a clock."""
    start = clock()
    job()
    return clock() - start


def ratio(folder: Path, synced: bool) -> float:
    """Median of ours over median of raw, in turns: wall time with syncs, for a run waits for the disk."""
    readings, pairs = blocks(), []
    clock = time.perf_counter if synced else time.process_time
    for number in range(REPEATS):
        path = folder / f"{synced}-{number}"
        of_ours = seconds(partial(ours, path, readings, synced), clock)
        lines = path.read_bytes().splitlines(keepends=True)
        pairs.append((of_ours, seconds(partial(raw, path.with_suffix(".raw"), lines, synced), clock)))
    return median(a for a, _ in pairs) / median(b for _, b in pairs)


def rows() -> list[tuple[str, float, str]]:
    """(name, ratio, goal)."""
    with TemporaryDirectory() as scratch:
        return [
            ("journal, 8 channels x 10 S/s, a sync a second / same bytes raw", ratio(Path(scratch), True), "≤ 3"),
            ("the same, processor time without syncs: text and chain", ratio(Path(scratch), False), "none"),
        ]
