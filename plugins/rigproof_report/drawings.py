"""Drawings of a run: readings in time with its steps, and loops of strain over load with their residuals."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from rigproof.documents import Rig
from rigproof.instruments import FloatArray
from rigproof.journal import RESUMED, Entry
from rigproof.quantities import shown, unit

from .readings import Series, thinned
from .scales import Scale, around

WIDTH, HEIGHT = 720.0, 150.0
LEFT, RIGHT, TOP, BOTTOM = 62.0, 8.0, 8.0, 22.0
DASHES = ("", "6 3", "2 2", "8 3 2 3")  # told apart without colour
MOST_LINES = len(DASHES)

Marks = tuple[tuple[float, str], ...]


@dataclass(frozen=True)
class Line:
    """One curve, as the points of an SVG polyline."""

    name: str
    dash: str
    points: str


@dataclass(frozen=True)
class Drawing:
    """Curves on one pair of axes; `spans` are named stretches of the abscissa."""

    title: str
    x_name: str
    y_name: str
    x_marks: Marks
    y_marks: Marks
    lines: tuple[Line, ...]
    spans: tuple[tuple[float, float, str], ...] = ()
    dots: bool = False


def traces(rig: Rig, found: Mapping[str, Series], entries: Sequence[Entry]) -> list[Drawing]:
    """Load and strain channels over the time of the run, one drawing per unit."""
    groups: dict[str, list[Series]] = {}
    for name, one in found.items():
        if rig.channels[name].measures in ("strain", rig.part.load) and np.isfinite(one.values).any():
            groups.setdefault(one.unit, []).append(one)
    high = max((float(one.t_s[-1]) for group in groups.values() for one in group), default=0.0) / 60
    if high == 0:
        return []
    x = Scale(0.0, high, LEFT, WIDTH - RIGHT)
    spans = tuple((x.at(a / 60), x.inside(b / 60), text) for a, b, text in _steps(entries, high * 60))
    return [
        _trace(group[n : n + MOST_LINES], x, spans)
        for group in groups.values()
        for n in range(0, len(group), MOST_LINES)
    ]


def _trace(group: Sequence[Series], x: Scale, spans: tuple[tuple[float, float, str], ...]) -> Drawing:
    kept = [(one, *thinned(one.t_s / 60, one.values, x.low, x.high)) for one in group]
    low = min(float(values.min()) for _, _, values in kept)
    high = max(float(values.max()) for _, _, values in kept)
    y = Scale(*around(low, high), HEIGHT - BOTTOM, TOP)
    lines = tuple(
        Line(one.channel, dash, _points(x, y, t, values)) for (one, t, values), dash in zip(kept, DASHES, strict=False)
    )
    names = ", ".join(one.channel for one in group)
    return Drawing(f"{names} over time", "min", group[0].unit, x.marks(8), y.marks(4), lines, spans)


def _steps(entries: Sequence[Entry], end_s: float) -> Iterable[tuple[float, float, str]]:
    begun: list[tuple[float, str]] = [
        (e.t, f"{e.data['step']} {e.data['step_kind']}")
        for e in entries
        if e.kind == "step" and e.data.get("taken") == "begun"
    ]
    for (start, text), (stop, _) in pairwise([*begun, (end_s, "")]):
        yield start, stop, text


def loops(rig: Rig, entries: Sequence[Entry]) -> list[tuple[Drawing, Drawing]]:
    """For each strain channel of the load cycles: its output over the load, and what is left of a straight line."""
    load = next((name for name, channel in rig.channels.items() if channel.measures == rig.part.load), None)
    if load is None:
        return []
    found = []
    for name, channel in rig.channels.items():
        if channel.measures != "strain":
            continue
        x, y = _levels(entries, load, name)
        if x.size >= 4 and np.ptp(x) > 0:
            x = np.asarray(shown(x, rig.channels[load].reads))
            y = np.asarray(shown(y, channel.reads))
            found.append(_loop(name, x, y, unit(rig.channels[load].reads), unit(channel.reads)))
    return found


def _levels(entries: Sequence[Entry], load: str, name: str) -> tuple[FloatArray, FloatArray]:
    """Means of the blocks of the cycles that hold both channels."""
    pairs: list[list[float]] = []
    inside, first = False, 0
    for entry in entries:
        if entry.kind == RESUMED and inside:  # cut off in these cycles: they are begun again
            del pairs[first:]
            inside = False
        elif entry.kind == "step":
            inside, first = entry.data.get("step_kind") == "cycles" and entry.data.get("taken") == "begun", len(pairs)
        elif inside and entry.kind == "samples" and {load, name} <= entry.data["values"].keys():
            block = [entry.data["values"][channel] for channel in (load, name)]
            if entry.data.get("label") in ("zero", "level") and all(v is not None for column in block for v in column):
                pairs.append([float(np.mean(column)) for column in block])
    x, y = np.array(pairs, dtype=np.float64).reshape(-1, 2).T
    return x, y


def _loop(name: str, x: FloatArray, y: FloatArray, x_unit: str, y_unit: str) -> tuple[Drawing, Drawing]:
    slope, start = np.polyfit(x, y, 1)
    residual = 100 * (y - (start + slope * x)) / abs(slope * np.ptp(x))
    across = Scale(*around(float(x.min()), float(x.max())), LEFT, WIDTH / 2 - RIGHT)
    up = Scale(*around(float(y.min()), float(y.max())), HEIGHT - BOTTOM, TOP)
    most = max(float(np.abs(residual).max()), 0.01)
    around_zero = Scale(-1.2 * most, 1.2 * most, HEIGHT - BOTTOM, TOP)
    return (
        Drawing(
            f"{name}: cycles of load",
            x_unit,
            y_unit,
            across.marks(4),
            up.marks(4),
            (Line(name, "", _points(across, up, x, y)),),
            dots=True,
        ),
        Drawing(
            f"{name}: what is left of the straight line",
            x_unit,
            "% of span",
            across.marks(4),
            around_zero.marks(4),
            (Line(name, "", _points(across, around_zero, x, residual)),),
            dots=True,
        ),
    )


def _points(x: Scale, y: Scale, across: FloatArray, up: FloatArray) -> str:
    return " ".join(f"{x.at(a):g},{y.at(b):g}" for a, b in zip(across.tolist(), up.tolist(), strict=True))
