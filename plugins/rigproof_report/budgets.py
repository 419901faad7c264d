"""Uncertainty budgets as shares of the variance: which input a check rests on."""

from __future__ import annotations

from dataclasses import dataclass

from rigproof.verdict.record import BudgetLine, Check

WIDTH = 220.0
MOST_LINES = 8  # of a table; what is left out is the smallest
MOST_NAMED, LEAST_NAMED = 3, 0.01  # in a bar
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
    worth_it = [line for line in lines[:MOST_NAMED] if line.share >= LEAST_NAMED] or lines[:1]
    for line, look in zip(worth_it, LOOKS, strict=False):
        width = round(WIDTH * min(line.share, 1.0), 1)
        parts.append(Part(line.input, line.share, round(left, 1), width, look))
        left += width
    others = len(lines) - len(parts)
    named = [f"{part.input} {_percent(part.share)}" for part in parts]
    if others:
        named.append(f"{others} more {_percent(1 - sum(part.share for part in parts))}")
    rest = sum(line.share for line in lines[MOST_LINES:])
    return Budget(check, tuple(parts), tuple(lines[:MOST_LINES]), rest, "; ".join(named))


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %" if share >= 0.005 else "below 1 %"
