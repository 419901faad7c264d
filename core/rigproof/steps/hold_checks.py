"""The checks of a proof's hold: load reached and kept, decay with the temperature taken out, strain at its end."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from rigproof.instruments import FloatArray
from rigproof.journal import BROKEN_OFF
from rigproof.uncertainty import Rule, Tolerance
from rigproof.verdict.record import Check

from .checks import Stated, Subject, specified_check, value_of
from .guard import STRAIN_ORIGIN, agreement, missing, safely
from .proof_checks import ProofReadings
from .record import Block
from .strains import rise_between
from .terms import (
    Term,
    absolute,
    change,
    combine,
    part_inputs,
    predicted_strain,
    usable,
)

if TYPE_CHECKING:
    from .proof import Proof

SLACK_S = 2.0  # a hold is timed by readings a second apart


def hold_checks(readings: ProofReadings, rule: Rule, proof: Proof) -> list[Check]:
    """Lowest and highest load, decay of the shut-in load, strain at the end."""
    about = Subject("lowest load of the hold", readings.load, readings.to.kind)
    start, end = readings.record.block("hold start"), readings.record.block("hold end")
    if start is None or end is None:
        return [missing(readings.record, about, "the proof load was not held")]
    if end.t - start.t < proof.hold.value - SLACK_S:
        return [missing(readings.record, about, f"held for {end.t - start.t:.0f} s, not for {proof.hold.text}")]
    checks = safely(readings.record, about, partial(_levels, readings, rule, about, proof, start, end))
    decayed = Subject("decay over the hold", readings.load, "ratio", "temperature taken out")
    checks += safely(
        readings.record, decayed, partial(_decay, readings, rule, proof.stated("decay"), decayed, start, end)
    )
    for name in readings.names:
        strained = Subject("strain under load", name, "strain", "end of the hold")
        checks += safely(readings.record, strained, partial(_strain, readings, rule, strained, end))
    return checks


def _levels(
    readings: ProofReadings, rule: Rule, about: Subject, proof: Proof, start: Block, end: Block
) -> Iterator[Check]:
    """The lowest load of the hold proves the part, the highest of the whole step does not overdo it."""
    watched = _watched(readings, "hold")
    if not watched:
        yield missing(readings.record, about, "nothing was read during the hold")
        return
    held = np.concatenate([start[readings.load], *watched, end[readings.load]])
    others = [*_watched(readings, "watch"), *_watched(readings, BROKEN_OFF)]
    everything = np.concatenate([held, *others, *(b[readings.load] for b in readings.stages)])
    if not usable(everything):
        yield missing(readings.record, about, "a reading is missing: overload or no number")
        return
    to, pushes = readings.to.value, readings.to.value > 0  # compression is a load below zero, and counts by its size
    lowest, most = (held.min(), everything.max()) if pushes else (held.max(), everything.min())
    least = Tolerance(to, None) if pushes else Tolerance(None, to)
    yield _level(readings, rule, about, lowest, least, f"procedure: at least {readings.to.text}")
    top = to * proof.at_most.value
    highest = Subject("highest load", readings.load, readings.to.kind)
    origin = f"{proof.origin('at_most')}: at most {proof.at_most.text} of {readings.to.text}"
    yield _level(readings, rule, highest, most, Tolerance(None, top) if pushes else Tolerance(top, None), origin)


def _level(readings: ProofReadings, rule: Rule, about: Subject, value: float, limits: Tolerance, origin: str) -> Check:
    channel = readings.rig.channels[readings.load]
    term = absolute(channel, np.array([value]), f"{about.name} reading", readings.unit)
    return specified_check(readings.record, about, term.estimate(), limits, rule, origin)


def _watched(readings: ProofReadings, label: str) -> list[FloatArray]:
    return [block[readings.load] for block in readings.record.blocks(label) if readings.load in block.values]


def _strain(readings: ProofReadings, rule: Rule, about: Subject, end: Block) -> Iterator[Check]:
    name = about.subject
    if not all(usable(block[c]) for block in (end, readings.before) for c in (name, readings.load)):
        yield missing(readings.record, about, "overload or open circuit")
        return
    expected = predicted_strain(readings.rig, name, readings.rise(end, "end of hold"))
    measured = readings.strain(name, end, "end of hold")
    yield agreement(readings.record, about, measured, expected, rule, STRAIN_ORIGIN)


def _decay(
    readings: ProofReadings, rule: Rule, limit: Stated, about: Subject, start: Block, end: Block
) -> Iterator[Check]:
    """Change of the shut-in load over the hold, less what the change of temperature explains, as a share of it."""
    part, target = readings.rig.part, readings.to.value
    per_kelvin = Term(partial(part.load_per_kelvin, target), part_inputs(readings.rig))
    answers = value_of(per_kelvin) != 0.0
    if answers and not readings.temperature:
        note = "a shut-in load follows the temperature, and the rig has no temperature channel"
        yield missing(readings.record, about, note)
        return
    if not (usable(start[readings.load]) and usable(end[readings.load])):
        yield missing(readings.record, about, "a reading is missing: overload or no number")
        return
    channel = readings.rig.channels[readings.load]
    moved = change(channel, end[readings.load], start[readings.load], "end of hold", readings.unit)
    figure = combine(lambda load: load / target, moved)
    if answers:
        first = readings.record.block("hold start, temperature")
        last = readings.record.block("hold end, temperature")
        if first is None or last is None:
            yield missing(readings.record, about, f"channel {readings.temperature} was not read")
            return
        warming = rise_between(readings.rig, readings.temperature, last, first, "end of hold")
        figure = combine(lambda load, kelvin, rate: (load - rate * kelvin) / target, moved, warming, per_kelvin)
    yield specified_check(readings.record, about, figure.estimate(), limit.tolerance, rule, limit.origin)
