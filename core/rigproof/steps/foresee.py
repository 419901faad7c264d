"""What can be said before any hardware: expected values with their computed tolerances."""

from __future__ import annotations

from dataclasses import dataclass

from rigproof.uncertainty import Rule

from .checks import value_of
from .terms import Term, combine


@dataclass(frozen=True)
class Foreseen:
    """An expected value; `expanded` is U of measured minus expected, so far as it is known before measuring."""

    name: str
    subject: str
    kind: str
    expected: float
    u: float
    expanded: float


def foreseen(name: str, subject: str, kind: str, measured: Term, expected: Term, rule: Rule) -> Foreseen:
    """Foresee an agreement check from a measured term at its expected reading."""
    difference = combine(lambda a, b: a - b, measured, expected).estimate()
    _, expanded = difference.expanded(rule.coverage)
    return Foreseen(name, subject, kind, value_of(expected), difference.u, expanded)
