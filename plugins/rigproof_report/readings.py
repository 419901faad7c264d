"""The readings of a run's journal as series in time, for drawing."""

from __future__ import annotations

from array import array
from collections.abc import Iterable
from dataclasses import dataclass
from math import inf, nan

import numpy as np

from rigproof.documents import Rig
from rigproof.instruments import FloatArray
from rigproof.journal import Entry
from rigproof.steps.terms import reduction_inputs

COLUMNS = 600  # of a drawing: more points than this cannot be told apart
UNREAD_S = 5.0  # so long without a reading, and nobody knows what was between: a load may have come and gone


@dataclass(frozen=True)
class Series:
    """Raw readings of one channel in time, base units; nan is a missing one."""

    channel: str
    t_s: FloatArray
    values: FloatArray


def series(entries: Iterable[Entry]) -> dict[str, Series]:
    """Every channel's readings in time; numbers are packed as they are read, a long run has millions."""
    times: dict[str, array[float]] = {}
    values: dict[str, array[float]] = {}
    for entry in entries:
        if entry.kind != "samples":
            continue
        dt, t0 = entry.data["dt"], entry.data["t0"]
        for name, column in entry.data["values"].items():
            times.setdefault(name, array("d")).extend(t0[name] + dt * i for i in range(len(column)))
            values.setdefault(name, array("d")).extend(nan if v is None else v for v in column)
    return {name: _in_order(name, times[name], values[name]) for name in values}


def _in_order(name: str, times: array[float], values: array[float]) -> Series:
    t, v = np.frombuffer(times), np.frombuffer(values)
    if np.all(t[1:] >= t[:-1]):
        return Series(name, t, v)
    order = np.argsort(t, kind="stable")
    return Series(name, t[order], v[order])


def as_quantity(rig: Rig, name: str, raw: FloatArray, zero: float) -> FloatArray:
    """Raw readings as what the channel stands for, base unit, at nominal inputs; a strain counts from `zero`."""
    channel = rig.channels[name]
    read = channel.correction.added_to(raw)
    if channel.reduction is None:
        return np.asarray(read, dtype=np.float64)
    nominal = (item.value for item in reduction_inputs(rig, name))
    from_zero = channel.correction.added_to(zero) if channel.measures == "strain" else 0.0
    return np.asarray(channel.reduction.reduce(read, from_zero, *nominal), dtype=np.float64)


def thinned(
    t: FloatArray, values: FloatArray, low: float, high: float, unread: float = inf
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """At most two points a column of the drawing from `low` to `high`: least and largest, so that no peak is lost.

    Missing readings are left out; the third array counts before each point the breaks: readings that are missing,
    and times longer than `unread` (in the unit of `t`) in which nothing was read.
    """
    good = np.isfinite(values)
    broken = (~good).astype(np.intp)
    broken[1:] += np.diff(t) > unread
    breaks = np.cumsum(broken)[good].astype(np.float64)
    t, values = t[good], values[good]
    if t.size <= 2 * COLUMNS:
        return t, values, breaks
    column = np.clip(((t - low) / (high - low) * COLUMNS).astype(np.intp), 0, COLUMNS - 1)
    starts = np.flatnonzero(np.r_[True, np.diff(column) > 0])
    ends = np.r_[starts[1:], t.size]
    kept = sorted(
        {int(a + i) for a, b in zip(starts, ends, strict=True) for i in (values[a:b].argmin(), values[a:b].argmax())}
    )
    return t[kept], values[kept], breaks[kept]
