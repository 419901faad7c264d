"""Uncertainty budgets as shares of the variance: which input a check rests on."""

from __future__ import annotations

from dataclasses import dataclass

from rigproof.verdict.record import BudgetLine, Check

WIDTH = 220.0
MOST_LINES = 8  # of a table; what is left out is the smallest
MOST_NAMED = 3  # in a bar
LOOKS = ("dark", "hatched", "grey")  # of its parts, told apart without colour


@dataclass(frozen=True)
class Part:
    """One input in the bar of a budget."""

    input: str
    share: float
    left: float
    width: float
    look: str


@dataclass(frozen=True)
class Budget:
    """The inputs of one check, the largest first."""

    check: Check
    parts: tuple[Part, ...]
    lines: tuple[BudgetLine, ...]
    rest: float  # share of the inputs that `lines` leaves out
    text: str


def budget(check: Check) -> Budget | None:
    """The budget of a check; None where nothing is uncertain."""
    lines = sorted((line for line in check.budget if line.share > 0), key=lambda line: -line.share)
    if not lines:
        return None
    parts, left = [], 0.0
    for line, look in zip(lines[:MOST_NAMED], LOOKS, strict=False):
        width = round(WIDTH * min(line.share, 1.0), 1)
        parts.append(Part(line.input, line.share, round(left, 1), width, look))
        left += width
    others = len(lines) - len(parts)
    named = [f"{part.input} {100 * part.share:.0f} %" for part in parts]
    if others:
        named.append(f"{others} more {100 * max(0.0, 1 - sum(p.share for p in parts)):.0f} %")
    rest = sum(line.share for line in lines[MOST_LINES:])
    return Budget(check, tuple(parts), tuple(lines[:MOST_LINES]), rest, "; ".join(named))
