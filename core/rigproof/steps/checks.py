"""Making a check: an estimate meets a tolerance."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import isfinite

from rigproof.models import Numbers
from rigproof.uncertainty import (
    Decision,
    Estimate,
    Improvement,
    Law,
    Line,
    Rule,
    Settled,
    Tolerance,
    decide_by,
    improvement,
    settle,
)
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
    return _Maker(record, about, estimate, rule, lambda _law, _value: limits, origin, note).check()


def agreement_check(
    record: StepRecord, about: Subject, measured: Term, expected: Term, rule: Rule, origin: str, note: str = ""
) -> Check:
    """A check whose tolerance is computed: measured and expected must agree within U of their difference."""
    difference, reading = combine(_minus, measured, expected).estimate(), value_of(measured)

    def limits(law: Law, value: float) -> Tolerance:
        """Readings whose difference from the expected value may be 0, its errors being distributed by `law`."""
        lowest, highest = law.coverage(rule.coverage)
        return Tolerance(reading - value - highest, reading - value - lowest)

    return _Maker(record, about, difference, rule, limits, origin, note, reading).check()


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


@dataclass(frozen=True)
class _Maker:
    """All that one check is made of. With a `reading`, `estimate` is that of its difference from the expected value."""

    record: StepRecord
    about: Subject
    estimate: Estimate
    rule: Rule
    limits: Callable[[Law, float], Tolerance]
    origin: str
    note: str
    reading: float | None = None

    def check(self) -> Check:
        """Judged by first order, or by Monte Carlo where that matters and first order fails its validation."""
        settled = settle(self.estimate, self.rule, lambda law, value: self.decision(law, value).finding)
        decision, limits = self.decision(settled.law, settled.value), self.limits(settled.law, settled.value)
        better = self.improvement(settled) if decision.finding == "undecided" else Improvement("", None, None)
        return Check(
            step=self.record.step,
            step_kind=self.record.kind,
            name=self.about.name,
            subject=self.about.subject,
            at=self.about.at,
            kind=self.about.kind,
            measured=settled.value if self.reading is None else self.reading,
            u=settled.law.u,
            dof=_finite(settled.dof),
            method=settled.method,
            expected=None if self.reading is None else self.reading - settled.value,
            tolerance=ToleranceRecord(
                lower=limits.lower, upper=limits.upper, origin=self.origin, computed=self.reading is not None
            ),
            guard_band=decision.guard_band,
            acceptance_lower=decision.acceptance_lower,
            acceptance_upper=decision.acceptance_upper,
            conformance_probability=decision.conformance_probability,
            finding=decision.finding,
            improve=better.input,
            improve_to=better.factor,
            would_be=better.finding,
            note=self.note,
            budget=tuple(_line(line) for line in self.estimate.lines),
        )

    def decision(self, law: Law, value: float) -> Decision:
        """On the estimate's `value` with errors by `law`."""
        computed = self.reading is not None
        measured = value if self.reading is None else self.reading
        return decide_by(measured, law, self.limits(law, value), self.rule, computed)

    def improvement(self, settled: Settled) -> Improvement:
        """The input whose improvement would make the finding definite, were the reading the same."""
        law, lines = settled.law, self.estimate.lines
        return improvement(
            lines, self.estimate.u, lambda scale: self.decision(law.scaled(scale), settled.value).finding
        )


def _line(line: Line) -> BudgetLine:
    return BudgetLine(
        input=line.input,
        value=line.value,
        u=line.u,
        unit=line.unit,
        dof=_finite(line.dof),
        sensitivity=line.sensitivity,
        contribution=line.contribution,
        share=line.share,
    )


def _finite(number: float) -> float | None:
    return number if isfinite(number) else None
