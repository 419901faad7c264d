"""What differs between two verdicts, as people read it: for the review of a change that moved a number."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from rigproof.quantities import kind_of, show

from .record import Check, Verdict
from .words import title

WHOLE = ("verdict", "why", "end", "shown", "not_shown", "decision_rule", "risk", "multiple", "coverage", "cautions")
LEVELS = ("measured", "expected", "acceptance_lower", "acceptance_upper")  # values of the check's kind
WIDTHS = ("u", "u_expected", "difference", "u_difference", "U", "guard_band")  # differences of such values
PLAIN = ("finding", "rule", "method", "k", "dof", "conformance_probability", "improve", "note")
DIGITS = 9  # a number that is the same to so many is the same


@dataclass(frozen=True)
class Difference:
    """One thing that is not the same; `at` is a field, `where` the check it belongs to ("" for the verdict itself)."""

    where: str
    at: str
    old: str
    new: str


def differences(old: Verdict, new: Verdict) -> list[Difference]:
    """What differs, the verdict itself first, then check by check in their order. Documents are compared by content."""
    return [*_whole(old, new), *_checks(old, new)]


def _whole(old: Verdict, new: Verdict) -> Iterator[Difference]:
    for name in WHOLE:
        before, after = _text(getattr(old, name)), _text(getattr(new, name))
        if before != after:
            yield Difference("", name.replace("_", " "), before, after)
    for name in ("rig", "procedure"):
        if getattr(old, name).sha256 != getattr(new, name).sha256:
            yield Difference("", name, f"SHA-256 {getattr(old, name).sha256}", f"SHA-256 {getattr(new, name).sha256}")


def _checks(old: Verdict, new: Verdict) -> Iterator[Difference]:
    before, after = _named(old), _named(new)
    for name in [*before, *(name for name in after if name not in before)]:
        if name not in after:
            yield Difference(name, "check", before[name].finding, "is not made")
        elif name not in before:
            yield Difference(name, "check", "was not made", after[name].finding)
        else:
            yield from _check(name, before[name], after[name])


def _named(verdict: Verdict) -> dict[str, Check]:
    """Checks by what a person calls them; a second one of the same name is counted."""
    seen: Counter[str] = Counter()
    found = {}
    for check in verdict.checks:
        name = f"{check.step} {check.step_kind}: {title(check)}"
        seen[name] += 1
        found[name if seen[name] == 1 else f"{name}, {seen[name]}"] = check
    return found


def _check(name: str, old: Check, new: Check) -> Iterator[Difference]:
    fields = [(field, _value(old, field), _value(new, field)) for field in (*PLAIN, *LEVELS, *WIDTHS)]
    for limit in ("lower", "upper"):
        ends = [_shown(getattr(check.tolerance, limit), check.kind) for check in (old, new)]
        fields += [(f"tolerance {limit}", ends[0], ends[1])]
    fields.append(("tolerance origin", old.tolerance.origin, new.tolerance.origin))
    for field, before, after in fields:
        if before != after:
            yield Difference(name, field.replace("_", " "), before, after)


def _value(check: Check, field: str) -> str:
    value = getattr(check, field)
    if field in PLAIN:
        return _text(value)
    return _shown(value, check.kind if field in LEVELS else kind_of(check.kind).difference)


def _shown(value: float | None, kind: str) -> str:
    return "none" if value is None else show(value, kind, DIGITS)


def _text(value: object) -> str:
    if isinstance(value, tuple):
        return "; ".join(map(str, value)) or "nothing"
    if isinstance(value, float):
        return f"{value:.{DIGITS}g}"
    return "none" if value is None or value == "" else str(value)
