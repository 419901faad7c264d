"""How far what a run showed reaches: an error smaller than the U of an agreement may pass."""

from __future__ import annotations

from rigproof.quantities import show
from rigproof.steps.base import GAIN, RESPONSE_TO_LOAD

from .record import Check, Verdict

BY_AGREEMENT = (GAIN, RESPONSE_TO_LOAD)  # shown by readings that agree with what is computed for them


def shown(verdict: Verdict) -> list[str]:
    """What the run showed, and of an agreement how close."""
    return [f"{aspect}{_to(verdict, aspect)}" for aspect in verdict.shown]


def by_agreement(verdict: Verdict) -> list[str]:
    """What agreement alone showed, and how close."""
    return [f"{aspect}{_to(verdict, aspect)}" for aspect in verdict.shown if aspect in BY_AGREEMENT]


def _to(verdict: Verdict, aspect: str) -> str:
    """The share of the expected value to which each subject agreed: the least one of its checks; else ""."""
    if aspect not in BY_AGREEMENT:
        return ""
    steps = {step.step for step in verdict.steps if aspect in step.shows and step.finding == "accept"}
    least: dict[str, float] = {}
    for check in verdict.checks:
        if check.step in steps and (share := _share(check)) is not None:
            least[check.subject] = min(share, least.get(check.subject, share))
    alike: dict[str, list[str]] = {}
    for subject, share in least.items():
        alike.setdefault(show(share, "ratio", 2, "%"), []).append(subject)
    said = "; ".join(f"{', '.join(subjects)} to {share}" for share, subjects in alike.items())
    return f" ({said})" if said else ""


def _share(check: Check) -> float | None:
    """U as a share of the expected value; None where nothing was computed."""
    if not check.tolerance.computed or not check.expected or check.U is None:
        return None
    return check.U / abs(check.expected)
