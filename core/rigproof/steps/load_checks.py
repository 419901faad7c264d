"""The checks of the load itself in a step that loads: nothing at the zero, and never too much.

Strain and load are counted from the zero, so that no later figure shows a vent that is blocked or a transmitter whose
zero is off; the lowest load of a proof, which is judged as it is read, would be wrong by it. A source that runs past
its target is better found at the load of the cycles than at that of the proof.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import numpy as np

from rigproof.documents.rig import Rig
from rigproof.instruments import FloatArray
from rigproof.quantities import Quantity, kind_of
from rigproof.uncertainty import Rule, Tolerance
from rigproof.verdict.record import Check

from .checks import Stated, Subject, specified_check
from .guard import missing, safely
from .record import Block, StepRecord
from .terms import absolute, usable


def load_zero_checks(
    rig: Rig, rule: Rule, record: StepRecord, load: str, zero: Block | None, to: Quantity, limit: Stated
) -> list[Check]:
    """Load read at the `zero`, against a share of the load that the step goes `to`."""
    about = Subject("load at the zero", load, to.kind)
    most = abs(limit.within.limit * to.value)
    readings = zero[load] if zero is not None else np.array([])
    limits = Tolerance(-most, most)
    make = partial(_level, rig, rule, record, about, readings, limits, limit.origin)
    return safely(record, about, make)


def highest_load_checks(
    rig: Rig, rule: Rule, record: StepRecord, load: str, to: Quantity, at_most: Quantity, whose: str
) -> list[Check]:
    """The largest reading of the step, on the way and at rest, against a share of the load it goes `to`.

    `whose` limit it is: the procedure's or the default.
    """
    about = Subject("highest load", load, to.kind)
    read = [block[load] for block in record.all_blocks() if load in block.values]
    everything = np.concatenate(read) if read else np.array([])
    pushes = to.value > 0  # compression is a load below zero, and counts by its size
    most = np.array([everything.max() if pushes else everything.min()]) if usable(everything) else everything
    top = to.value * at_most.value
    limits = Tolerance(None, top) if pushes else Tolerance(top, None)
    origin = f"{whose}: at most {at_most.text} of {to.text}"
    return safely(record, about, partial(_level, rig, rule, record, about, most, limits, origin))


def _level(
    rig: Rig, rule: Rule, record: StepRecord, about: Subject, readings: FloatArray, limits: Tolerance, origin: str
) -> Iterator[Check]:
    if not usable(readings):
        yield missing(record, about, "the load was not read, or a reading is missing: overload or no number")
        return
    unit = kind_of(about.kind).base
    reading = absolute(rig.channels[about.subject], readings, f"{about.name} reading", unit)
    yield specified_check(record, about, reading.estimate(), limits, rule, origin)
