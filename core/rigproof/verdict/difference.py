"""What differs between two verdicts, as people read it: for the review of a change that moved a number."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from rigproof.quantities import KINDS, kind_of, show

from . import inputs
from .record import Check, Record, Verdict
from .words import title

NAMES = {"step", "step_kind", "name", "subject", "kind", "unit"}  # by which a check is found again
LEVELS = {"measured", "expected", "acceptance_lower", "acceptance_upper"}  # values of the check's kind
WIDTHS = {"u", "u_expected", "difference", "u_difference", "u_limit", "U", "guard_band"}  # differences of such
APART = {"tolerance", "budget"}  # compared by their own parts
PROVENANCE = {"rig", "procedure", "journal"}  # compared by content
DIGITS = 9  # a number that is the same to so many is the same


@dataclass(frozen=True)
class Difference:
    """One thing that is not the same; `at` is a field, `where` the check it belongs to ("" for the verdict itself)."""

    where: str
    at: str
    old: str
    new: str


def differences(old: Verdict, new: Verdict) -> list[Difference]:
    """What differs, the verdict itself first, then check by check in their order; documents by their SHA-256."""
    return [*_whole(old, new), *_checks(old, new)]


def _whole(old: Verdict, new: Verdict) -> Iterator[Difference]:
    before, after = _flat(old), _flat(new)
    for name in dict.fromkeys((*before, *after)):
        if (was := before.get(name, "none")) != (now := after.get(name, "none")):
            yield Difference("", name, was, now)


def _flat(verdict: Verdict) -> dict[str, str]:
    """What the verdict says beside its checks; records in it by their place, such as `steps 6 finding`."""
    found = {}
    for name in Verdict.model_fields:
        value = getattr(verdict, name)
        records = [each for each in (value if isinstance(value, tuple) else (value,)) if isinstance(each, Record)]
        if name in PROVENANCE:
            found[name] = f"SHA-256 {value.sha256}"
        elif name != "checks" and not records:
            found[spoken(name)] = _text(value)
        elif name != "checks":
            if isinstance(value, tuple):
                found[spoken(name)] = str(len(records))
            for number, record in enumerate(records, 1):
                for key, each in record:
                    load = (name, key) == ("safe_end", "load")
                    text = _shown(each, verdict.part.rpartition("load: ")[2]) if load else _text(each)
                    found[f"{spoken(name)} {number} {spoken(key)}"] = text
    return found


def pairs(old: Verdict, new: Verdict) -> Iterator[tuple[str, Check | None, Check | None]]:
    """Each check by its name, as it was and as it is, in the order of `old`; None where it is not made."""
    before, after = _named(old), _named(new)
    after = _followed(before, after)
    for name in [*before, *(name for name in after if name not in before)]:
        yield name, before.get(name), after.get(name)


def _checks(old: Verdict, new: Verdict) -> Iterator[Difference]:
    for name, before, after in pairs(old, new):
        if before and after:
            yield from _check(name, before, after)
        elif before:
            yield Difference(name, "check", before.finding, "is not made")
        elif after:
            yield Difference(name, "check", "was not made", after.finding)


def _named(verdict: Verdict) -> dict[str, Check]:
    """Checks by what a person calls them; a second one of the same name is counted."""
    seen: Counter[str] = Counter()
    found = {}
    for check in verdict.checks:
        name = f"{check.step} {check.step_kind}: {title(check)}"
        seen[name] += 1
        found[name if seen[name] == 1 else f"{name}, {seen[name]}"] = check
    return found


def _followed(before: dict[str, Check], after: dict[str, Check]) -> dict[str, Check]:
    """`after` by the names of `before`: a check whose worst level moved is the same check, of the same subject."""
    lost = [name for name in before if name not in after]
    found = {}
    for name, check in after.items():
        same = (one for one in lost if name not in before and _subject(before[one]) == _subject(check))
        taken = next(same, name)
        found[taken] = check
        lost = [one for one in lost if one != taken]
    return found


def _subject(check: Check) -> tuple[int, str, str, str]:
    return check.step, check.step_kind, check.name, check.subject


def _check(name: str, old: Check, new: Check) -> Iterator[Difference]:
    before, after = _parts(old), _parts(new)
    for part in dict.fromkeys((*before, *after)):
        if (was := before.get(part, "none")) != (now := after.get(part, "none")):
            yield Difference(name, part, was, now)


def _parts(check: Check) -> dict[str, str]:
    """Everything a check states, in words and units."""
    fields = [name for name in Check.model_fields if name not in NAMES | APART]
    found = {spoken(name): _value(check, name) for name in fields}
    for limit in ("lower", "upper"):
        found[f"tolerance {limit}"] = _shown(getattr(check.tolerance, limit), check.kind)
    found["tolerance origin"] = check.tolerance.origin
    for line in check.budget:
        found[f"u of {line.input}"] = inputs.u(line, check, DIGITS)
    return found


def _value(check: Check, field: str) -> str:
    value = getattr(check, field)
    if field in LEVELS:
        return _shown(value, check.kind)
    if field in WIDTHS:
        return _shown(value, kind_of(check.kind).difference)
    return _shown(value, "strain") if field == "equivalent_strain" else _text(value)


def spoken(field: str) -> str:
    """A field's name as `Difference.at` has it."""
    return field.replace("_", " ")


def _shown(value: float | None, kind: str) -> str:
    if value is not None and kind not in KINDS:
        return _text(value)
    return "none" if value is None else show(value, kind, DIGITS)


def _text(value: object) -> str:
    if isinstance(value, dict):
        return "; ".join(f"{name} {_text(each)}" for name, each in value.items()) or "nothing"
    if isinstance(value, tuple):
        return "; ".join(map(str, value)) or "nothing"
    if isinstance(value, float):
        return f"{value:.{DIGITS}g}"
    return "none" if value is None or value == "" else str(value)
