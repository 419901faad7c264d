"""The plan as data: what `rigproof plan --json` prints, and what its text is made of.

Every number stands with its unit, the base unit of its `kind` (see `rigproof.quantities.KINDS`). U is the expanded
uncertainty at `coverage`, so far as it is known before anything is measured: the scatter of readings comes on top.
"""

from __future__ import annotations

from typing import Literal

from rigproof.quantities import kind_of
from rigproof.verdict.record import Record

DIGITS = 7  # significant ones: beyond them processors differ


class Value(Record):
    """A number with its unit; `U` is null where the number is exact, a limit, or of no stated uncertainty."""

    value: float
    U: float | None = None
    unit: str
    kind: str


def value_in(kind: str, value: float, expanded: float = 0.0) -> Value:
    """A value in the base unit of `kind`, with its U where it has one."""
    return Value(value=rounded(value), U=rounded(expanded) if expanded else None, unit=kind_of(kind).base, kind=kind)


def rounded(number: float) -> float:
    """To the digits that are the same everywhere."""
    return float(f"{number:.{DIGITS}g}")


class PlannedFact(Record):
    """One number people want to know before any load."""

    name: str
    value: Value
    note: str


class PlannedGauge(Record):
    """What is known of a gauge as installed."""

    channel: str
    facts: tuple[PlannedFact, ...]


class PredictedStrain(Record):
    """What a channel ought to show while the load channel reads `load`."""

    channel: str
    load: Value
    strain: Value


class PlannedCheck(Record):
    """A check as the budgets foresee it; all its values in the base unit of `kind`.

    `capability` is C_m = T/(4 u) of a specified two-sided tolerance (JCGM 106:2012, 7.6.3); `share` is U over the
    expected value of a computed one. `chance` is the probability that a sound rig whose errors are as stated reads
    inside the acceptance limits; null for a computed tolerance, and where nothing tells what it reads.
    """

    name: str
    subject: str
    at: str
    kind: str
    unit: str
    expected: float | None  # what a sound rig reads; null where the limit itself was looked at
    u: float
    U: float
    lower: float | None  # of the tolerance; null: open
    upper: float | None
    computed: bool
    origin: str
    rule: str = ""  # by which the check is decided
    guard_band: float
    acceptance_lower: float | None
    acceptance_upper: float | None
    capability: float | None
    chance: float | None
    share: float | None
    can_be_accepted: bool
    why: str  # "" where it can be accepted
    improve: str  # the input with the largest share; "" where none is uncertain


class PlannedTask(Record):
    """One thing that a person does or sees to, and who says so."""

    name: str
    text: str
    origin: str  # who says so: the procedure, what it names, or common practice without a source
    at_least: Value | None = None
    at_least_origin: str = ""
    measured: str = ""  # what is measured beside it
    lowest: Value | None = None
    highest: Value | None = None
    range_origin: str = ""
    caution: str = ""
    told: str  # all of it in sentences, as it is asked


class PlannedStep(Record):
    """One step as it will be taken."""

    step: int
    kind: str
    duration: Value  # without what instruments need to answer
    longest: Value  # the same, where what it waits for comes as late as it may
    waits_for: str  # what that is; "" where nothing is waited for that no document foresees
    loads: tuple[Value, ...]  # as the sources are told, margin included, rising
    rate: Value | None
    remarks: tuple[str, ...]  # what it does that its parameters do not say at first sight
    shut_in: Value | None  # how long the part is shut off from its source
    trouble: str  # why it cannot be taken or judged whole
    tasks: tuple[PlannedTask, ...] = ()  # what a person does in it, in order
    checks: tuple[PlannedCheck, ...]


class PlannedInterlock(Record):
    """What is watched, and how near the procedure comes to its limit; values in the unit of what is watched."""

    name: str
    watches: str  # limit, rate, difference, silence, time beyond a limit, share of yield
    channel: str
    limit: str  # in words
    above: Value | None
    below: Value | None
    highest: Value | None  # foreseen until the highest load; null where the documents do not tell
    lowest: Value | None
    distance: Value | None  # from what is foreseen, U included, to the nearest limit; negative: it would trip
    trips: Literal["", "may trip", "trips"]


class PlannedRelief(Record):
    """The relief device of a source, beside the highest load that the procedure asks of it."""

    source: str
    serial_number: str
    certificate: str
    set_pressure: Value
    lowest: Value  # at which it may open, by what is stated
    highest: Value
    stated: str  # the set pressure as written
    left: Value  # from the highest load to the lowest at which it may open


class PlanRecord(Record):
    """The whole plan."""

    format: Literal["rigproof: plan/1"] = "rigproof: plan/1"
    rig: str
    procedure: str
    part: str
    part_serial_number: str  # as in rig.yaml; "" where they are not stated
    part_drawing: str
    site: str
    decision_rule: str
    risk: float
    coverage: float
    duration: Value
    longest: Value  # where everything that is waited for comes as late as it may
    highest_load: Value | None
    part_formulas: tuple[str, ...]  # what strain and first yield are computed by, with its source
    part_facts: tuple[PlannedFact, ...]  # at the highest load
    gauges: tuple[PlannedGauge, ...]
    predicted: tuple[PredictedStrain, ...]
    steps: tuple[PlannedStep, ...]
    interlocks: tuple[PlannedInterlock, ...]
    relief_devices: tuple[PlannedRelief, ...]  # of the sources, as in rig.yaml
    cannot_be_accepted: tuple[str, ...]
    often_undecided: tuple[str, ...]  # checks that many a sound rig does not pass, and what helps
    cautions: tuple[str, ...]
