"""Campaigns as text and CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence

from rigproof.quantities import show, shown, unit
from rigproof.simulation import Flaw

from .curve import Curve
from .intervals import COVERAGE
from .matrix import WANTED, Row

SURE = f"intervals hold with at least {COVERAGE:.0%}"
MOST_CHECKS = 3  # of a row, on the screen


def matrix_lines(rows: Sequence[Row], cannot: Mapping[str, str]) -> list[str]:
    """The detection matrix for a terminal; the surest checks of each flaw, and the holes."""
    lines = [f"Found in what share of the runs ({SURE}), and by which checks:"]
    width = max([len(each.flaw) for each in rows] + [9])
    for each in rows:
        lines.append(f"  {each.flaw or 'sound rig':{width}}  {each.caught!s:>26}")
        lines += [f"  {'':{width}}    {text} {found}" for text, found in each.checks[:MOST_CHECKS]]
    sound = [each for each in rows if not each.flaw]
    for each in sound:
        lines.append(f"Sound rig: accepted {each.ends['accept']}, rejected {each.ends['reject']}")
    holes = [each.flaw for each in rows if each.hole]
    if len(rows) > len(sound):
        lines.append(f"Holes, found in less than {WANTED:.0%}: {', '.join(holes) or 'none'}")
    lines += [f"Cannot be planted in this rig: {flaw} ({why})" for flaw, why in cannot.items()]
    return lines


def matrix_csv(rows: Sequence[Row]) -> str:
    """One line a flaw and check; the first of each flaw is the verdict itself."""
    heading = ["flaw", "found by", "count", "runs", "share", "low", "high"]
    body = []
    for each in rows:
        for text, found in (("any check or the end of the run", each.caught), *each.checks):
            numbers = (found.count, found.runs, found.share, found.low, found.high)
            body.append([each.flaw or "sound rig", text, *map(_number, numbers)])
    return _csv([heading, *body])


def curve_lines(curve: Curve, flaw: Flaw) -> list[str]:
    """The operating characteristic for a terminal."""
    lines = [f"{flaw.name}: probability of acceptance against {flaw.quantity} ({SURE})"]
    for point in curve.points:
        bar = "#" * round(30 * point.smooth)
        lines.append(f"  {show(point.size, flaw.kind, 4):>14}  {point.accepted!s:>26}  {bar}")
    caught, low, high = curve.size_caught()
    if caught is None:
        lines.append(f"Never found in {WANTED:.0%} of the runs within these sizes.")
    else:
        lines.append(f"Found in {WANTED:.0%} of the runs from {show(caught, flaw.kind, 3)} on")
    sides = [f"too few at {show(low, flaw.kind, 3)}"] if low is not None else []
    sides += [f"enough at {show(high, flaw.kind, 3)}"] if high is not None else []
    return [*lines, f"  (by the ends of the intervals: {'; '.join(sides)})"] if sides else lines


def curve_csv(curve: Curve, flaw: Flaw) -> str:
    """One line a size."""
    heading = [f"size in {unit(flaw.kind)}".strip(), "accepted", "runs", "share", "low", "high", "smooth"]
    body = [
        [
            float(shown(p.size, flaw.kind)),
            p.accepted.count,
            p.accepted.runs,
            p.accepted.share,
            p.accepted.low,
            p.accepted.high,
            p.smooth,
        ]
        for p in curve.points
    ]
    return _csv([heading, *([_number(x) for x in line] for line in body)])


def _number(number: float) -> str:
    return f"{number:.6g}"


def _csv(lines: Iterable[Sequence[str]]) -> str:
    stream = io.StringIO()
    csv.writer(stream).writerows(lines)
    return stream.getvalue()
