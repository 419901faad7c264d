"""The readings of a run's journal as series in time, for drawing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from rigproof.documents import Rig
from rigproof.instruments import FloatArray
from rigproof.journal import Entry
from rigproof.quantities import shown, unit

COLUMNS = 600  # of a drawing: more points than this cannot be told apart


@dataclass(frozen=True)
class Series:
    """Readings of one channel, in the unit people use; nan is a missing one."""

    channel: str
    unit: str
    t_s: FloatArray
    values: FloatArray


def series(rig: Rig, entries: Iterable[Entry]) -> dict[str, Series]:
    """Every channel's readings in time."""
    times: dict[str, list[FloatArray]] = {}
    values: dict[str, list[FloatArray]] = {}
    for entry in entries:
        if entry.kind != "samples":
            continue
        for name, column in entry.data["values"].items():
            read = np.array([np.nan if v is None else v for v in column], dtype=np.float64)
            times.setdefault(name, []).append(entry.data["t0"][name] + entry.data["dt"] * np.arange(len(read)))
            values.setdefault(name, []).append(read)
    found = {}
    for name, pieces in values.items():
        if (channel := rig.channels.get(name)) is None:
            continue
        t, v = np.concatenate(times[name]), np.concatenate(pieces)
        order = np.argsort(t, kind="stable")
        found[name] = Series(name, unit(channel.reads), t[order], np.asarray(shown(v[order], channel.reads)))
    return found


def thinned(t: FloatArray, values: FloatArray, low: float, high: float) -> tuple[FloatArray, FloatArray]:
    """At most two points a column of the drawing from `low` to `high`: least and largest, so that no peak is lost."""
    good = np.isfinite(values)
    t, values = t[good], values[good]
    if t.size <= 2 * COLUMNS:
        return t, values
    column = np.clip(((t - low) / (high - low) * COLUMNS).astype(np.intp), 0, COLUMNS - 1)
    starts = np.flatnonzero(np.r_[True, np.diff(column) > 0])
    ends = np.r_[starts[1:], t.size]
    kept = sorted(
        {int(a + i) for a, b in zip(starts, ends, strict=True) for i in (values[a:b].argmin(), values[a:b].argmax())}
    )
    return t[kept], values[kept]
