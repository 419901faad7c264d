"""How many runs ended with each verdict."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from rigproof.verdict.record import Outcome

from .intervals import Share


@dataclass(frozen=True, slots=True)
class Verdicts:
    """Runs of each; one run at least."""

    accept: int = 0
    undecided: int = 0
    reject: int = 0
    void: int = 0

    @classmethod
    def of(cls, verdicts: Iterable[Outcome]) -> Verdicts:
        """Counted."""
        counted = Counter(verdicts)
        return cls(counted["accept"], counted["undecided"], counted["reject"], counted["void"])

    @property
    def counts(self) -> dict[str, int]:
        """By the word."""
        return {"accept": self.accept, "undecided": self.undecided, "reject": self.reject, "void": self.void}

    @property
    def runs(self) -> int:
        """How many there were."""
        return self.accept + self.undecided + self.reject + self.void

    @property
    def accepted(self) -> Share:
        """How many were accepted."""
        return Share(self.accept, self.runs)

    @property
    def against(self) -> str:
        """How those ended that were not accepted: `reject 12, undecided 3`; "" where all were."""
        others = {"reject": self.reject, "undecided": self.undecided, "void": self.void}
        return ", ".join(f"{verdict} {count}" for verdict, count in others.items() if count)
