"""Making a check: an estimate meets a tolerance."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

from rigproof.models import Numbers
from rigproof.uncertainty import Decision, Estimate, Rule, Tolerance, decide
from rigproof.verdict.record import BudgetLine, Check, Finding, ToleranceRecord

from .record import StepRecord
from .terms import Term, combine


@dataclass(frozen=True)
class Subject:
    """What a check is about."""

    name: str  # "zero return"
    subject: str  # the channel or source
    kind: str  # kind of quantity
    at: str = ""


def specified_check(
    record: StepRecord, about: Subject, estimate: Estimate, limits: Tolerance, rule: Rule, origin: str, note: str = ""
) -> Check:
    """A check against limits that somebody set."""
    decision = decide(estimate.value, estimate.u, estimate.dof, limits, rule)
    return _check(record, about, estimate.value, None, estimate, limits, origin, False, decision, note)


def agreement_check(
    record: StepRecord, about: Subject, measured: Term, expected: Term, rule: Rule, origin: str, note: str = ""
) -> Check:
    """A check whose tolerance is computed: measured and expected must agree within U of their difference."""
    difference = combine(_minus, measured, expected).estimate()
    measured_value, expected_value = value_of(measured), value_of(expected)
    _, expanded = difference.expanded(rule.coverage)
    limits = Tolerance(expected_value - expanded, expected_value + expanded)
    decision = decide(measured_value, difference.u, difference.dof, limits, rule, computed=True)
    return _check(record, about, measured_value, expected_value, difference, limits, origin, True, decision, note)


def value_of(term: Term) -> float:
    """The value of a term at its inputs' estimates."""
    return float(term.function(*(item.value for item in term.inputs)))


def no_reading(
    record: StepRecord, about: Subject, limits: Tolerance | None, origin: str, finding: Finding, note: str
) -> Check:
    """A check that has no number: overload, open circuit, or above the instrument's range."""
    lower, upper = (limits.lower, limits.upper) if limits else (None, None)
    return Check(
        step=record.step,
        step_kind=record.kind,
        name=about.name,
        subject=about.subject,
        at=about.at,
        kind=about.kind,
        measured=None,
        u=0.0,
        dof=None,
        tolerance=ToleranceRecord(lower=lower, upper=upper, origin=origin, computed=False),
        guard_band=0.0,
        acceptance_lower=lower,
        acceptance_upper=upper,
        conformance_probability=1.0 if finding == "accept" else 0.0,
        finding=finding,
        note=note,
    )


def _minus(a: Numbers, b: Numbers) -> Numbers:
    return a - b


def _check(
    record: StepRecord,
    about: Subject,
    measured: float,
    expected: float | None,
    estimate: Estimate,
    limits: Tolerance,
    origin: str,
    computed: bool,
    decision: Decision,
    note: str,
) -> Check:
    lines = tuple(
        BudgetLine(
            input=line.input,
            value=line.value,
            u=line.u,
            unit=line.unit,
            dof=_finite(line.dof),
            sensitivity=line.sensitivity,
            contribution=line.contribution,
            share=line.share,
        )
        for line in estimate.lines
    )
    largest = max(lines, key=lambda line: line.share, default=None)
    undecided = decision.finding == "undecided"
    return Check(
        step=record.step,
        step_kind=record.kind,
        name=about.name,
        subject=about.subject,
        at=about.at,
        kind=about.kind,
        measured=measured,
        u=estimate.u,
        dof=_finite(estimate.dof),
        expected=expected,
        tolerance=ToleranceRecord(lower=limits.lower, upper=limits.upper, origin=origin, computed=computed),
        guard_band=decision.guard_band,
        acceptance_lower=decision.acceptance_lower,
        acceptance_upper=decision.acceptance_upper,
        conformance_probability=decision.conformance_probability,
        finding=decision.finding,
        improve=largest.input if undecided and largest else "",
        note=note,
        budget=lines,
    )


def _finite(number: float) -> float | None:
    return number if isfinite(number) else None
