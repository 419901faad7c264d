"""The verdict as data. Everything a machine or a report needs; printing and judging are elsewhere.

Numbers are in the base unit of their `kind` (see `rigproof.quantities.KINDS`), which stands beside them as `unit`;
infinite degrees of freedom and one-sided limits are null. A field with a default may be missing in an older verdict.
"""

from __future__ import annotations

import json
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

Finding = Literal["accept", "reject", "undecided"]
Method = Literal["first order", "first order, inputs convolved", "Monte Carlo"]
Outcome = Literal["accept", "reject", "undecided", "void"]


class Record(BaseModel):
    """Base of all parts of a verdict: frozen, no unknown keys."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class BudgetLine(Record):
    """One input of an uncertainty budget (GUM, table H.1 gives the form)."""

    input: str = Field(description="its name, as the key in rig.yaml where there is one")
    value: float = Field(description="its estimate, in `unit`")
    u: float = Field(description="its standard uncertainty, in `unit`; of a t law the scale s/√n")
    unit: str = Field(description="of value, u and half width; 1 for a plain number")
    dof: float | None = Field(description="degrees of freedom of u; null: infinite")
    shape: str = Field("", description="of its distribution: exact, normal, t, rectangular, …")
    half_width: float | None = Field(None, description="of a shape with limits, in `unit`; null for the others")
    stated: str = Field("", description="its value and uncertainty as written, or how many readings")
    source: str = Field(
        "", description="where it comes from: the key in a document, readings, a default that nobody wrote, the model"
    )
    sensitivity: float = Field(description="change of the result per change of this input")
    contribution: float = Field(description="|sensitivity| u, in the unit of the check")
    share: float = Field(description="of the variance, 0 to 1")


class ToleranceRecord(Record):
    """Limits on the true value, and who set them."""

    lower: float | None = Field(description="least permissible value; null: open")
    upper: float | None = Field(description="largest permissible value; null: open")
    origin: str = Field(
        description="who set them: the procedure, a default that nobody wrote, a clause, or what gave them"
    )
    computed: bool = Field(description="true: expected ± U of the difference; false: somebody set them")


class Check(Record):
    """One quantity against one tolerance.

    Strain is indicated strain: what the gauge factor makes of the bridge output, transverse sensitivity left in, in
    the measured and in the expected value alike.
    """

    step: int = Field(description="index in the procedure, from 1")
    step_kind: str = Field(description="the step's word in the procedure")
    name: str = Field(description="what is checked, such as `zero return`")
    subject: str = Field(description="of what: a channel or a source")
    at: str = Field("", description="where in the step, such as `stage 2, 25.0 bar`")
    kind: str = Field(description="kind of quantity, see rigproof.quantities.KINDS")
    unit: str = Field("", description="of all numbers of the check: the base unit of `kind`")
    measured: float | None = Field(description="null: no reading, or above the range, see `note`")
    u: float = Field(description="standard uncertainty of the measured value itself")
    dof: float | None = Field(description="degrees of freedom of the u that decides; null: infinite (beyond a million)")
    method: Method = Field("first order", description="of propagation: what u, U, tolerance and finding rest on")
    expected: float | None = Field(
        None, description="what a computed tolerance lies around; null where the tolerance was set"
    )
    u_expected: float | None = Field(None, description="standard uncertainty of the expected value itself")
    equivalent_strain: float | None = Field(
        None, description="of a bridge output: the indicated strain that it stands for, at nominal inputs"
    )
    difference: float | None = Field(None, description="measured minus expected")
    u_difference: float | None = Field(
        None,
        description="its standard uncertainty; no root sum of squares where the two share inputs",
    )
    u_limit: float | None = Field(
        None,
        description="standard uncertainty of a reading at the limit, where u goes with the reading: guard band from it",
    )
    k: float | None = Field(None, description="coverage factor: U over the u that decides")
    U: float | None = Field(
        None,
        description="expanded uncertainty of what decides: the difference, a reading at the limit, or the reading",
    )
    coverage: float | None = Field(None, description="probability that U covers")
    rule: str = Field(
        "",
        description="by which the finding was made; a computed tolerance is a test of agreement, no guarded acceptance",
    )
    tolerance: ToleranceRecord = Field(description="the permissible true values")
    guard_band: float = Field(description="from a tolerance limit to its acceptance or rejection limit, see `guards`")
    guards: Literal["", "acceptance", "rejection"] = Field(
        "", description="what the guard band is used for: accepting inside the tolerance, or only rejecting outside it"
    )
    acceptance_lower: float | None = Field(
        description="least value that is accepted; null: open, or none is accepted when both are null"
    )
    acceptance_upper: float | None = Field(description="largest value that is accepted")
    conformance_probability: float | None = Field(
        description="that the true value lies within a set tolerance; null for a computed one, of which it says nothing"
    )
    finding: Finding = Field(description="accept, reject or undecided")
    improve: str = Field("", description="undecided: the input that matters most")
    improve_to: float | None = Field(
        None, description="the share of its present u from which the finding would be definite"
    )
    would_be: Finding | None = Field(
        None, description="what it would be then, at the same reading; null: this input alone never decides"
    )
    note: str = Field("", description="what else a reader must know")
    hint: str = Field(
        "", description="not accepted: what is looked at first, by common practice; no reading proves any of it"
    )
    budget: tuple[BudgetLine, ...] = Field((), description="of the u that decides")

    @property
    def u_decides(self) -> float:
        """The standard uncertainty that the finding rests on: of the difference, at the limit, or of the reading."""
        return next(u for u in (self.u_difference, self.u_limit, self.u) if u is not None)


class StepSummary(Record):
    """One step of the procedure, taken or not."""

    step: int = Field(description="index in the procedure, from 1")
    kind: str = Field(description="the step's word in the procedure")
    taken: Literal["whole", "broken off", "not taken"] = Field(description="how far the run went through it")
    why: str = Field("", description="where it was not taken whole")
    finding: Finding | None = Field(description="the worst of its checks; null: not taken")
    takings: int = Field(1, description="how often it was begun; the last one counts, see `resumed` of the verdict")
    shows: tuple[str, ...] = Field(description="what the step can show")
    channels: tuple[str, ...] = Field(description="the strain channels it reaches")


class DocumentRecord(Record):
    """A document of the run."""

    name: str = Field(description="the document's own name")
    sha256: str = Field(description="of its bytes, hexadecimal")


class InstrumentRecord(Record):
    """An instrument as it answered."""

    name: str = Field(description="in rig.yaml")
    driver: str = Field(description="the word after `driver:`")
    resource: str = Field(description="its address")
    maker: str = Field(description="as it answered")
    model: str = Field(description="as it answered")
    serial_number: str = Field(description="as it answered")
    firmware: str = Field(description="as it answered")
    certificate: str | None = Field(description="of its calibration, as in rig.yaml")
    calibration_due: str | None = Field(description="ISO date, as in rig.yaml")


class RetryRecord(Record):
    """Failed readings that were tried again as rig.yaml allows."""

    instrument: str = Field(description="in rig.yaml")
    count: int = Field(description="of the readings that were tried again")


class PersonRecord(Record):
    """Who read instruments by hand or placed weights, and where they were asked."""

    name: str = Field(description="as given")
    how: str = Field(description="where they were asked")


class WorkRecord(Record):
    """One thing that a person did or saw to during the run, as an installation record has it."""

    step: int = Field(description="index in the procedure, from 1")
    of: str = Field(description="the work it belongs to, such as `bonding`")
    item: str = Field(description="its name in the list")
    text: str = Field(description="what was to be done or seen")
    origin: str = Field(description="who says so: the procedure, what it names, or common practice without a source")
    person: str = Field(description="who says that it was done")
    ended: str = Field(description="when, UTC, ISO 8601")
    took: float = Field(description="from its begin to its end, s")
    at_least: float | None = Field(None, description="the least time it needs, s; null: none is stated")
    at_least_origin: str = Field("", description="who set that")
    measured: str = Field("", description="what was measured beside it, such as `strain relief loop`")
    value: float | None = Field(None, description="as typed, in the base unit of `kind`")
    lowest: float | None = Field(None, description="of the range it must lie in, same unit")
    highest: float | None = Field(None, description="of that range, same unit")
    kind: str = Field("", description="kind of quantity, see rigproof.quantities.KINDS")
    range_origin: str = Field("", description="who set the range")
    done: bool = Field(description="false: refused, see the deviations")
    deviations: tuple[str, ...] = Field((), description="from what is asked, each with the reason that was given")


class PluginRecord(Record):
    """A plugin that took part in the run."""

    name: str = Field(description="of its entry point")
    distribution: str = Field(description="it came with")
    version: str = Field(description="of the distribution")


class SafeEnd(Record):
    """How a source was left."""

    source: str = Field(description="in rig.yaml")
    confirmed: bool = Field(description="read back and found safe")
    load: float | None = Field(description="last reading of the part's own channel, base unit")
    text: str = Field(description="in words")


class ReliefRecord(Record):
    """The relief device of a source, as rig.yaml states it; nobody has proved it in the run."""

    source: str = Field(description="in rig.yaml")
    set_pressure: float = Field(description="at which it opens, in `unit`")
    lowest: float = Field(description="at which it may open, by what is stated")
    highest: float = Field(description="at which it may open, by what is stated")
    kind: str = Field(description="kind of quantity, see rigproof.quantities.KINDS")
    unit: str = Field(description="the base unit of `kind`")
    stated: str = Field(description="the set pressure as written")
    serial_number: str = Field("", description="as in rig.yaml; empty: not stated")
    certificate: str = Field("", description="as in rig.yaml; empty: not stated")


class TwinRecord(Record):
    """What was simulated."""

    seed: int = Field(description="of its random numbers")
    flaws: tuple[str, ...] = Field(description="the defects planted in it")


class ResumeRecord(Record):
    """A run that had been cut off or suspended was gone on with."""

    utc: str = Field(description="when, ISO 8601")
    after: str = Field(description="how the run had ended before, in words")
    left_safe: bool = Field(description="every source had been confirmed safe then")
    zero_moved: dict[str, float] = Field(
        description="indicated strain by channel without load, against the last zero before the run ended, with what "
        "warmth did in it; empty: not read, or there was none"
    )


class Verdict(Record):
    """The whole outcome of one run."""

    format: Literal["rigproof: verdict/1"] = Field("rigproof: verdict/1", description="name and version of this form")
    verdict: Outcome = Field(description="accept, reject, undecided or void")
    why: tuple[str, ...] = Field(description="the reasons, the worst first")
    simulated: bool = Field(description="no hardware was touched")
    replayed: bool = Field(False, description="readings come from a record, and not from the part as it is now")
    twin: TwinRecord | None = Field(description="what was simulated; null: nothing")
    rig: DocumentRecord = Field(description="rig.yaml")
    part: str = Field(description="part model and kind of load")
    part_serial_number: str = Field("", description="as in rig.yaml; empty: not stated")
    part_drawing: str = Field("", description="as in rig.yaml; empty: not stated")
    site: str = Field("", description="where the rig stands, as in rig.yaml; empty: not stated")
    operators: tuple[str, ...] = Field((), description="who took the run, as given for each session; empty: not named")
    relief_devices: tuple[ReliefRecord, ...] = Field((), description="of the sources, as in rig.yaml")
    procedure: DocumentRecord = Field(description="acceptance.yaml, or the one that was chosen")
    journal: DocumentRecord = Field(description="the readings the verdict was made from")
    started: str = Field(description="UTC, ISO 8601")
    ended: str = Field(description="UTC, ISO 8601; empty: the run was killed")
    end: str = Field(description="how the run ended, in words")
    not_before: str = Field(
        "", description="UTC, ISO 8601: when a suspended run may go on; empty: it was not suspended"
    )
    clock: tuple[str, ...] = Field(
        (), description="where the machine's date did not go on evenly, in words; the journal's times do not rest on it"
    )
    resumed: tuple[ResumeRecord, ...] = Field((), description="each time it was gone on with after an earlier ending")
    decision_rule: str = Field(
        description="for tolerances that somebody set; each check names the rule it was judged by"
    )
    risk: float | None = Field(description="of one decision; null where guard bands are a multiple of U")
    multiple: float | None = Field(None, description="guard bands of so many U")
    coverage: float = Field(description="of every U")
    instruments: tuple[InstrumentRecord, ...] = Field(description="all that answered")
    no_calibration_stated: tuple[str, ...] = Field((), description="instruments without a certificate in rig.yaml")
    retries: tuple[RetryRecord, ...] = Field((), description="failed readings that were taken again, by instrument")
    people: tuple[PersonRecord, ...] = Field((), description="who read by hand or placed weights")
    plugins: tuple[PluginRecord, ...] = Field(description="of the run")
    judged_with: tuple[PluginRecord, ...] = Field(description="plugins of the judging, which may be years later")
    steps: tuple[StepSummary, ...] = Field(description="of the procedure, in order")
    checks: tuple[Check, ...] = Field(description="in order")
    shown: tuple[str, ...] = Field(description="what accepted steps showed of every strain channel")
    not_shown: tuple[str, ...] = Field(
        description="what nobody showed, or not of every channel, and channels that interlocks alone watch"
    )
    safe_end: tuple[SafeEnd, ...] = Field(description="how each source was left")
    installation: tuple[WorkRecord, ...] = Field((), description="what people did, item by item, in order")
    signatures: tuple[str, ...] = Field((), description="hold points: of what, who signed, when, and the statement")
    cautions: tuple[str, ...] = Field(description="what people had to mind")


def to_bytes(verdict: Verdict) -> bytes:
    """The one way a verdict is written: the same verdict gives the same bytes."""
    text = json.dumps(verdict.model_dump(mode="json"), indent=1, ensure_ascii=False, allow_nan=False)
    return (text + "\n").encode("utf-8")


def from_bytes(data: bytes) -> Verdict:
    """Read a verdict back."""
    return Verdict.model_validate_json(data)
