"""The check of the load channel at rest: is there no load where the strains take their zero?

Strain and load are counted from that zero, so that no later figure shows a vent that is blocked or a transmitter whose
zero is off; the lowest load of a proof, which is judged as it is read, would be wrong by it.
"""

from __future__ import annotations

from functools import partial

from rigproof.documents.rig import Rig
from rigproof.quantities import Quantity, Within, kind_of
from rigproof.uncertainty import Rule, Tolerance
from rigproof.verdict.record import Check

from .checks import Subject, specified_check
from .guard import missing, safely
from .record import Block, StepRecord
from .terms import absolute, usable


def load_zero_checks(
    rig: Rig, rule: Rule, record: StepRecord, load: str, zero: Block | None, to: Quantity, limit: Within
) -> list[Check]:
    """Load read at the `zero`, against a share of the load that the step goes `to`."""
    about = Subject("load at the zero", load, to.kind)
    if zero is None or not usable(zero[load]):
        return [missing(record, about, "no load was read at the zero")]
    most = abs(limit.limit * to.value)
    reading = absolute(rig.channels[load], zero[load], f"{load} zero reading", kind_of(to.kind).base)

    def make(limits: Tolerance) -> list[Check]:
        return [specified_check(record, about, reading.estimate(), limits, rule, f"procedure: {limit.text}")]

    return safely(record, about, partial(make, Tolerance(-most, most)))
