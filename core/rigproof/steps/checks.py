"""Making a check: an estimate meets a tolerance."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import floor, isfinite

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
from rigproof.verdict.record import BudgetLine, Check, Finding, ToleranceRecord, ValidationRecord

from .record import StepRecord
from .terms import Term, combine


@dataclass(frozen=True)
class Subject:
    """What a check is about."""

    name: str  # "zero return"
    subject: str  # the channel or source
    kind: str  # kind of quantity
    at: str = ""


@dataclass(frozen=True)
class _Question:
    """A measured value and what it must meet; `limits` may depend on the law of its errors."""

    measured: float
    expected: float | None
    estimate: Estimate
    limits: Callable[[Law], Tolerance]
    rule: Rule
    origin: str

    @property
    def computed(self) -> bool:
        return self.expected is not None

    def answer(self, law: Law, value: float) -> Decision:
        """The decision when `value` takes the place of the estimate's."""
        measured = self.measured + (value - self.estimate.value)
        return decide_by(measured, law, self.limits(law), self.rule, self.computed)

    def finding(self, law: Law, value: float) -> Finding:
        return self.answer(law, value).finding


def specified_check(
    record: StepRecord, about: Subject, estimate: Estimate, limits: Tolerance, rule: Rule, origin: str, note: str = ""
) -> Check:
    """A check against limits that somebody set."""
    return _check(record, about, _Question(estimate.value, None, estimate, lambda _: limits, rule, origin), note)


def agreement_check(
    record: StepRecord, about: Subject, measured: Term, expected: Term, rule: Rule, origin: str, note: str = ""
) -> Check:
    """A check whose tolerance is computed: measured and expected must agree within U of their difference."""
    difference = combine(_minus, measured, expected).estimate()
    centre = value_of(expected)

    def limits(law: Law) -> Tolerance:
        # 0 lies in the coverage interval about a difference when the difference lies in the mirrored one about 0
        lower, upper = law.coverage(rule.coverage)
        return Tolerance(centre - upper, centre - lower)

    return _check(record, about, _Question(value_of(measured), centre, difference, limits, rule, origin), note)


def value_of(term: Term) -> float:
    """The value of a term at its inputs' estimates."""
    return float(term.function(*(item.value for item in term.inputs)))


def no_reading(
    record: StepRecord, about: Subject, limits: Tolerance, origin: str, finding: Finding, note: str
) -> Check:
    """A check that has no number: overload, open circuit, or above the instrument's range."""
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
        tolerance=ToleranceRecord(lower=limits.lower, upper=limits.upper, origin=origin, computed=False),
        guard_band=0.0,
        acceptance_lower=limits.lower,
        acceptance_upper=limits.upper,
        conformance_probability=1.0 if finding == "accept" else 0.0,
        finding=finding,
        note=note,
    )


def _minus(a: Numbers, b: Numbers) -> Numbers:
    return a - b


def _check(record: StepRecord, about: Subject, question: _Question, note: str) -> Check:
    """The check that answers a question, by first order or by Monte Carlo."""
    estimate = question.estimate
    settled = settle(estimate, question.rule, question.finding)
    decision, limits = question.answer(settled.law, settled.value), question.limits(settled.law)
    better = None
    if decision.finding == "undecided":
        better = improvement(
            estimate.lines, estimate.u, lambda scale: question.finding(settled.law.scaled(scale), settled.value)
        )
    return Check(
        step=record.step,
        step_kind=record.kind,
        name=about.name,
        subject=about.subject,
        at=about.at,
        kind=about.kind,
        measured=question.measured + (settled.value - estimate.value),
        u=settled.law.u,
        dof=_finite(settled.dof),
        expected=question.expected,
        tolerance=ToleranceRecord(
            lower=limits.lower, upper=limits.upper, origin=question.origin, computed=question.computed
        ),
        guard_band=decision.guard_band,
        acceptance_lower=decision.acceptance_lower,
        acceptance_upper=decision.acceptance_upper,
        conformance_probability=decision.conformance_probability,
        finding=decision.finding,
        improve=_words(better) if better else "",
        improve_factor=better.factor if better else None,
        method=settled.method,
        validation=_validation(settled, estimate) if estimate.budget else None,
        note=note,
        budget=tuple(_line(line) for line in estimate.lines),
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


def _words(better: Improvement) -> str:
    """The improvement in words; empty for a budget without uncertain inputs."""
    if not better.input:
        return ""
    if better.factor is None:
        return f"{better.input}, the largest, but no input alone decides"
    percent = floor(100 * better.factor)
    if percent == 0:
        return f"{better.input}: its u must all but vanish to {better.finding}"
    return f"{better.input}: its u at {percent} % of the present or below would {better.finding}"


def _validation(settled: Settled, estimate: Estimate) -> ValidationRecord:
    bend, excess = _finite(settled.seen.bend), settled.seen.excess
    found = settled.validation
    if found is None:
        return ValidationRecord(bend=bend, excess=excess)
    return ValidationRecord(
        bend=bend,
        excess=excess,
        valid=found.valid,
        trials=len(found.trials.values),
        seed=str(found.trials.seed),
        stable=found.trials.stable,
        delta=found.delta,
        off_lower=found.off_lower,
        off_upper=found.off_upper,
        first_order_value=estimate.value,
        first_order_u=estimate.u,
    )


def _finite(number: float) -> float | None:
    return number if isfinite(number) else None
