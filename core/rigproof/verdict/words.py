"""A check in words, with units: shared by the screen and by every report, so that they never say two things."""

from __future__ import annotations

from collections.abc import Callable
from math import floor, isfinite, log10

from rigproof.quantities import kind_of, shown, unit
from rigproof.quantities import show as show_digits

from .record import Check, RetryRecord


def rounded(value: float, u: float, kind: str) -> str:
    """A value to the place where its uncertainty has two significant digits (GUM 7.2.6); without one, five digits."""
    width = float(shown(u, kind)) - float(shown(0.0, kind))
    if not (isfinite(value) and isfinite(width) and width > 1e-12):
        return show_digits(value, kind, 5)
    places = max(0, 1 - floor(log10(width)))
    number = round(float(shown(value, kind)), places) + 0.0  # + 0.0: no minus zero
    return f"{number:.{places}f} {unit(kind)}".strip()


def with_u(value: float, expanded: float, kind: str) -> str:
    """A value and its expanded uncertainty, both to two digits of the latter: `36.108 ± 0.061 bar`."""
    number = rounded(value, expanded, kind).removesuffix(unit(kind)).strip()
    return f"{number} ± {rounded(expanded, expanded, kind_of(kind).difference)}"


def retries(record: RetryRecord) -> str:
    """`1 retry of the ohmmeter`."""
    return f"{record.count} {'retry' if record.count == 1 else 'retries'} of the {record.instrument}"


def title(check: Check) -> str:
    """What was checked, of what, and where in the step."""
    return f"{check.name} of {check.subject}" + (f" ({check.at})" if check.at else "")


def value(check: Check) -> str:
    """The measured value, or why there is none."""
    if check.measured is None:
        return f"no reading ({check.note})" if check.note else "no reading"
    return rounded(check.measured, check.u, check.kind)


def concise(check: Check) -> str:
    """The measured value with the digits of its standard uncertainty in brackets: `9.37(14) µε/bar` (GUM 7.2.2)."""
    if check.measured is None:
        return "no reading"
    text = rounded(check.measured, check.u, check.kind)
    number, _, of_unit = text.partition(" ")
    width = float(shown(check.u, check.kind)) - float(shown(0.0, check.kind))
    if width <= 1e-12:
        return text
    places = len(number.partition(".")[2])
    digits = f"{width:.{places}f}" if width >= 1 and places else f"{round(width * 10**places)}"
    return f"{number}({digits}) {of_unit}".strip()


def uncertainty(check: Check) -> str:
    """The standard uncertainty, two significant digits."""
    return "" if check.measured is None else show_digits(check.u, kind_of(check.kind).difference, 2)


def interval(check: Check) -> str:
    """The tolerance: the limits on the true value."""
    return between(check.tolerance.lower, check.tolerance.upper, check.kind, lambda limit: _limit(limit, check))


def between(lower: float | None, upper: float | None, kind: str, text: Callable[[float], str]) -> str:
    """An interval in words; `text` writes one limit with the unit of `kind`."""
    if lower is None and upper is None:
        return "without limits"
    if lower is None or upper is None:
        return f"at most {text(upper)}" if upper is not None else f"at least {text(lower or 0.0)}"
    if lower == -upper:
        return f"± {text(upper)}"
    return f"{text(lower).removesuffix(unit(kind)).strip()} to {text(upper)}"


def _limit(limit: float, check: Check) -> str:
    """A specified limit as short as it was written; a computed one to the digits of the uncertainty."""
    if not check.tolerance.computed:
        return show_digits(limit, check.kind, 6)
    return rounded(limit, check.u, check.kind)


def sentence(check: Check) -> str:
    """All that a reader needs to see why a check came out as it did."""
    parts = [f"measured {value(check)}, u {uncertainty(check)}" if check.measured is not None else value(check)]
    if check.expected is not None:
        parts.append(f"expected {rounded(check.expected, check.u, check.kind)}")
    parts.append(f"tolerance {interval(check)} ({check.tolerance.origin})")
    if check.measured is not None:
        parts.append(f"conformance probability {100 * check.conformance_probability:.3g} %")
    if check.method != "first order":
        parts.append(f"by {check.method}")
    if check.improve:
        parts.append(f"improve first: {check.improve}{_enough(check)}")
    if check.note and check.measured is not None:
        parts.append(check.note)
    return "; ".join(parts)


def _enough(check: Check) -> str:
    """How much better the input must be known, and what that would bring."""
    if check.improve_to is None:
        return ""
    return f", to {100 * check.improve_to:.2g} % of its u: {check.would_be} at this reading"
