"""What a change did to a verdict, for its review: outcome, findings, margins, what else moved, and a count of the rest.

What is left out is counted, always: `differences` has every number.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import groupby

from .difference import Difference, differences, pairs, spoken
from .moved import Moved, moved
from .record import Check, Verdict

OWN = re.compile(r"started|ended|safe end \d+ (load|text)")  # goes with each run
STEP = re.compile(r"steps (\d+) (?:taken|why|finding|takings)")
FEW = 3  # checks of a step that came or went alike, and are named each
SHA = re.compile(r"(SHA-256 [0-9a-f]{12})[0-9a-f]{52}")


def review(old: Verdict, new: Verdict) -> list[str]:
    """Lines for a person; one alone where nothing differs."""
    found = differences(old, new)
    if not found:
        return ["nothing differs"]
    same = old.journal.sha256 == new.journal.sha256
    outcome, beside, told = _whole(old, new, [each for each in found if not each.where], same)
    checks = _looked(old, new, found, same)
    seen = sorted((each for each in checks if not each.finding and each.said), key=lambda each: -(each.margin or 0.0))
    lines = [*outcome, *_findings([each for each in checks if each.finding], (len(old.checks), len(new.checks)))]
    lines += _block("margins (from the reading to the nearest acceptance limit), the largest change in u first",
                    [_line(each) for each in seen if each.margin is not None])  # fmt: skip
    lines += _block("other changes of checks", [_line(each) for each in seen if each.margin is None])
    lines += _block("beside the checks", beside)
    told += sum(len(each.told) for each in checks)
    return [*lines, "", _rest(len(found), len(found) - told, same)]


def _rest(found: int, left: int, same: bool) -> str:
    """How many differences there are, and how many stand in no line."""
    count = f"{found} difference{'s' if found > 1 else ''}"
    why = "named or counted above" if same else "what moved by no more than 2 u, and what goes with a reading"
    return f"{count}, {left} of them without their numbers ({why}): --all has every one" if left else count


def _block(head: str, lines: Sequence[str]) -> list[str]:
    return ["", f"{head}:", *(f"  {line}" for line in lines)] if lines else []


def _line(each: Moved) -> str:
    return f"{each.name}: {'; '.join(each.said)}"


def _looked(old: Verdict, new: Verdict, found: Sequence[Difference], same: bool) -> list[Moved]:
    differ = {name: {each.at for each in group} for name, group in groupby(found, key=lambda each: each.where)}
    return [_look(*pair, differ[pair[0]], same) for pair in pairs(old, new) if pair[0] in differ]


def _look(name: str, old: Check | None, new: Check | None, differ: set[str], same: bool) -> Moved:
    if old and new:
        return moved(name, old, new, differ, same)
    came = f"{old.finding} -> is not made" if old else f"was not made -> {new.finding}" if new else ""
    return Moved(name, came, (), frozenset(differ), None)


def _findings(changed: Sequence[Moved], checks: tuple[int, int]) -> list[str]:
    of = f"{checks[0]} checks" + (f", now {checks[1]}" if checks[0] != checks[1] else "")
    if not changed:
        return ["", f"no finding changed ({of})"]
    lines = []
    for (step, finding, said), group in groupby(
        changed, key=lambda each: (each.name.partition(":")[0], each.finding, each.said)
    ):
        alike = list(group)
        if said or len(alike) <= FEW:
            lines += [line for each in alike for line in (f"{each.name}: {finding}", *(f"  {part}" for part in said))]
        else:
            lines.append(f"{step}: {len(alike)} checks: {finding}")
    return _block(f"{len(changed)} finding{'s' if len(changed) > 1 else ''} changed ({of})", lines)


def _whole(old: Verdict, new: Verdict, found: Sequence[Difference], same: bool) -> tuple[list[str], list[str], int]:
    """(the outcome, what is told beside it and the checks, how many of `found` these tell)."""
    outcome = [
        f"verdict: {old.verdict} -> {new.verdict}"
        if old.verdict != new.verdict
        else f"verdict: {new.verdict}, as before"
    ]
    outcome[0] += " (the same journal)" if same else " (two journals)"
    told = [each for each in found if same or not OWN.fullmatch(each.at)]
    own = [each for each in told if each.at in ("verdict", "journal")]
    steps = [each for each in told if STEP.fullmatch(each.at)]
    outcome += [f"  {line}" for each in told if each.at == "why" for line in _entries(old, new, "why")]
    outcome += [f"  {line}" for line in _steps(old, new, steps)]
    beside = []
    for each in told:
        if each not in own and each not in steps and each.at != "why":
            beside += _fact(old, new, each)
    return outcome, beside, len(told)


def _steps(old: Verdict, new: Verdict, found: Sequence[Difference]) -> list[str]:
    """A line for each step that ended otherwise."""
    lines = []
    for number in dict.fromkeys(each.at.split()[1] for each in found):
        both = [next((step for at, step in enumerate(v.steps, 1) if at == int(number)), None) for v in (old, new)]
        was, now = (
            ", ".join(filter(None, (s.taken, s.finding, s.why, _times(s.takings)))) if s else "none" for s in both
        )
        kind = next(step.kind for step in both if step)
        lines.append(f"step {number} {kind}: {was} -> {now}")
    return lines


def _times(takings: int) -> str:
    return f"begun {takings} times" if takings > 1 else ""


def _fact(old: Verdict, new: Verdict, each: Difference) -> list[str]:
    field = next((name for name in Verdict.model_fields if spoken(name) == each.at), "")
    lists = (getattr(old, field), getattr(new, field)) if field else ()
    if lists and all(isinstance(texts, tuple) and all(isinstance(one, str) for one in texts) for texts in lists):
        return [f"{each.at}: {line}" for line in _entries(old, new, field)]
    return [f"{each.at}: {_short(each.old)} -> {_short(each.new)}"]


def _short(text: str) -> str:
    return SHA.sub(r"\1…", text)


def _entries(old: Verdict, new: Verdict, field: str) -> list[str]:
    """Which texts of a list went and which came; or that their order or number changed."""
    before, after = getattr(old, field), getattr(new, field)
    gone, come = [each for each in before if each not in after], [each for each in after if each not in before]
    return [*(f"no longer: {each}" for each in gone), *(f"now: {each}" for each in come)] or [
        "in another order or number"
    ]
