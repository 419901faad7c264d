"""How often a sound rig can pass each check: a procedure that often leaves one undecided wastes the run.

A sound rig whose errors are as large as the documents state reads inside the acceptance limits with the probability
`Foreseen.chance`. A figure that is looked for at several places is the worst of them, and scatter comes on top: the
probability is therefore the most that can be hoped for.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

from rigproof.steps.foresee import Foreseen
from rigproof.verdict.record import Check

from .rehearsal import Rehearsed

LIKELY = 0.95  # of sound rigs: to lose one in twenty is what one decision at 5 % risk costs, too (judgement, no source)


def unlikely(found: Foreseen) -> bool:
    """Whether sound rigs pass less often than `LIKELY`; one that none passes is not among them (`hopeless_of`)."""
    chance = found.chance
    return found.acceptable and chance is not None and chance < LIKELY


def unlikely_of(steps: Sequence[Rehearsed]) -> Iterator[str]:
    """Every such check in plain words with what helps; those that rest on one thing in a sentence."""
    for step in steps:
        rows: dict[tuple[str, str], dict[str, float]] = {}
        for found in filter(unlikely, step.checks):
            check = found.check
            names = rows.setdefault((check.subject, _remedy(check, step.step.loads)), {})
            names[check.name] = min(found.chance or 0.0, names.get(check.name, 1.0))
        for (subject, remedy), names in rows.items():
            (first, chance), *more = names.items()
            also = "".join(f", {100 * each:.0f} {name}" for name, each in more)
            yield (
                f"{step.number} {step.step.kind}: at most {100 * chance:.0f} in 100 pass {first}{also} of {subject}: "
                f"{remedy}"
            )


def _remedy(check: Check, loads: bool) -> str:
    """What its uncertainty rests on most, and what helps against that."""
    wider = "a higher load or a wider limit helps" if loads else "a wider limit helps"
    if not check.budget:  # of a step that gives a u alone
        return wider
    shares: defaultdict[str, float] = defaultdict(float)
    for line in check.budget:
        shares[line.source or line.input] += line.share
    most, share = max(shares.items(), key=lambda item: item[1])
    stated = next((line.stated for line in check.budget if (line.source or line.input) == most), "")
    rests = (
        f"{100 * share:.0f} % of the variance is {most.removeprefix('rig.yaml: ')}{f' ({stated})' if stated else ''}"
    )
    better = next((what for word, what in _HELPS.items() if word in most), "knowing that better")
    return f"{rests}; {better}{', ' if loads else ' or '}{wider}"


_HELPS = {"readings": "more readings", "accuracy": "a better instrument"}
