"""The checks of a proof: each stage, the hold, what stays behind."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np

from rigproof.documents.rig import Rig
from rigproof.models import Numbers
from rigproof.quantities import Quantity, Within, kind_of, show
from rigproof.uncertainty import Input, Rule, Tolerance
from rigproof.verdict.record import Check

from .checks import Subject, agreement_check, no_reading, specified_check, value_of
from .foresee import Foreseen, foreseen
from .record import Block, StepRecord
from .terms import (
    Term,
    absolute,
    change,
    combine,
    drift_input,
    gain_input,
    predicted_strain,
    prefixed,
    strain_between,
    usable,
)

STRAIN_ORIGIN = "computed: part model, gauge, leads, amplifier and load channel"


@dataclass(frozen=True)
class ProofReadings:
    """The record of a proof, and what its checks need to know."""

    rig: Rig
    record: StepRecord
    load: str  # channel
    temperature: str  # channel; empty where the rig has none
    to: Quantity
    proportionality: Within
    aim: float

    @cached_property
    def before(self) -> Block | None:
        """The zero before the rise."""
        return self.record.block("zero before")

    @cached_property
    def stages(self) -> list[Block]:
        """The readings of the stages that were reached."""
        return self.record.blocks("stage")

    @property
    def names(self) -> list[str]:
        """The strain channels that were read."""
        assert self.before is not None, "judge returns early without a zero"
        return [name for name in self.before.values if name != self.load]

    def strain(self, name: str, block: Block, label: str) -> Term:
        """Strain of a channel since the zero before the rise."""
        assert self.before is not None
        return strain_between(self.rig, name, block[name], self.before[name], label)

    def rise(self, block: Block, label: str) -> Term:
        """Load since the zero before the rise."""
        assert self.before is not None
        return change(self.rig.channels[self.load], block[self.load], self.before[self.load], label, self.unit)

    @property
    def unit(self) -> str:
        """Base unit of the load."""
        return kind_of(self.to.kind).base


def foreseen_strain(rig: Rig, name: str, load: str, top: float, rule: Rule) -> Foreseen:
    """Strain at the proof load from the part model."""
    channel = rig.channels[load]
    true_load = Term(
        lambda gain, drift: top * (1 + gain) + drift,
        (gain_input(channel), drift_input(channel, "stage", kind_of(rig.part.load).base)),
    )
    expected = predicted_strain(rig, name, true_load)
    strain = value_of(expected)
    gain = gain_input(rig.channels[name])
    measured = Term(lambda error: strain * (1 + error), (gain,))
    return foreseen("strain at proof load", name, "strain", measured, expected, rule)


def stage_checks(readings: ProofReadings, rule: Rule, number: int) -> list[Check]:
    """Strain against the part model, and in proportion to the first stage: is it safe to go on?"""
    block, first = readings.stages[number - 1], readings.stages[0]
    checks: list[Check] = []
    for name in readings.names:
        at = f"stage {number}, {show(float(np.mean(block[readings.load])), readings.to.kind, 4)}"
        about = Subject("strain under load", name, "strain", at)
        zero = readings.before
        assert zero is not None
        if not all(usable(b[c]) for b in (block, first, zero) for c in (name, readings.load)):
            limits = Tolerance(None, None)
            checks.append(
                no_reading(readings.record, about, limits, STRAIN_ORIGIN, "undecided", "overload or open circuit")
            )
            continue
        measured, load = readings.strain(name, block, f"stage {number}"), readings.rise(block, f"stage {number}")
        expected = predicted_strain(readings.rig, name, load)
        checks.append(agreement_check(readings.record, about, measured, expected, rule, STRAIN_ORIGIN))
        if number > 1:
            checks.append(_proportionality(readings, rule, name, measured, load, at))
    return checks


def _proportionality(readings: ProofReadings, rule: Rule, name: str, measured: Term, load: Term, at: str) -> Check:
    """(strain per load here) / (strain per load at the first stage) - 1: a part that yields strains too much."""
    first = readings.stages[0]

    def figure(strain: Numbers, p: Numbers, strain_1: Numbers, p_1: Numbers) -> Numbers:
        return (strain / p) / (strain_1 / p_1) - 1

    ratio = combine(figure, measured, load, readings.strain(name, first, "stage 1"), readings.rise(first, "stage 1"))
    limit = readings.proportionality
    return specified_check(
        readings.record,
        Subject("proportionality", name, "ratio", at),
        ratio.estimate(),
        Tolerance(-limit.limit, limit.limit),
        rule,
        f"procedure: {limit.text}",
    )


def hold_checks(readings: ProofReadings, rule: Rule, decay: Within, at_most: Quantity) -> list[Check]:
    """Lowest and highest load, decay of the shut-in load; nothing where the hold was not finished."""
    start, end = readings.record.block("hold start"), readings.record.block("hold end")
    if start is None or end is None:
        return []
    channel = readings.rig.channels[readings.load]
    held = np.concatenate([start[readings.load], *_watched(readings, "hold"), end[readings.load]])
    everything = np.concatenate([held, *_watched(readings, "watch")])
    kind = readings.to.kind
    about = Subject("lowest load of the hold", readings.load, kind)
    if not usable(everything):
        limits = Tolerance(readings.to.value, None)
        note = "a reading is missing: overload or no number"
        return [no_reading(readings.record, about, limits, f"procedure: {readings.to.text}", "undecided", note)]
    lowest, highest = np.array([held.min()]), np.array([everything.max()])
    top = readings.to.value * at_most.value
    checks = [
        specified_check(
            readings.record,
            about,
            absolute(channel, lowest, "lowest reading", readings.unit).estimate(),
            Tolerance(readings.to.value, None),
            rule,
            f"procedure: at least {readings.to.text}",
        ),
        specified_check(
            readings.record,
            Subject("highest load", readings.load, kind),
            absolute(channel, highest, "highest reading", readings.unit).estimate(),
            Tolerance(None, top),
            rule,
            f"procedure: at most {at_most.text} of {readings.to.text}",
        ),
        _decay(readings, rule, decay, start, end),
    ]
    return checks + _strain_after_hold(readings, rule, end)


def _watched(readings: ProofReadings, label: str) -> list[np.ndarray[tuple[int], np.dtype[np.float64]]]:
    return [block[readings.load] for block in readings.record.blocks(label) if readings.load in block.values]


def _strain_after_hold(readings: ProofReadings, rule: Rule, end: Block) -> list[Check]:
    checks = []
    for name in readings.names:
        about = Subject("strain under load", name, "strain", "end of the hold")
        measured = readings.strain(name, end, "end of hold")
        expected = predicted_strain(readings.rig, name, readings.rise(end, "end of hold"))
        if usable(end[name]):
            checks.append(agreement_check(readings.record, about, measured, expected, rule, STRAIN_ORIGIN))
    return checks


def _decay(readings: ProofReadings, rule: Rule, limit: Within, start: Block, end: Block) -> Check:
    """Change of the shut-in load over the hold, less what the change of temperature explains, as a share of it."""
    channel = readings.rig.channels[readings.load]
    moved = change(channel, end[readings.load], start[readings.load], "end of hold", readings.unit)
    part = readings.rig.part
    target = readings.to.value
    per_kelvin = Term(partial(part.load_per_kelvin, target), prefixed("part", part.inputs()))

    def figure(load: Numbers, kelvin: Numbers, load_per_kelvin: Numbers) -> Numbers:
        return (load - load_per_kelvin * kelvin) / target

    warming, note = _warming(readings)
    return specified_check(
        readings.record,
        Subject("decay over the hold", readings.load, "ratio", "temperature taken out"),
        combine(figure, moved, warming, per_kelvin).estimate(),
        Tolerance(-limit.limit, limit.limit),
        rule,
        f"procedure: {limit.text}",
        note,
    )


def _warming(readings: ProofReadings) -> tuple[Term, str]:
    """Change of the filling's temperature over the hold in K."""
    start = readings.record.block("hold start, temperature")
    end = readings.record.block("hold end, temperature")
    if not readings.temperature or start is None or end is None:
        return Term(lambda none: none, (Input("temperature change", 0.0, 0.0, shape="exact", unit="K"),)), (
            "no temperature channel: decay not corrected"
        )
    channel = readings.rig.channels[readings.temperature]
    model = channel.reduction
    a, b = start[readings.temperature], end[readings.temperature]
    if model is None:
        return change(channel, b, a, "end of hold", "K"), ""
    nominal = [item.value for item in model.inputs(())]
    return change(
        channel,
        np.asarray(model.reduce(b, 0.0, *nominal)),
        np.asarray(model.reduce(a, 0.0, *nominal)),
        "end of hold",
        "K",
    ), ""


def set_checks(readings: ProofReadings, rule: Rule, limit: Within) -> list[Check]:
    """Strain that stays after lowering, as a share of the largest strain under load."""
    after, stages = readings.record.block("zero after"), readings.stages
    if after is None or not stages:
        return []
    checks = []
    limits = Tolerance(-limit.limit, limit.limit)
    for name in readings.names:
        about = Subject("permanent set", name, "ratio", f"after {len(stages)} stages")
        zero = readings.before
        assert zero is not None
        if not all(usable(block[name]) for block in (after, zero, stages[-1])):
            note = "overload or open circuit"
            checks.append(no_reading(readings.record, about, limits, f"procedure: {limit.text}", "undecided", note))
            continue
        left = readings.strain(name, after, "zero after")
        peak = readings.strain(name, stages[-1], "last stage")
        share = combine(lambda stays, top: stays / top, left, peak).estimate()
        checks.append(specified_check(readings.record, about, share, limits, rule, f"procedure: {limit.text}"))
    return checks
