"""Making a check: an estimate meets a tolerance."""

from __future__ import annotations

from dataclasses import dataclass

from rigproof.models import Numbers
from rigproof.quantities import Within, kind_of
from rigproof.uncertainty import (
    Decision,
    Estimate,
    Improvement,
    Input,
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

MOST_DOF = 1e6  # more degrees of freedom are as good as infinite


@dataclass(frozen=True)
class Subject:
    """What a check is about."""

    name: str  # "zero return"
    subject: str  # the channel or source
    kind: str  # kind of quantity
    at: str = ""


@dataclass(frozen=True)
class Stated:
    """A limit to both sides as a step has it, and who set it: the procedure, or a default that nobody wrote."""

    within: Within
    origin: str  # "procedure: within 1 %"

    @property
    def tolerance(self) -> Tolerance:
        """Around 0, in the base unit of the limit."""
        return Tolerance(-self.within.limit, self.within.limit)


def specified_check(
    record: StepRecord,
    about: Subject,
    estimate: Estimate,
    limits: Tolerance,
    rule: Rule,
    origin: str,
    note: str = "",
    at_limit: Estimate | None = None,
) -> Check:
    """A check against limits that somebody set.

    Where the uncertainty goes with the reading, `at_limit` is the estimate of a reading that lies on the limit: its u
    makes the guard band, so that one tolerance has one acceptance limit, whatever was read.
    """
    return _Maker(record, about, at_limit or estimate, estimate, rule, origin, note, limits).check()


def agreement_check(
    record: StepRecord, about: Subject, measured: Term, expected: Term, rule: Rule, origin: str, note: str = ""
) -> Check:
    """A check whose tolerance is computed: measured and expected must agree within U of their difference.

    Both have a u of their own, each from its own inputs. u of the difference is evaluated from the difference: an input
    that both share counts once there, so that it is not the root sum of squares of the two.
    """
    difference = combine(_minus, measured, expected).estimate()
    return _Maker(
        record, about, difference, measured.estimate(), rule, origin, note, expected=expected.estimate()
    ).check()


def value_of(term: Term) -> float:
    """The value of a term at its inputs' estimates."""
    return float(term.function(*(item.value for item in term.inputs)))


def standing(check: Check) -> tuple[float, float]:
    """By this the least sure to conform comes first; among equals the largest."""
    return check.conformance_probability or 0.0, -abs(check.measured or 0.0)


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
        unit=kind_of(about.kind).base,
        measured=None,
        u=0.0,
        dof=None,
        rule="no number to decide by",
        tolerance=ToleranceRecord(lower=lower, upper=upper, origin=origin, computed=False),
        guard_band=0.0,
        acceptance_lower=lower,
        acceptance_upper=upper,
        conformance_probability=None,
        finding=finding,
        note=note,
    )


def rule_in_words(rule: Rule, computed: bool) -> str:
    """The rule of one check: a computed tolerance is a test of agreement, whatever the procedure's rule is."""
    if computed:
        return f"agreement within U, {100 * rule.coverage:.4g} %"
    if rule.rule == "simple acceptance":
        return "simple acceptance, shared risk"
    if rule.multiple is not None:
        return f"{rule.rule}, guard band {rule.multiple:g} U with U = 2 u"
    return f"{rule.rule}, risk {100 * rule.risk:.4g} %"


def _minus(a: Numbers, b: Numbers) -> Numbers:
    return a - b


@dataclass(frozen=True)
class _Maker:
    """All that one check is made of.

    `deciding` is the estimate that the finding rests on: of the difference, of a reading at the limit, or of the
    reading itself. Without `limits` they are computed from it.
    """

    record: StepRecord
    about: Subject
    deciding: Estimate
    measured: Estimate
    rule: Rule
    origin: str
    note: str
    specified: Tolerance | None = None
    expected: Estimate | None = None

    def check(self) -> Check:
        """Judged by first order, or by Monte Carlo where the function bends and first order fails its validation."""
        settled = settle(self.deciding, self.rule.coverage)
        law, value = settled.law, self._reading(settled)
        limits, decision = self._limits(settled, law), self._decision(settled, law)
        lowest, highest = law.coverage(self.rule.coverage)
        expanded, computed = (highest - lowest) / 2, self.specified is None
        better = self._improvement(settled) if decision.finding == "undecided" else Improvement("", None, None)
        dof = settled.dof
        return Check(
            step=self.record.step,
            step_kind=self.record.kind,
            name=self.about.name,
            subject=self.about.subject,
            at=self.about.at,
            kind=self.about.kind,
            unit=kind_of(self.about.kind).base,
            measured=value,
            u=law.u if self.deciding is self.measured else self.measured.u,
            dof=_finite(dof),
            method=settled.method,
            expected=value - settled.value if computed else None,
            u_expected=self.expected.u if self.expected is not None else None,
            difference=settled.value if computed else None,
            u_difference=law.u if computed else None,
            u_limit=law.u if not computed and self.deciding is not self.measured else None,
            k=expanded / law.u if law.u else None,
            U=expanded,
            coverage=self.rule.coverage,
            rule=rule_in_words(self.rule, computed),
            tolerance=ToleranceRecord(lower=limits.lower, upper=limits.upper, origin=self.origin, computed=computed),
            guard_band=decision.guard_band,
            guards=self._guards(),
            acceptance_lower=decision.acceptance_lower,
            acceptance_upper=decision.acceptance_upper,
            conformance_probability=None if computed else decision.conformance_probability,
            finding=decision.finding,
            improve=better.input,
            improve_to=better.factor,
            would_be=better.finding,
            note=self.note,
            budget=self._budget(),
        )

    def _reading(self, settled: Settled) -> float:
        """The measured value; where it is judged itself, with what bending adds to it."""
        return settled.value if self.deciding is self.measured else self.measured.value

    def _limits(self, settled: Settled, law: Law) -> Tolerance:
        """Those set, or readings whose difference from the expected value may be 0, its errors being as `law` says."""
        if self.specified is not None:
            return self.specified
        lowest, highest = law.coverage(self.rule.coverage)
        expected = self._reading(settled) - settled.value
        return Tolerance(expected - highest, expected - lowest)

    def _decision(self, settled: Settled, law: Law) -> Decision:
        computed = self.specified is None
        return decide_by(self._reading(settled), law, self._limits(settled, law), self.rule, computed)

    def _improvement(self, settled: Settled) -> Improvement:
        """The input whose improvement would make the finding definite, were the reading the same."""
        return improvement(
            self.deciding.lines,
            self.deciding.u,
            lambda scale: self._decision(settled, settled.law.scaled(scale)).finding,
        )

    def _guards(self) -> str:
        if self.specified is None or self.rule.rule == "guarded rejection":
            return "rejection"
        return "acceptance" if self.rule.rule == "guarded acceptance" else ""

    def _budget(self) -> tuple[BudgetLine, ...]:
        inputs = self.deciding.budget.inputs if self.deciding.budget is not None else ()
        return tuple(_line(line, item) for line, item in zip(self.deciding.lines, inputs, strict=True))


def _line(line: Line, item: Input) -> BudgetLine:
    return BudgetLine(
        input=line.input,
        value=line.value,
        u=line.u,
        unit=line.unit or "1",
        dof=_finite(line.dof),
        shape=item.shape,
        half_width=item.half_width,
        stated=item.stated,
        source=item.source,
        sensitivity=line.sensitivity,
        contribution=line.contribution,
        share=line.share,
    )


def _finite(dof: float) -> float | None:
    return float(f"{dof:.10g}") if dof < MOST_DOF else None  # 99 and not 98.99999999999999
