"""Load loops: strain over load as it was read, and what is left of the straight line through zero and top load."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from rigproof.documents import Rig
from rigproof.instruments import FloatArray
from rigproof.journal import BROKEN_OFF, Entry
from rigproof.quantities import fitting, shown
from rigproof.verdict.record import Check, ToleranceRecord

from .drawing import DOWN, HALF, MEAN, UP, Drawing, Figure, Line, across, marked, points, upward
from .events import StepPart
from .readings import as_quantity
from .scales import Scale, around

ON_THE_WAY = ("watch", "hold", "no load", BROKEN_OFF)  # labels of readings that are no point of a loop
STANDS = 0.02  # of the top load: less is no move
LEAST_SHOWN = 0.1  # % of the top: noise does not fill a drawing that has no tolerance


@dataclass(frozen=True)
class Point:
    """Means of one block, base units: from the first zero of the step, and from the last one before it."""

    load: float
    strain: float
    load_own: float
    strain_own: float
    rises: bool
    level: object  # what a step calls the load, the same in all its cycles; None where it does not


@dataclass(frozen=True)
class Residual:
    """Departures from the straight line through zero and top load, in shares of the reading at the top."""

    loads: FloatArray
    rising: FloatArray
    shares: FloatArray
    slope: float
    mean_loads: FloatArray
    mean_shares: FloatArray  # of the rising readings of a level, which is what a linearity check looks at


def loop_figures(rig: Rig, parts: Sequence[StepPart], checks: Sequence[Check]) -> Iterator[Figure]:
    """One figure for each step and strain channel with readings at several loads."""
    load = next((name for name, channel in rig.channels.items() if channel.measures == rig.part.load), None)
    limits = {(c.step, c.subject): c.tolerance for c in checks if c.name == "linearity"}
    for part in (part for part in parts if part.counts):
        for name, channel in rig.channels.items():
            if channel.measures == "strain" and load is not None:
                found = loop_points(rig, part, load, name)
                if len(found) >= 3 and np.ptp([p.load for p in found]) > 0:
                    yield _figure(rig, part, name, found, limits.get((part.step, name)))


def loop_points(rig: Rig, part: StepPart, load: str, name: str) -> list[Point]:
    """The blocks of a step that hold both channels, from its first zero on."""
    blocks = [b for b in part.entries if b.kind == "samples" and _counts(b, load, name)]
    zeros = [i for i, block in enumerate(blocks) if _is_zero(block)]
    blocks = blocks[zeros[0] if zeros else 0 :]
    if not blocks:
        return []
    first = own = _means(blocks[0], load, name)
    found: list[Point] = []
    for block in blocks:
        now = _means(block, load, name)
        from_first, from_own = (_between(rig, load, name, zero, now) for zero in (first, own))
        found.append(Point(*from_first, *from_own, True, block.data.get("tags", {}).get("level")))
        own = now if _is_zero(block) else own
    return _directed(found, [block.data.get("tags", {}) for block in blocks])


def _counts(block: Entry, load: str, name: str) -> bool:
    values = block.data["values"]
    if block.data.get("label") in ON_THE_WAY or not {load, name} <= values.keys():
        return False
    return all(values[c] and all(v is not None for v in values[c]) for c in (load, name))


def _is_zero(block: Entry) -> bool:
    return str(block.data.get("label", "")).startswith("zero")


def _means(block: Entry, load: str, name: str) -> tuple[float, float]:
    return float(np.mean(block.data["values"][load])), float(np.mean(block.data["values"][name]))


def _between(
    rig: Rig, load: str, name: str, zero: tuple[float, float], now: tuple[float, float]
) -> tuple[float, float]:
    """Load and strain from a zero to now."""
    loads = as_quantity(rig, load, np.array([zero[0], now[0]]), 0.0)
    return float(loads[1] - loads[0]), float(as_quantity(rig, name, np.array([now[1]]), zero[1])[0])


def _directed(found: Sequence[Point], tags: Sequence[Mapping[str, Any]]) -> list[Point]:
    """Rising or falling, as the step says, else as the load went from the point before."""
    move = STANDS * max(abs(point.load) for point in found)
    rises, before, told = True, 0.0, []
    for point, tag in zip(found, tags, strict=True):
        grown = abs(point.load) - abs(before)
        rises = tag["direction"] == "up" if "direction" in tag else rises if abs(grown) < move else grown > 0
        told.append(replace(point, rises=rises))
        before = point.load
    return told


def residual(found: Sequence[Point]) -> Residual | None:
    """What is left of the line; None where there is no top or no answer there."""
    highest = max(abs(point.load_own) for point in found)
    top = [p for p in found if abs(p.load_own) > (1 - STANDS) * highest and p.rises]
    if not top:
        return None
    load, strain = float(np.mean([p.load_own for p in top])), float(np.mean([p.strain_own for p in top]))
    if not load or not strain:
        return None
    loads = np.array([p.load_own for p in found])
    shares = np.array([p.strain_own for p in found]) / strain - loads / load
    rising = np.array([p.rises for p in found])
    levels = list(dict.fromkeys(p.level for p in found if p.level is not None and p.rises))
    of_level = [np.array([p.level == level and p.rises for p in found]) for level in levels]
    means = [(float(loads[them].mean()), float(shares[them].mean())) for them in of_level]
    mean_loads, mean_shares = np.array(means, dtype=np.float64).reshape(-1, 2).T
    return Residual(loads, rising, shares, strain / load, mean_loads, mean_shares)


def _figure(rig: Rig, part: StepPart, name: str, found: Sequence[Point], limit: ToleranceRecord | None) -> Figure:
    kind, left = rig.part.load, residual(found)
    loads, strains = np.array([p.load for p in found]), np.array([p.strain for p in found])
    in_unit, of_strain = fitting(float(np.abs(loads).max()), kind), fitting(float(np.abs(strains).max()), "strain")
    xs, ys = np.asarray(shown(loads, kind, in_unit)), np.asarray(shown(strains, "strain", of_strain))
    x = across(*around(float(xs.min()), float(xs.max())), HALF)
    rising = np.array([p.rises for p in found])
    drawings = [_loop(name, x, xs, ys, rising, (in_unit, of_strain))]
    note = "The reading at the top is nought, so that nothing can be told of a straight line."
    if left is not None:
        drawings.append(_rest(name, x, np.asarray(shown(left.loads, kind, in_unit)), left, limit, kind, in_unit))
        per = float(shown(left.slope, "strain", of_strain)) * float(shown(1.0, kind, in_unit)) ** -1
        note = f"{per:.4g} {of_strain} per {in_unit} from zero to top, thermal output left in. {drawings[1].about}"
    return Figure(f"Step {part.step} {part.kind}, {name}: strain over load", tuple(drawings), note)


def _loop(name: str, x: Scale, xs: FloatArray, ys: FloatArray, rising: FloatArray, units: tuple[str, str]) -> Drawing:
    y = upward(*around(float(ys.min()), float(ys.max())))
    line = Line(name, "", (points(x, y, xs, ys),), *_shapes(x, y, xs, ys, rising))
    about = (
        f"{len(xs)} points between {xs.min():.4g} and {xs.max():.4g} {units[0]}; "
        f"strain {ys.min():.4g} to {ys.max():.4g} {units[1]}."
    )
    return Drawing(f"{name} over load", about, HALF, units[0], f"{name}, {units[1]}", x.marks(4), y.marks(4), (line,))


def _shapes(x: Scale, y: Scale, xs: FloatArray, ys: FloatArray, rising: FloatArray) -> tuple[str, str]:
    """Filled marks for rising load, hollow ones for falling."""
    places = [(x.at(a), y.at(b)) for a, b in zip(xs.tolist(), ys.tolist(), strict=True)]
    up = [place for place, rises in zip(places, rising, strict=True) if rises]
    return marked(UP, up), marked(DOWN, [place for place, rises in zip(places, rising, strict=True) if not rises])


def _rest(
    name: str, x: Scale, xs: FloatArray, left: Residual, limit: ToleranceRecord | None, kind: str, in_unit: str
) -> Drawing:
    percent = 100 * left.shares
    edges = [100 * e for e in (limit.lower, limit.upper) if e is not None] if limit else []
    most = max([float(np.abs(percent).max()), *(abs(e) for e in edges), LEAST_SHOWN])
    y = upward(-1.15 * most, 1.15 * most)
    mean_x, mean_y = np.asarray(shown(left.mean_loads, kind, in_unit)), 100 * left.mean_shares
    lines = [Line("single readings", "", (), *_shapes(x, y, xs, percent, left.rising))]
    if mean_x.size:
        places = [(x.at(a), y.at(b)) for a, b in zip(mean_x.tolist(), mean_y.tolist(), strict=True)]
        lines.append(Line("mean of the rising ones", "", (points(x, y, mean_x, mean_y),), "", marked(MEAN, places)))
    said = f"Largest departure {percent[np.abs(percent).argmax()]:.3f} % of the reading at the top"
    tolerance = f"tolerance of linearity {edges[0]:g} to {edges[1]:g} %" if len(edges) == 2 else ""
    said += f"; {tolerance or 'no tolerance of linearity was set'}."
    return Drawing(
        f"{name}: what is left of the straight line through zero and top",
        said,
        HALF,
        in_unit,
        "departure, % of top",
        x.marks(4),
        y.marks(4),
        tuple(lines),
        band=(y.at(edges[1]), y.at(edges[0])) if len(edges) == 2 else None,
    )
