"""Which check finds which flaw, and how surely."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from .intervals import Share, share
from .trial import Result, Trial

WANTED = 0.95  # of the runs with a flaw ought to find it


@dataclass(frozen=True)
class Row:
    """The runs with one flaw ("" for the sound rig): how they ended, and which check did not accept in what share."""

    flaw: str
    ends: dict[str, Share]  # by verdict
    caught: Share  # not accepted
    checks: tuple[tuple[str, Share], ...]  # "step: check", the surest first

    @property
    def hole(self) -> bool:
        """True for a flaw that is found too seldom."""
        return bool(self.flaw) and self.caught.share < WANTED


def row(flaw: str, results: Sequence[Result]) -> Row:
    """What the runs with `flaw` came to."""
    runs = len(results)
    ends = Counter(result.verdict for result in results)
    checks = Counter(text for result in results for text in {f"{c.kind}: {c.name}" for c in result.caught})
    checks.update("the run ended: void" for result in results if result.verdict == "void")
    surest = sorted(checks.items(), key=lambda item: (-item[1], item[0]))
    return Row(
        flaw,
        {verdict: share(ends[verdict], runs) for verdict in ("accept", "reject", "undecided", "void")},
        share(runs - ends["accept"], runs),
        tuple((text, share(count, runs)) for text, count in surest),
    )


def trials(flaw: str, runs: int, first_seed: int) -> list[Trial]:
    """The trials of a row."""
    return [Trial((flaw,) if flaw else (), first_seed + n) for n in range(runs)]
