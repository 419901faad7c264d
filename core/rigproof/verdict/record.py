"""The verdict as data. Everything a machine or a report needs; printing and judging are elsewhere.

Numbers are in the base unit of their `kind` (see `rigproof.quantities.KINDS`); infinite degrees of freedom and
one-sided limits are null.
"""

from __future__ import annotations

import json
from typing import Literal

from pydantic import BaseModel, ConfigDict

Finding = Literal["accept", "reject", "undecided"]
Method = Literal["first order", "Monte Carlo"]
Outcome = Literal["accept", "reject", "undecided", "void"]


class Record(BaseModel):
    """Base of all parts of a verdict: frozen, no unknown keys."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class BudgetLine(Record):
    """One input of an uncertainty budget (GUM, table H.1 gives the form)."""

    input: str
    value: float
    u: float
    unit: str
    dof: float | None  # null: infinite
    sensitivity: float
    contribution: float  # |sensitivity| u, in the unit of the check
    share: float  # of the variance, 0 to 1


class ToleranceRecord(Record):
    """Limits on the true value, and who set them."""

    lower: float | None
    upper: float | None
    origin: str  # a clause, "the procedure", or what it was computed from
    computed: bool  # true: the expanded uncertainty of the difference from `expected`


class Check(Record):
    """One quantity against one tolerance."""

    step: int  # index in the procedure, from 1
    step_kind: str
    name: str  # what is checked: "zero return"
    subject: str  # of what: a channel or a source
    at: str = ""  # where in the step: "stage 2, 25.0 bar"
    kind: str  # kind of quantity, gives the unit
    measured: float | None  # null: above the range, see `note`
    u: float
    dof: float | None
    method: Method = "first order"  # of propagation: what value, u, tolerance and finding rest on
    expected: float | None = None
    tolerance: ToleranceRecord
    guard_band: float
    acceptance_lower: float | None
    acceptance_upper: float | None
    conformance_probability: float
    finding: Finding
    improve: str = ""  # undecided: the input that matters most
    improve_to: float | None = None  # the share of its present u from which the finding would be definite, …
    would_be: Finding | None = None  # … and what it would be at the same reading; null: this input alone never decides
    note: str = ""
    budget: tuple[BudgetLine, ...] = ()


class StepSummary(Record):
    """One step of the procedure, taken or not."""

    step: int
    kind: str
    taken: Literal["whole", "broken off", "not taken"]
    why: str = ""  # where it was not taken whole
    finding: Finding | None  # null: not taken
    shows: tuple[str, ...]
    channels: tuple[str, ...]  # the strain channels it reaches


class DocumentRecord(Record):
    """A document of the run."""

    name: str
    sha256: str


class InstrumentRecord(Record):
    """An instrument as it answered."""

    name: str
    driver: str
    resource: str
    maker: str
    model: str
    serial_number: str
    firmware: str
    certificate: str | None
    calibration_due: str | None


class RetryRecord(Record):
    """Failed readings that were tried again as rig.yaml allows."""

    instrument: str
    count: int


class PersonRecord(Record):
    """Who read instruments by hand or placed weights, and where they were asked."""

    name: str
    how: str


class PluginRecord(Record):
    """A plugin that took part in the run."""

    name: str
    distribution: str
    version: str


class SafeEnd(Record):
    """How a source was left."""

    source: str
    confirmed: bool
    load: float | None  # last reading of the part's own channel, base unit
    text: str


class TwinRecord(Record):
    """What was simulated."""

    seed: int
    flaws: tuple[str, ...]


class Verdict(Record):
    """The whole outcome of one run."""

    format: Literal["rigproof: verdict/1"] = "rigproof: verdict/1"
    verdict: Outcome
    why: tuple[str, ...]
    simulated: bool
    replayed: bool = False  # readings come from a record, and not from the part as it is now
    twin: TwinRecord | None
    rig: DocumentRecord
    part: str
    procedure: DocumentRecord
    journal: DocumentRecord
    started: str  # UTC, ISO 8601
    ended: str
    end: str  # how the run ended, in words
    decision_rule: str
    risk: float | None  # of one decision; null where guard bands are a multiple of U
    multiple: float | None = None  # guard bands of so many U
    coverage: float
    instruments: tuple[InstrumentRecord, ...]
    no_calibration_stated: tuple[str, ...] = ()  # instruments
    retries: tuple[RetryRecord, ...] = ()
    people: tuple[PersonRecord, ...] = ()
    plugins: tuple[PluginRecord, ...]  # of the run
    judged_with: tuple[PluginRecord, ...]
    steps: tuple[StepSummary, ...]
    checks: tuple[Check, ...]
    shown: tuple[str, ...]
    not_shown: tuple[str, ...]
    safe_end: tuple[SafeEnd, ...]
    signatures: tuple[str, ...] = ()
    cautions: tuple[str, ...]


def to_bytes(verdict: Verdict) -> bytes:
    """The one way a verdict is written: the same verdict gives the same bytes."""
    text = json.dumps(verdict.model_dump(mode="json"), indent=1, ensure_ascii=False, allow_nan=False)
    return (text + "\n").encode("utf-8")


def from_bytes(data: bytes) -> Verdict:
    """Read a verdict back."""
    return Verdict.model_validate_json(data)
