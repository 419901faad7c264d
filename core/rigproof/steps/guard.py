"""What keeps a verdict honest where numbers are missing or too poor to tell: nothing is passed over in silence."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from rigproof.errors import RigproofError
from rigproof.uncertainty import Rule, improvement
from rigproof.verdict.record import Check

from .checks import Subject, agreement_check, no_reading
from .record import StepRecord
from .terms import Term

# A computed tolerance grows with the uncertainty, so that a bad enough measurement agrees with everything. Beyond this
# share of the expected value an agreement shows nothing (reasoning, no source).
CAPABLE_WITHIN = 0.2

STRAIN_ORIGIN = "computed for indicated strain: part model, gauge, leads, amplifier and load channel"


def missing(record: StepRecord, about: Subject, note: str) -> Check:
    """A check that was asked for and cannot be made: undecided, and it says why."""
    return no_reading(record, about, None, "not reached", "undecided", note)


def safely(record: StepRecord, about: Subject, make: Callable[[], Iterable[Check]]) -> list[Check]:
    """The checks that `make` makes; where the numbers do not allow them, one undecided check that says why."""
    try:
        return list(make())
    except (RigproofError, ArithmeticError) as error:
        return [missing(record, about, f"cannot be computed: {error}")]


def agreement(
    record: StepRecord, about: Subject, measured: Term, expected: Term, rule: Rule, origin: str, note: str = ""
) -> Check:
    """Measured against expected under a computed tolerance, as long as that tolerance can tell anything."""
    check = agreement_check(record, about, measured, expected, rule, origin, note)
    expanded, value = check.U, check.expected
    if check.finding != "accept" or expanded is None or value is None or expanded <= CAPABLE_WITHIN * abs(value):
        return check
    narrow_from = CAPABLE_WITHIN * abs(value) / expanded
    better = improvement(check.budget, check.u_decides, lambda scale: "accept" if scale <= narrow_from else "undecided")
    return check.model_copy(
        update={
            "finding": "undecided",
            "improve": better.input,
            "improve_to": better.factor,
            "would_be": better.finding,
            "note": f"tolerance wider than {100 * CAPABLE_WITHIN:.0f} % of the expected value: "
            "too poor to show anything",
        }
    )
