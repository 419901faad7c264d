"""One check as a bar: the tolerance, what of it is accepted, the value with its expanded uncertainty."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rigproof.verdict import words
from rigproof.verdict.record import Check

from .scales import Scale, around

WIDTH, EDGE = 240.0, 6.0


@dataclass(frozen=True)
class Bar:
    """Places along the bar, 0 to WIDTH; None where there is nothing to draw."""

    tolerance: tuple[float, float]
    open_below: bool
    open_above: bool
    acceptance: tuple[float, float] | None
    guards: tuple[tuple[float, float], ...]  # bands in which nothing is decided
    value: float
    reach: tuple[float, float]
    beyond: str  # "" or the side on which the value lies off the drawing
    text: str  # the same for who does not see it


def bar(check: Check) -> Bar | None:
    """The bar of a check; None for a count, and for one without a reading or without limits."""
    limits = check.tolerance
    if check.kind == "number" or check.measured is None or (limits.lower is None and limits.upper is None):
        return None
    reach = 2 * check.u if limits.computed or check.U is None else check.U  # U of a difference is the tolerance itself
    low, high = _span(check, reach)
    scale = Scale(low, high, EDGE, WIDTH - EDGE)
    lower = low if limits.lower is None else limits.lower
    upper = high if limits.upper is None else limits.upper
    return Bar(
        tolerance=(scale.inside(lower), scale.inside(upper)),
        open_below=limits.lower is None,
        open_above=limits.upper is None,
        acceptance=_acceptance(check, scale),
        guards=tuple(_guards(check, scale)),
        value=scale.inside(check.measured),
        reach=(scale.inside(check.measured - reach), scale.inside(check.measured + reach)),
        beyond="left" if check.measured < low else "right" if check.measured > high else "",
        text=f"{words.value(check)}, tolerance {words.interval(check)}: {check.finding}",
    )


def _span(check: Check, reach: float) -> tuple[float, float]:
    """Tolerance and value, unless the value lies so far off that the tolerance would be a line."""
    limits, value = check.tolerance, check.measured or 0.0
    known = [limit for limit in (limits.lower, limits.upper) if limit is not None]
    if len(known) == 1:
        away = max(abs(value - known[0]) + reach, abs(check.guard_band) * 2, abs(known[0]) * 0.01)
        return known[0] - min(away, _most(known[0], away)) * 1.2, known[0] + min(away, _most(known[0], away)) * 1.2
    lower, upper = known
    width = upper - lower or reach or abs(value) or 1.0
    ends = [min(max(v, lower - width), upper + width) for v in (value - reach, value + reach)]
    return around(min(lower, *ends), max(upper, *ends), 0.08)


def _most(limit: float, away: float) -> float:
    """How much of the axis a value far beyond a single limit may take: as much as the limit itself."""
    return abs(limit) or away


def _acceptance(check: Check, scale: Scale) -> tuple[float, float] | None:
    lower, upper = check.acceptance_lower, check.acceptance_upper
    if lower is None and upper is None:
        return None
    return (
        scale.inside(scale.low if lower is None else lower),
        scale.inside(scale.high if upper is None else upper),
    )


def _guards(check: Check, scale: Scale) -> Iterator[tuple[float, float]]:
    """Inside the tolerance where a guard band keeps from accepting, outside it where it keeps from rejecting."""
    lower, upper, band = check.tolerance.lower, check.tolerance.upper, check.guard_band
    if not check.guards or band <= 0:
        return
    inwards = band if check.guards == "acceptance" else -band
    for limit, other in ((lower, inwards), (upper, -inwards)):
        if limit is not None:
            ends = sorted((scale.inside(limit), scale.inside(limit + other)))
            if ends[1] > ends[0]:
                yield ends[0], ends[1]
