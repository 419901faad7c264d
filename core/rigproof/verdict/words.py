"""A check in words, with units: shared by the screen and by every report, so that they never say two things."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import floor, isfinite, log10

from rigproof.quantities import fitting, kind_of, shown
from rigproof.quantities import show as show_digits

from .record import Check, ResumeRecord, RetryRecord, Verdict, WorkRecord

_HEADS = {"improve first": "improve first: ", "look first at": "look first at: "} | dict.fromkeys(
    ("value", "rule", "method", "note"), ""
)  # of a particular in a sentence, where it is not its name


def rounded(value: float, u: float, kind: str, in_unit: str = "", lean: float = 0.0) -> str:
    """A value to the place where its uncertainty has two significant digits (GUM 7.2.6); without one, five digits.

    To the nearest; with a `lean` of 1 never down, of -1 never up (by more than a thousandth of the last place).
    """
    chosen = in_unit or fitting(_larger(value, u), kind)
    width = _size(u, kind, chosen)
    if not (isfinite(value) and isfinite(width) and width > 1e-12):
        return show_digits(value, kind, 5, chosen)
    places = max(0, 1 - floor(log10(width)))
    number = round(float(shown(value, kind, chosen)) + 0.499 * lean / 10**places, places) + 0.0  # + 0.0: no minus zero
    return f"{number:.{places}f} {chosen}".strip()


def with_u(value: float, expanded: float, kind: str, in_unit: str = "") -> str:
    """A value and its expanded uncertainty, both to two digits of the latter: `36.108 ± 0.061 bar`."""
    chosen = in_unit or fitting(_larger(value, expanded), kind)
    number = rounded(value, expanded, kind, chosen).removesuffix(chosen).strip()
    return f"{number} ± {rounded(expanded, expanded, kind_of(kind).difference, unit_of_difference(kind, chosen))}"


def retries(record: RetryRecord) -> str:
    """`1 retry of the ohmmeter`."""
    return f"{record.count} {'retry' if record.count == 1 else 'retries'} of the {record.instrument}"


def work(of: str, lines: Sequence[WorkRecord]) -> str:
    """One piece of work: `bonding: 7 items, A. Example, 2026-11-25 08:10 to 08:21 UTC`."""
    people = ", ".join(dict.fromkeys(line.person for line in lines))
    first, last = lines[0].ended[:16].replace("T", " "), lines[-1].ended[:16].replace("T", " ")
    count = f"{len(lines)} items" if len(lines) > 1 else "1 item"
    until = last.removeprefix(first[:11])  # the day once where it is the same
    return f"{of}: {count}, {people}, {first}{f' to {until}' if last != first else ''} UTC"


def works(lines: Sequence[WorkRecord]) -> list[tuple[str, list[WorkRecord]]]:
    """The installation record by the work that its lines belong to, in order."""
    keys = dict.fromkeys((line.step, line.of) for line in lines)
    return [(of, [line for line in lines if (line.step, line.of) == (step, of)]) for step, of in keys]


def took(line: WorkRecord) -> str:
    """How long it took: `62 s`, `12.5 min`, `30.0 h`."""
    return span(line.took)


def least(line: WorkRecord) -> str:
    """The least time, and who set it; "" where there is none."""
    return "" if line.at_least is None else f"at least {span(line.at_least)} ({line.at_least_origin})"


def span(seconds: float) -> str:
    """A time in the unit that fits it."""
    for size, name in ((3600, "h"), (60, "min")):
        if seconds >= 2 * size:
            return f"{seconds / size:.3g} {name}"
    return f"{seconds:.3g} s"


def measured(line: WorkRecord) -> str:
    """What was measured beside it, with its range; "" where nothing was."""
    if line.value is None or line.lowest is None or line.highest is None:
        return ""
    chosen = fitting(_larger(line.value, line.highest), line.kind)
    text = between(line.lowest, line.highest, chosen, lambda limit: show_digits(limit, line.kind, in_unit=chosen))
    return f"{line.measured} {show_digits(line.value, line.kind, in_unit=chosen)} ({text})"


def deviations(lines: Sequence[WorkRecord]) -> list[str]:
    """What is not as asked, with the reason and who gave it."""
    return [f"{line.of}, {line.item}: {text} ({line.person})" for line in lines for text in line.deviations]


def resumption(record: ResumeRecord) -> str:
    """`resumed 2026-11-26 08:00:12 UTC after: stopped: …`, and how the rig had been left."""
    said = f"resumed {record.utc[:19].replace('T', ' ')} UTC after: {record.after}"
    if not record.left_safe:
        said += "; nobody had confirmed the rig safe"
    moved = ", ".join(f"{name} {show_digits(strain, 'strain', 3)}" for name, strain in record.zero_moved.items())
    return f"{said}; at rest against the zero before: {moved}" if moved else said


def resumptions(verdict: Verdict) -> list[str]:
    """Each time the run was resumed, and the steps that were therefore begun again."""
    again = [
        f"step {step.step} {step.kind} was begun {step.takings} times, and the last one counts"
        for step in verdict.steps
        if step.takings > 1
    ]
    return [resumption(record) for record in verdict.resumed] + again


def title(check: Check) -> str:
    """What was checked, of what, and where in the step."""
    return f"{check.name} of {check.subject}" + (f" ({check.at})" if check.at else "")


def unit_of(check: Check) -> str:
    """The unit for all numbers of a check: that of its largest, so that reading and limits can be compared at sight."""
    limits = check.tolerance
    sizes = [abs(one) for one in (check.measured, limits.lower, limits.upper, check.expected) if one is not None]
    return fitting(max(sizes, default=0.0), check.kind)


def value(check: Check) -> str:
    """The measured value, or why there is none."""
    if check.measured is None:
        return f"{unread(check)} ({check.note})" if check.note else unread(check)
    return rounded(check.measured, check.u, check.kind, unit_of(check))


def not_made(check: Check) -> bool:
    """Whether there was nothing to hold against a limit, so that the check has neither."""
    return check.measured is None and check.tolerance.lower is None and check.tolerance.upper is None


def unread(check: Check) -> str:
    """In place of a number: `not made`, `no reading`; what is accepted without one says how its note begins."""
    if not_made(check):
        return "not made"
    return check.note.partition(",")[0] if check.finding == "accept" and check.note else "no reading"


def concise(check: Check) -> str:
    """The measured value with the digits of its standard uncertainty in brackets: `9.37(14) µε/bar` (GUM 7.2.2)."""
    return unread(check) if check.measured is None else in_brackets(check.measured, check.u, check.kind, unit_of(check))


def in_brackets(value: float, u: float, kind: str, in_unit: str = "") -> str:
    """A value with two digits of its standard uncertainty in brackets; without one, as `rounded`."""
    chosen = in_unit or fitting(_larger(value, u), kind)
    text = rounded(value, u, kind, chosen)
    number, _, of_unit = text.partition(" ")
    width = _size(u, kind, chosen)
    if width <= 1e-12:
        return text
    places = len(number.partition(".")[2])
    digits = f"{width:.{places}f}" if width >= 1 and places else f"{round(width * 10**places)}"
    return f"{number}({digits}) {of_unit}".strip()


def expected(check: Check) -> str:
    """What a computed tolerance lies around, with its own u in brackets and U of the difference: `9.46(14) ± 0.35`."""
    if check.expected is None or check.u_expected is None or check.U is None:
        return ""
    chosen = unit_of(check)
    around = in_brackets(check.expected, check.u_expected, check.kind, chosen).removesuffix(chosen).strip()
    return f"{around} ± {_bare(check.U, check.kind, chosen)}"


def percent(share: float) -> str:
    """A probability as people read it: `97.25 %`, `below 0.01 %`."""
    if share < 1e-4:
        return "below 0.01 %"
    return "above 99.99 %" if share > 1 - 1e-4 else f"{100 * share:.4g} %"


def _larger(value: float, u: float) -> float:
    return max(abs(value), abs(u))


def _size(width: float, kind: str, in_unit: str) -> float:
    """A difference in a unit of `kind`, whose zero may lie elsewhere."""
    return float(shown(width, kind, in_unit)) - float(shown(0.0, kind, in_unit))


def unit_of_difference(kind: str, in_unit: str) -> str:
    """The unit for a difference of two values that are given in `in_unit`: the same, where differences have it."""
    of_difference = kind_of(kind_of(kind).difference)
    return in_unit if in_unit in of_difference.units else of_difference.shown


def _bare(width: float, kind: str, in_unit: str) -> str:
    """A difference to two digits, without its unit."""
    chosen = unit_of_difference(kind, in_unit)
    return show_digits(float(f"{width:.2g}"), kind_of(kind).difference, in_unit=chosen).removesuffix(chosen).strip()


def uncertainty(check: Check) -> str:
    """The standard uncertainty, two significant digits."""
    if check.measured is None:
        return ""
    return show_digits(check.u, kind_of(check.kind).difference, 2, unit_of_difference(check.kind, unit_of(check)))


def interval(check: Check) -> str:
    """The tolerance: the limits on the true value; "" where the check was not made."""
    if not_made(check):
        return ""
    chosen = unit_of(check)
    return between(check.tolerance.lower, check.tolerance.upper, chosen, lambda limit: _limit(limit, check, chosen))


def between(lower: float | None, upper: float | None, in_unit: str, text: Callable[[float], str]) -> str:
    """An interval in words; `text` writes one limit in `in_unit`."""
    if lower is None and upper is None:
        return "without limits"
    if lower is None or upper is None:
        return f"at most {text(upper)}" if upper is not None else f"at least {text(lower or 0.0)}"
    if lower < 0 and text(-lower) == text(upper):
        return f"± {text(upper)}"
    return f"{text(lower).removesuffix(in_unit).strip()} to {text(upper)}"


def _limit(limit: float, check: Check, in_unit: str) -> str:
    """A computed limit to the digits of the uncertainty; a specified one as it is: what decides is not rounded."""
    if check.tolerance.computed:
        return rounded(limit, check.u_decides, check.kind, in_unit)
    return specified(limit, check.kind, in_unit)


def specified(limit: float, kind: str, in_unit: str) -> str:
    """A limit that somebody set, alike in plan, verdict and report: 105 % of 35.75 bar is 37.5375 bar."""
    return show_digits(limit, kind, in_unit=in_unit)


def particulars(check: Check) -> list[tuple[str, str]]:
    """All that a reader needs to see why a check came out as it did: (what it is, its text)."""
    if check.measured is None:
        said = [("value", value(check))]
    else:
        said = [("measured", f"{value(check)}{f', u {uncertainty(check)}' if check.u else ''}")]
        if check.equivalent_strain is not None:
            said.append(("stands for", f"{show_digits(check.equivalent_strain, 'strain', 4)} of indicated strain"))
    said += _against(check)
    if check.method == "Monte Carlo":
        said.append(("method", f"by {check.method}"))
    if check.improve:
        said.append(("improve first", f"{check.improve}{_enough(check)}"))
    if check.note and check.measured is not None:
        said.append(("note", check.note))
    return [*said, *([("look first at", check.hint)] if check.hint else [])]


def sentences(check: Check) -> list[str]:
    """The same, each in one text."""
    return [f"{_HEADS.get(what, f'{what} ')}{text}" for what, text in particulars(check)]


def reason(check: Check) -> str:
    """Why a check stands against the verdict, in one line; the check itself has its rule, probability and budget."""
    said = value(check) if check.measured is None else f"measured {concise(check)}"
    if expected(check):
        said += f", expected {expected(check)}"
    elif not not_made(check):
        said += f", tolerance {interval(check)} ({check.tolerance.origin})"
    if check.improve:
        said += f"; improve first: {check.improve}{_enough(check)}"
    if check.note and check.measured is not None:
        said += f"; {check.note}"
    return f"{check.step_kind}: {title(check)} is {check.finding}: {said}"


def hints(verdict: Verdict) -> dict[str, str]:
    """By a reason of the verdict, what is looked at first: a check that does not accept says so itself."""
    return {reason(check): f"look first at: {check.hint}" for check in verdict.checks if check.hint}


def _against(check: Check) -> list[tuple[str, str]]:
    """What it was held against, who set that, by which rule, and how surely it conforms."""
    if not_made(check):
        return []
    said = []
    if check.expected is not None:
        u = check.u if check.u_expected is None else check.u_expected  # an older verdict has one u for both
        said.append(("expected", in_brackets(check.expected, u, check.kind, unit_of(check))))
    if check.difference is not None and check.U is not None:
        in_unit = unit_of_difference(check.kind, unit_of(check))
        apart = with_u(check.difference, check.U, kind_of(check.kind).difference, in_unit)
        said.append(("difference", f"{apart} ({check.tolerance.origin})"))
    else:
        said.append(("tolerance", f"{interval(check)} ({check.tolerance.origin})"))
    if check.rule and check.measured is not None:
        said.append(("rule", check.rule))
    if check.conformance_probability is not None and check.kind != "number":
        said.append(("conformance probability", percent(check.conformance_probability)))
    return said


def _enough(check: Check) -> str:
    """How much better the input must be known, and what that would bring."""
    if check.improve_to is None:
        return ""
    return f", to {100 * check.improve_to:.2g} % of its u: {check.would_be} at this reading"
