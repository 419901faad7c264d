"""A check in words, with units."""

from __future__ import annotations

from rigproof.quantities import kind_of, show
from rigproof.verdict.record import Check


def title(check: Check) -> str:
    """What was checked, of what, and where in the step."""
    return f"{check.name} of {check.subject}" + (f" ({check.at})" if check.at else "")


def measured(check: Check) -> str:
    """The measured value with its standard uncertainty, or why there is none."""
    if check.measured is None:
        return f"no reading ({check.note})" if check.note else "no reading"
    return f"measured {show(check.measured, check.kind)}, u {show(check.u, kind_of(check.kind).difference, 2)}"


def tolerance(check: Check) -> str:
    """The limits on the true value and who set them."""
    limits = check.tolerance
    return f"tolerance {between(limits.lower, limits.upper, check.kind)} ({limits.origin})"


def between(lower: float | None, upper: float | None, kind: str) -> str:
    """An interval that may be open on either side."""
    if lower is None and upper is None:
        return "without limits"
    if lower is None or upper is None:
        return f"at most {show(upper, kind)}" if upper is not None else f"at least {show(lower or 0.0, kind)}"
    return f"{show(lower, kind)} to {show(upper, kind)}"


def sentence(check: Check) -> str:
    """All that a reader needs to see why a check came out as it did."""
    parts = [measured(check)]
    if check.expected is not None:
        parts.append(f"expected {show(check.expected, check.kind)}")
    parts.append(tolerance(check))
    parts.append(f"conformance probability {100 * check.conformance_probability:.3g} %")
    if check.improve:
        parts.append(f"improve first: {check.improve}")
    if check.note and check.measured is not None:
        parts.append(check.note)
    return "; ".join(parts)
