"""The checks of a proof's stages, and of what stays behind; those of the hold stand in `hold_checks`."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property, partial

import numpy as np

from rigproof.documents.rig import Rig, Rosette
from rigproof.errors import JournalError
from rigproof.models import Numbers
from rigproof.quantities import Quantity, kind_of, show
from rigproof.uncertainty import Rule
from rigproof.verdict.record import Check

from .checks import Stated, Subject, specified_check
from .guard import STRAIN_ORIGIN, agreement, missing, safely
from .record import Block, StepRecord
from .rosettes import AtRosette, rosettes_of, stress_check
from .strains import strain_between
from .terms import (
    Term,
    change,
    combine,
    predicted_strain,
    usable,
)


@dataclass(frozen=True)
class ProofReadings:
    """The record of a proof, and what its checks need to know."""

    rig: Rig
    record: StepRecord
    names: tuple[str, ...]  # the strain channels asked for
    load: str  # channel
    temperature: str  # channel; empty where the rig has none
    to: Quantity
    zero: Block | None = None  # from which strain and load count; None: the zero before this rise

    @cached_property
    def before(self) -> Block:
        """The zero before the rise. Raises `JournalError` where it was not taken."""
        found = self.zero or self.record.block("zero before")
        if found is None:
            raise JournalError("the zero before the rise was not taken")
        return found

    @cached_property
    def stages(self) -> list[Block]:
        """The readings at each stage that was reached."""
        return self.record.blocks("stage")

    def strain(self, name: str, block: Block, label: str) -> Term:
        """Strain of a channel since the zero before the rise."""
        return strain_between(self.rig, name, block, self.before, label)

    def rise(self, block: Block, label: str) -> Term:
        """Load since the zero before the rise."""
        return change(self.rig.channels[self.load], block[self.load], self.before[self.load], label, self.unit)

    @property
    def unit(self) -> str:
        """Base unit of the load."""
        return kind_of(self.to.kind).base


def stage_checks(readings: ProofReadings, rule: Rule, number: int, limit: Stated) -> list[Check]:
    """Strain against the part model, and in proportion to the first stage: is it safe to go on?

    `number` counts the stages that were read, from 1.
    """
    at = _stage(readings, number)
    checks: list[Check] = []
    for name in readings.names:
        about = Subject("strain under load", name, "strain", at)
        make = partial(_stage_of_channel, readings, rule, number, limit, about)
        checks += safely(readings.record, about, make)
    return checks


def stress_checks(readings: ProofReadings, rule: Rule, number: int, most: Quantity, whose: str) -> list[Check]:
    """Von Mises stress at each rosette against a share of the yield strength; `number` as in `stage_checks`."""
    checks: list[Check] = []
    for rosette in rosettes_of(readings.rig, readings.names):
        about = Subject("von Mises stress over yield", rosette.name, "ratio", _stage(readings, number))
        make = partial(_stress_at, readings, rule, number, most, whose, rosette, about)
        checks += safely(readings.record, about, make)
    return checks


def _stress_at(
    readings: ProofReadings, rule: Rule, number: int, most: Quantity, whose: str, rosette: Rosette, about: Subject
) -> Iterator[Check]:
    block = readings.stages[number - 1]
    if not all(usable(b[c]) for b in (block, readings.before) for c in (*rosette.channels, readings.load)):
        yield missing(readings.record, about, "overload or open circuit")
        return
    strains = tuple(readings.strain(name, block, f"stage {number}") for name in rosette.channels)
    point = AtRosette(readings.rig, rosette, strains, readings.rise(block, f"stage {number}"))
    yield stress_check(point, readings.record, rule, about, most, whose)


def _stage(readings: ProofReadings, number: int) -> str:
    block = readings.stages[number - 1]
    return f"stage {block.tags['stage']}, {show(float(np.mean(block[readings.load])), readings.to.kind, 4)}"


def _stage_of_channel(
    readings: ProofReadings, rule: Rule, number: int, limit: Stated, about: Subject
) -> Iterator[Check]:
    block, first, name = readings.stages[number - 1], readings.stages[0], about.subject
    if not all(usable(b[c]) for b in (block, first, readings.before) for c in (name, readings.load)):
        yield missing(readings.record, about, "overload or open circuit")
        return
    measured, load = readings.strain(name, block, f"stage {number}"), readings.rise(block, f"stage {number}")
    expected = predicted_strain(readings.rig, name, load)
    yield agreement(readings.record, about, measured, expected, rule, STRAIN_ORIGIN)
    if number > 1:
        yield _proportionality(readings, rule, limit, about, measured, load)


def _proportionality(
    readings: ProofReadings, rule: Rule, limit: Stated, about: Subject, measured: Term, load: Term
) -> Check:
    """(strain per load here) / (strain per load at the first stage) - 1: a part that yields strains too much."""
    first, name = readings.stages[0], about.subject

    def figure(strain: Numbers, p: Numbers, strain_1: Numbers, p_1: Numbers) -> Numbers:
        return (strain / p) / (strain_1 / p_1) - 1

    ratio = combine(figure, measured, load, readings.strain(name, first, "stage 1"), readings.rise(first, "stage 1"))
    about = Subject("proportionality", name, "ratio", about.at)
    return specified_check(readings.record, about, ratio.estimate(), limit.tolerance, rule, limit.origin)


def set_checks(readings: ProofReadings, rule: Rule, limit: Stated) -> list[Check]:
    """Strain that stays after lowering, as a share of the largest strain under load, at equal load."""
    after, stages = readings.record.block("zero after"), readings.stages
    checks: list[Check] = []
    for name in readings.names:
        about = Subject("permanent set", name, "ratio", f"after {len(stages)} stages")
        if after is None or not stages:
            checks.append(missing(readings.record, about, "no zero was taken after the load"))
        else:
            make = partial(_set_of_channel, readings, rule, limit, about, after)
            checks += safely(readings.record, about, make)
            checks += _set_since_the_first(readings, rule, limit, about, after)
    return checks


def _set_since_the_first(
    readings: ProofReadings, rule: Rule, limit: Stated, about: Subject, after: Block
) -> list[Check]:
    """A proof that was cut off under load and begun again: what the first rise left behind, the second does not show.

    So the set counts from the zero before the first rise, too.
    """
    earlier = readings.record.earlier
    zeros = [taking.block("zero before") for taking in earlier if any("target" in c for c in taking.events("command"))]
    if not zeros or zeros[0] is None:
        return []
    since = replace(about, at=f"since the first of {len(earlier) + 1} takings")
    whole = replace(readings, zero=zeros[0])
    return list(safely(readings.record, since, partial(_set_of_channel, whole, rule, limit, since, after)))


def _set_of_channel(
    readings: ProofReadings, rule: Rule, limit: Stated, about: Subject, after: Block
) -> Iterator[Check]:
    name, last = about.subject, readings.stages[-1]
    if not all(usable(b[c]) for b in (after, readings.before, last) for c in (name, readings.load)):
        yield missing(readings.record, about, "overload or open circuit")
        return
    left, peak = readings.strain(name, after, "zero after"), readings.strain(name, last, "last stage")
    rest, top = readings.rise(after, "zero after"), readings.rise(last, "last stage")

    def figure(stays: Numbers, most: Numbers, p: Numbers, p_most: Numbers) -> Numbers:
        return stays / most - p / p_most

    share = combine(figure, left, peak, rest, top)
    yield specified_check(readings.record, about, share.estimate(), limit.tolerance, rule, limit.origin)
