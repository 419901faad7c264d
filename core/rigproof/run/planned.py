"""From a plan to its record: the rehearsal, the models' facts and the interlocks as data with units."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from rigproof.documents import Rig
from rigproof.models import Fact
from rigproof.quantities import Quantity, kind_of
from rigproof.steps.base import ALL_STRAIN, RESPONSE_TO_LOAD, strain_channels
from rigproof.steps.foresee import Foreseen
from rigproof.steps.tasks import Task
from rigproof.uncertainty import Estimate, Rule

from .foresight import Standing, bridges, installation, standings, strain_at
from .odds import unlikely_of
from .plan import Plan
from .plan_record import (
    PlannedCheck,
    PlannedFact,
    PlannedGauge,
    PlannedInterlock,
    PlannedRelief,
    PlannedStep,
    PlannedTask,
    PlanRecord,
    PredictedStrain,
    Value,
    rounded,
    value_in,
)
from .protecting import Relief, reliefs
from .rehearsal import Rehearsed
from .unused import fewer_readings, unforeseen


def planned(plan: Plan) -> PlanRecord:
    """Everything that can be said before any hardware."""
    rig, rule, top = plan.rig, plan.procedure.decision, plan.highest_load
    steps = plan.rehearsed
    return PlanRecord(
        rig=rig.name,
        procedure=plan.procedure.name,
        part=f"{rig.part.kind}, load: {rig.part.load}",
        part_serial_number=rig.part.serial_number or "",
        part_drawing=rig.part.drawing or "",
        site=rig.site,
        decision_rule=rule.rule,
        risk=rule.risk,
        coverage=rule.coverage,
        duration=value_in("time", sum(step.duration_s for step in steps)),
        longest=value_in("time", sum(step.duration_s + step.step.open_wait()[0] for step in steps)),
        highest_load=None if top is None else value_in(rig.part.load, top),
        part_formulas=() if top is None else rig.part.formulas(),
        part_facts=() if top is None else tuple(_facts(rig.part.facts(top), rule)),
        gauges=tuple(_gauge(plan, name) for name in bridges(rig)),
        predicted=tuple(_predicted(plan, steps)),
        steps=tuple(_step(plan, step) for step in steps),
        interlocks=() if top is None else tuple(_interlock(each) for each in standings(rig, top, rule, plan.course)),
        relief_devices=tuple(_relief(each) for each in reliefs(rig, plan.procedure)),
        cannot_be_accepted=tuple(hopeless_of(rig, steps)),
        often_undecided=tuple(unlikely_of(steps)),
        cautions=(*plan.cautions, *unforeseen(steps), *fewer_readings(plan.rig, steps)),
    )


def _facts(facts: Iterable[Fact], rule: Rule) -> Iterator[PlannedFact]:
    for fact in facts:
        _, expanded = Estimate(fact.value, fact.u, float("inf")).expanded(rule.coverage)
        yield PlannedFact(name=fact.name, value=value_in(fact.kind, fact.value, expanded), note=fact.note)


def _gauge(plan: Plan, name: str) -> PlannedGauge:
    model, installed = installation(plan.rig, name, plan.highest_strain(name))
    return PlannedGauge(channel=name, facts=tuple(_facts(model.facts(installed), plan.procedure.decision)))


def _predicted(plan: Plan, steps: Iterable[Rehearsed]) -> Iterator[PredictedStrain]:
    """At every load that any step goes to, rising, and at the highest one in any case."""
    rig, rule = plan.rig, plan.procedure.decision
    channels = {load: rig.sources[source].channel for step in steps for source, load in step.targets}
    if plan.highest_load is not None and rig.sources:
        channels.setdefault(plan.highest_load, next(iter(rig.sources.values())).channel)
    for load, channel in sorted(channels.items()):
        for name in bridges(rig):
            strain, expanded = strain_at(rig, name, channel, load, rule)
            yield PredictedStrain(
                channel=name, load=value_in(rig.part.load, load), strain=value_in("strain", strain, expanded)
            )


def _step(plan: Plan, step: Rehearsed) -> PlannedStep:
    load = plan.rig.part.load
    rate = step.rate_per_s
    open_s, waits_for = step.step.open_wait()
    return PlannedStep(
        step=step.number,
        kind=step.step.kind,
        duration=value_in("time", step.duration_s),
        longest=value_in("time", step.duration_s + open_s),
        waits_for=waits_for if open_s else "",
        loads=tuple(value_in(load, target) for target in sorted({target for _, target in step.targets})),
        rate=None if rate is None else value_in(kind_of(load).rate, rate),
        shut_in=value_in("time", step.shut_in_s) if step.shut_in_s else None,
        remarks=tuple(step.step.remarks()),
        trouble=step.trouble,
        tasks=tuple(_task(task) for task in step.step.tasks()),
        checks=tuple(_check(found) for found in step.checks),
    )


def _task(task: Task) -> PlannedTask:
    measured = task.measured
    return PlannedTask(
        name=task.name,
        text=task.text,
        origin=task.origin,
        at_least=_limit(task.at_least),
        at_least_origin=task.at_least_origin,
        measured=measured.of if measured else "",
        lowest=_limit(measured.lowest) if measured else None,
        highest=_limit(measured.highest) if measured else None,
        range_origin=measured.origin if measured else "",
        caution=task.caution,
        told=task.told(),
    )


def _check(found: Foreseen) -> PlannedCheck:
    check = found.check
    return PlannedCheck(
        name=check.name,
        subject=check.subject,
        at=check.at,
        kind=check.kind,
        unit=kind_of(check.kind).base,
        expected=_or_none(found.reads),
        u=rounded(check.u_decides),
        U=rounded(found.expanded),
        lower=_or_none(check.tolerance.lower),
        upper=_or_none(check.tolerance.upper),
        computed=check.tolerance.computed,
        origin=check.tolerance.origin,
        rule=check.rule,
        guard_band=rounded(check.guard_band),
        acceptance_lower=_or_none(check.acceptance_lower),
        acceptance_upper=_or_none(check.acceptance_upper),
        capability=_or_none(found.capability),
        chance=_or_none(found.chance),
        share=_or_none(found.share),
        can_be_accepted=found.acceptable,
        why=found.why,
        improve=found.improve,
    )


def _or_none(number: float | None) -> float | None:
    return None if number is None else rounded(number)


def hopeless_of(rig: Rig, steps: Sequence[Rehearsed]) -> Iterator[str]:
    """Every check that not even a sound rig would pass, every step that would not be taken whole, and want of load."""
    loaded = {name for s in steps if RESPONSE_TO_LOAD in s.step.shows for name in s.step.reaches(rig)}
    if left := [name for name in strain_channels(rig, (ALL_STRAIN,)) if name not in loaded]:
        yield f"no step loads the part and reads {', '.join(left)}: write one such as `cycles` or `proof`"
    for step in steps:
        named = f"{step.number} {step.step.kind}"
        if step.trouble:
            yield f"{named} {step.trouble}"
        if step.stopped:
            yield f"{named}: the rise would be stopped ({step.stopped})"
        for found in step.checks:
            if not found.acceptable:
                check = found.check
                where = f" ({check.at})" if check.at else ""
                better = f"; improve first: {found.improve}" if found.improve else ""
                yield f"{named}: {check.name} of {check.subject}{where}: {found.why}{better}"


def _interlock(standing: Standing) -> PlannedInterlock:
    lock, found = standing.lock, standing.range
    kind = lock.measures
    return PlannedInterlock(
        name=lock.name,
        watches=lock.kind,
        channel=lock.channel,
        limit=lock.in_words(),
        above=_limit(lock.above),
        below=_limit(lock.below),
        highest=value_in(kind, found.high, found.u_high) if found else None,
        lowest=value_in(kind, found.low, found.u_low) if found else None,
        distance=None if standing.distance is None else value_in(kind_of(kind).difference, standing.distance),
        trips=standing.trips,
    )


def _relief(found: Relief) -> PlannedRelief:
    device = found.device
    pressure = device.set_pressure
    return PlannedRelief(
        source=found.source,
        serial_number=device.serial_number or "",
        certificate=device.certificate or "",
        set_pressure=value_in(pressure.kind, pressure.value),
        lowest=value_in(pressure.kind, pressure.lower),
        highest=value_in(pressure.kind, pressure.upper),
        stated=pressure.text,
        left=value_in(kind_of(pressure.kind).difference, found.left),
    )


def _limit(limit: Quantity | None) -> Value | None:
    return None if limit is None else value_in(limit.kind, limit.value)
