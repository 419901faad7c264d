"""What a step has a person do: one task as plan, question, record and verdict tell it."""

from __future__ import annotations

from dataclasses import dataclass

from rigproof.quantities import Quantity

WORK = "work"  # kind of the entries that tell of a person's work
COMMON_PRACTICE = "common practice, no source"  # who says so where neither a document nor a sheet does


@dataclass(frozen=True)
class Measured:
    """A quantity that a person measures beside the work, and the range it must lie in."""

    of: str  # "strain relief loop"
    lowest: Quantity
    highest: Quantity
    origin: str  # who set the range

    @property
    def range(self) -> str:
        """As written."""
        return f"{self.lowest.text} to {self.highest.text}"

    def holds(self, value: float) -> bool:
        """Whether a value (base unit) lies in the range."""
        return self.lowest.value <= value <= self.highest.value


@dataclass(frozen=True)
class Task:
    """One thing to do or to see to."""

    name: str  # in questions, answers and records
    text: str
    origin: str  # who says so
    at_least: Quantity | None = None  # how long it must take
    at_least_origin: str = ""
    measured: Measured | None = None
    caution: str = ""

    def told(self) -> str:
        """All of it in sentences; who says so behind each part, or once where all is by one, and where it has a source.

        What has none is common practice: plan and record say so, a person at work need not read it each time.
        """
        parts = [(self.text, self.origin)]
        if self.at_least is not None:
            parts.append((f"At least {self.at_least.text}", self.at_least_origin))
        if self.measured is not None:
            parts.append((f"{self.measured.of.capitalize()}: {self.measured.range}", self.measured.origin))
        alike = len({origin for _, origin in parts}) == 1
        unsaid = ("", COMMON_PRACTICE)
        said = [
            text if (alike and text != parts[-1][0]) or origin in unsaid else f"{text} ({origin})"
            for text, origin in parts
        ]
        return " ".join([*(f"{text}." for text in said), *([f"CAUTION: {self.caution}"] if self.caution else [])])
