"""The plan as text: sections of plain lines that fit 80 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence

from rigproof.quantities import fitting, kind_of, show
from rigproof.run.odds import LIKELY
from rigproof.run.plan_record import (
    PlannedCheck,
    PlannedFact,
    PlannedInterlock,
    PlannedRelief,
    PlannedStep,
    PlanRecord,
    Value,
    value_in,
)
from rigproof.steps.guard import CAPABLE_WITHIN
from rigproof.verdict import words

COLUMNS = 80
LEGEND = (
    "Tolerance, then what is accepted of it, then C = T/(4 u), the capability, T the whole width of the tolerance. "
    "A computed one is U of measured minus expected, also as a share of what is expected: "
    f"beyond {100 * CAPABLE_WITHIN:.0f} % it shows nothing. "
    "Of a check made several times the least capable stands here; ! marks one that sound rigs often do not pass."
)
OFTEN = "OFTEN UNDECIDED, on sound rigs whose errors are as large as stated"
CANNOT = "CANNOT BE ACCEPTED as planned, not even on a sound rig"
SCALED = ("length", "energy", "mass")  # what spans so many sizes that each is shown in the unit that fits it
MOST_NAMED = 4  # subjects of one check in one row; beyond it only their count stands there
CAPABLE = 100.0  # a capability beyond this says only: no doubt


def text_of(plan: PlanRecord) -> str:
    """The whole plan; everything in it is in the record, which has more digits and every stage and level."""
    risk = f"risk {100 * plan.risk:.4g} %"
    if plan.decision_rule == "simple acceptance":
        risk += " where a tolerance is computed, and as likely as not at a limit that is set"
    about = (
        f"U holds at {100 * plan.coverage:.4g} % coverage and leaves out the scatter of readings, unknown until they "
        f"are taken. Decision: {plan.decision_rule}, {risk}. {_lasts(plan)}"
    )
    at = f" at {shown(plan.highest_load, 4)}, the highest load" if plan.highest_load else ""
    beside_work = {task.caution for step in plan.steps for task in step.tasks}
    sections = {
        f"{plan.procedure}\non {plan.rig}": [*_of_what(plan), *_wrapped(about)],
        f"PART{at}": [
            *(line for text in plan.part_formulas for line in _wrapped(text, "  ", "      ")),
            *_facts(plan.part_facts),
        ],
        "INDICATED STRAIN foreseen, with U": _strains(plan),
        "GAUGES as installed": _gauges(plan),
        "STEPS": [*_wrapped(LEGEND, "  ", "  "), *(line for step in plan.steps for line in _step(step))],
        "INTERLOCKS": [line for lock in plan.interlocks for line in _lock(lock)],
        "RELIEF DEVICES, as stated": [line for relief in plan.relief_devices for line in _relief(relief)],
        CANNOT: _listed(plan.cannot_be_accepted),
        OFTEN: _listed(plan.often_undecided),
        "CAUTIONS": _listed(text for text in plan.cautions if text not in beside_work),
    }
    return "\n\n".join("\n".join([title, *lines]) for title, lines in sections.items() if lines)


def _of_what(plan: PlanRecord) -> list[str]:
    """Part and site, so far as rig.yaml states them."""
    of_part = {"serial number": plan.part_serial_number, "drawing": plan.part_drawing}
    part = ", ".join(f"{what} {text}" for what, text in of_part.items() if text)
    said = [f"Part: {part}" if part else "", f"Site: {plan.site}" if plan.site else ""]
    return [line for text in said if text for line in _wrapped(text, "", "  ")]


def _lasts(plan: PlanRecord) -> str:
    """How long the whole takes; a range where a step waits for what no document foresees."""
    on_top = "the answers of instruments and people, and a source that settles, come on top"
    waits = [f"step {s.step} {s.kind} waits for {s.waits_for}" for s in plan.steps if s.waits_for]
    if not waits:
        return f"At least {span(plan.duration)} in all: {on_top}."
    return f"{span(plan.duration)} to {span(plan.longest)} in all: {'; '.join(waits)}; {on_top}."


def shown(value: Value, digits: int = 4) -> str:
    """A value for people: with U both to two digits of U, else with `digits`."""
    if value.U:
        return words.with_u(value.value, value.U, value.kind)
    for name, (factor, _) in kind_of(value.kind).units.items() if value.kind in SCALED else ():
        if 1 <= abs(number := value.value / float(factor)) < 1000:
            return f"{number:.{digits}g} {name}"
    return show(value.value, value.kind, digits)


def span(value: Value) -> str:
    """A time as people say it."""
    minutes = round(value.value / 60)
    if minutes < 2:
        return f"{value.value:.0f} s"
    return f"{minutes} min" if minutes < 120 else f"{minutes // 60} h {minutes % 60} min"


def _wrapped(text: str, first: str = "", then: str = "") -> list[str]:
    return textwrap.wrap(
        text, COLUMNS, initial_indent=first, subsequent_indent=then, break_long_words=False, break_on_hyphens=False
    )


def _listed(texts: Iterable[str]) -> list[str]:
    return [line for text in texts for line in _wrapped(text, "  - ", "    ")]


def _facts(facts: Iterable[PlannedFact]) -> list[str]:
    return _table([(fact.name, shown(fact.value), fact.note) for fact in facts])


def _table(rows: Sequence[tuple[str, str, str]]) -> list[str]:
    """Name, value and note; a note that does not fit stands below."""
    width = max((len(name) for name, _, _ in rows), default=0)
    lines = []
    for name, value, note in rows:
        line = f"  {name:<{width}}  {value}"
        beside = f"{line}  ({note})" if note else line
        lines += [beside] if len(beside) <= COLUMNS else [line, *_wrapped(f"({note})", "      ", "      ")]
    return lines


def _strains(plan: PlanRecord) -> list[str]:
    """One row per load; channels side by side as far as the columns reach, then below."""
    names = list(dict.fromkeys(found.channel for found in plan.predicted))
    lines = ["  As the channel shows it: the gauge's transverse sensitivity is in it."] if names else []
    for block in (names[i : i + 3] for i in range(0, len(names), 3)):
        rows: dict[str, list[str]] = {}
        for found in plan.predicted:
            if found.channel in block:
                rows.setdefault(shown(found.load), []).append(shown(found.strain))
        lines.append(_columns("load", block))
        lines += [_columns(load, cells) for load, cells in rows.items()]
    return lines


def _columns(first: str, cells: Sequence[str]) -> str:
    return f"  {first:<14} {' '.join(f'{cell:<20}' for cell in cells)}".rstrip()


def _gauges(plan: PlanRecord) -> list[str]:
    """One line per fact; channels whose value is the same share it."""
    merged: dict[tuple[str, str], dict[str, list[str]]] = {}
    for gauge in plan.gauges:
        for fact in gauge.facts:
            of_value = merged.setdefault((fact.name, fact.note), {})
            of_value.setdefault(shown(fact.value, 3), []).append(gauge.channel)
    everywhere = len(plan.gauges)
    rows = []
    for (name, note), values in merged.items():
        texts = [v if len(c) == everywhere else f"{', '.join(c)} {v}" for v, c in values.items()]
        rows.append((name, "; ".join(texts), note))
    return _table(rows)


def _step(step: PlannedStep) -> Iterator[str]:
    until = f" to {span(step.longest)}" if step.waits_for else ""
    head = [f"{step.step} {step.kind}: {span(step.duration)}{until}"]
    if step.loads and step.rate:
        kind, sizes = step.loads[0].kind, [load.value for load in step.loads]
        symbol = fitting(max(sizes, key=abs), kind)
        loads = ", ".join(show(size, kind, 4, symbol).removesuffix(symbol).strip() for size in sizes)
        head.append(f"to {loads} {symbol} at {shown(step.rate)}")
    if step.shut_in:
        head.append(f"shut in for {span(step.shut_in)}")
    yield from _wrapped(", ".join(head), "  ", "      ")
    for text in step.remarks:
        yield from _wrapped(text, "      ", "      ")
    for number, task in enumerate(step.tasks, 1):
        yield from _wrapped(f"{number} {task.name}: {task.told}", "      ", "        ")
    if step.trouble:
        yield from _wrapped(step.trouble, "      ! ", "        ")
    rows: dict[tuple[str, ...], list[str]] = {}
    for check, count in _worst(step.checks):
        name = f"{check.name}, {count} times" if count > 1 else check.name
        rows.setdefault((name, _limits(check), _accepts(check), _tells(check)), []).append(check.subject)
    for (name, limits, accepts, tells), subjects in rows.items():
        several = f"{len(subjects)} of them" if len(subjects) > MOST_NAMED else ", ".join(subjects)
        what = f"{name}: {several}"
        yield from _row(what, limits, accepts, tells)


def _row(what: str, limits: str, accepts: str, tells: str) -> Iterator[str]:
    if len(what) > 32:
        yield f"    {what}"
        what = ""
    yield f"{f'    {what:<32}  {limits:<19}  {accepts}':<71} {tells}".rstrip()


def _worst(checks: Iterable[PlannedCheck]) -> Iterator[tuple[PlannedCheck, int]]:
    """Of one check at several places the least capable one, and at how many."""
    groups: dict[tuple[str, str], list[PlannedCheck]] = {}
    for check in checks:
        groups.setdefault((check.name, check.subject), []).append(check)
    for group in groups.values():
        yield min(group, key=_standing), len(group)


def _standing(check: PlannedCheck) -> tuple[bool, float, float]:
    """The least capable first; among equals the largest value, which is what people look for."""
    capable = -round(check.share or 0.0, 3) if check.computed else check.capability or 0.0
    return check.can_be_accepted, capable, -abs(check.expected or 0.0)


def _limits(check: PlannedCheck) -> str:
    """The tolerance: a computed one around what is expected."""
    if check.computed and check.expected is not None:
        return shown(value_in(check.kind, check.expected, check.U))
    if check.lower is None and check.upper is None:
        return check.origin
    chosen = _unit(check.lower, check.upper, check.kind)
    return words.between(check.lower, check.upper, chosen, lambda limit: words.specified(limit, check.kind, chosen))


def _unit(lower: float | None, upper: float | None, kind: str) -> str:
    """The unit that fits the larger of two limits."""
    return fitting(max((abs(limit) for limit in (lower, upper) if limit is not None), default=0.0), kind)


def _accepts(check: PlannedCheck) -> str:
    """The acceptance limits of a specified tolerance, three digits or four, rounded inwards."""
    if check.computed:
        return "computed"
    low, high = check.acceptance_lower, check.acceptance_upper
    if low is None and high is None:
        return "none"
    size = max(abs(limit) for limit in (low, high) if limit is not None)
    place = max(min(10 * check.guard_band, size / 10), size / 100)
    chosen = _unit(low, high, check.kind)

    def inwards(limit: float) -> str:
        return words.rounded(limit, place, check.kind, chosen, lean=1.0 if limit == low else -1.0)

    text = words.between(low, high, chosen, inwards)
    return text.removeprefix("at most ").removeprefix("at least ")


def _tells(check: PlannedCheck) -> str:
    if not check.can_be_accepted:
        return "CANNOT"
    if check.share is not None:
        return f"U {100 * check.share:.2g} %"
    mark = " !" if check.chance is not None and check.chance < LIKELY else ""
    if check.capability is None:
        return mark.strip()
    return f"C {check.capability:.2g}{mark}" if check.capability < CAPABLE else "C > 100"


def _lock(lock: PlannedInterlock) -> Iterator[str]:
    if lock.highest is None or lock.lowest is None or lock.distance is None:
        said = "what it will read is not foreseen"
    else:
        reads = _foreseen(lock.highest if lock.above else lock.lowest)
        left = span(lock.distance) if lock.distance.kind == "time" else shown(lock.distance, 2)
        said = f"foreseen {reads}, {left} left"
        said += f": {lock.trips.upper()}" if lock.trips else ""
    yield from _wrapped(f"{lock.name}: {lock.channel} {lock.limit}; {said}", "  ", "      ")


def _foreseen(value: Value) -> str:
    """A time as people say it, anything else with its U."""
    return span(value) if value.kind == "time" else shown(value)


def _relief(relief: PlannedRelief) -> Iterator[str]:
    named = f"{relief.serial_number} " if relief.serial_number else ""
    proved = f"certificate {relief.certificate}" if relief.certificate else "no certificate stated"
    said = f"{relief.source}: {named}opens at {relief.stated}; {shown(relief.left, 2)} above the highest load; {proved}"
    yield from _wrapped(said, "  ", "      ")
