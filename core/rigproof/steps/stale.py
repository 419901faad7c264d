"""Readings that cannot be what they pass for: noise does not repeat itself, nor does it shrink to a thousandth.

An instrument whose buffer was not emptied, whose converter hangs or that was set to another unit answers in time, in
form and within its range; only its own scatter tells. Bounds are reasoned, no source.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import groupby

import numpy as np

from rigproof.documents.rig import Rig
from rigproof.instruments import FloatArray

from .record import StepRecord

BY_CHANCE = -20.0  # ln of the probability that two blocks of a scatter like this agree in every reading: 2e-9
STILL = 10  # readings in a row that do not differ
RESCALED = 300.0  # from kilo- to base unit the scatter changes by 1000; ramps and single jumps do not count
ROUNDING = 1e-12  # of a reading: what subtracting numbers of 53 bits leaves of steps that are equal
SHOWS_SCATTER = 5  # readings that a block must have to tell how much a channel scatters


def stale(rig: Rig, record: StepRecord) -> str:
    """What in a step's readings cannot be new; "" where all may be."""
    columns: dict[str, list[tuple[str, FloatArray]]] = {}
    for block in record.all_blocks():
        # two channels of one input hold the same readings, and rightly so: one stands for both
        known = [rig.channels[name] for name in block.values if name in rig.channels]
        for name in {(channel.instrument, channel.input): channel.name for channel in known}.values():
            columns.setdefault(name, []).append((block.label, block[name]))
    found = list(_repeated(columns))
    for name, blocks in columns.items():
        found += [*_still(rig, name, blocks), *_rescaled(name, blocks)]
    return "; ".join(found)


def _repeated(columns: dict[str, list[tuple[str, FloatArray]]]) -> Iterator[str]:
    """Blocks that hold the very readings of an earlier one, of the same channel or of another."""
    seen: dict[bytes, str] = {}
    for name, blocks in columns.items():
        for label, values in blocks:
            if len(values) < SHOWS_SCATTER or not np.isfinite(values).all() or _ln_chance(values) > BY_CHANCE:
                continue
            key, here = values.tobytes(), f"{name}, {label!r}"
            if key in seen:
                yield f"{here} repeats {seen[key]} to the last bit: old readings, look at the instrument"
            seen[key] = here


def _ln_chance(values: FloatArray) -> float:
    """ln of the probability that readings which fall as these do come again in the same order."""
    counts = np.array(list(Counter(values.tolist()).values()), dtype=np.float64)
    return float(np.sum(counts * np.log(counts / len(values))))


def _still(rig: Rig, name: str, blocks: Sequence[tuple[str, FloatArray]]) -> Iterator[str]:
    """A run of equal readings of a channel that scatters, by more than its step, elsewhere in the record."""
    readings = np.concatenate([values for _, values in blocks])
    resolution = rig.channels[name].accuracy.resolution
    step = max(resolution.value if resolution else 0.0, 1.001 * _least_step(readings))
    if not any(len(values) >= SHOWS_SCATTER and _from_reading_to_reading(values) > step for _, values in blocks):
        return
    longest = max(len(list(run)) for value, run in groupby(readings.tolist()))
    if longest >= STILL:
        yield (
            f"{name} gave {longest} equal readings in a row and scatters elsewhere: a frozen instrument, or one whose "
            "step is missing (`resolution:` under `accuracy:`)"
        )


def _least_step(readings: FloatArray) -> float:
    """The least difference of two readings: what the last digit of a coarse meter is worth, stated or not."""
    different = np.unique(readings[np.isfinite(readings)])
    return float(np.diff(different).min()) if len(different) > 1 else 0.0


def _rescaled(name: str, blocks: Sequence[tuple[str, FloatArray]]) -> Iterator[str]:
    """Blocks of one channel whose scatter is of quite different sizes."""
    sizes = {}
    for label, values in blocks:
        if len(values) >= SHOWS_SCATTER and (size := _from_reading_to_reading(values)) > 0:
            sizes[size] = label
    if sizes and max(sizes) > RESCALED * min(sizes):
        yield (
            f"{name} scatters {max(sizes) / min(sizes):.0f} times as much in {sizes[max(sizes)]!r} as in "
            f"{sizes[min(sizes)]!r}: see that the instrument keeps its unit"
        )


def _from_reading_to_reading(values: FloatArray) -> float:
    """Typical step between readings, less their common trend; 0 where most do not differ."""
    steps = np.diff(values)
    steps = steps[np.isfinite(steps)]
    size = float(np.median(np.abs(steps - np.median(steps)))) if len(steps) else 0.0
    return size if size > ROUNDING * float(np.max(np.abs(values))) else 0.0
