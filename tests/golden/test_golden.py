"""Journals kept from each released format give the verdicts that they gave: what differs is said in words."""

from __future__ import annotations

from pathlib import Path

import pytest

from rigproof.plugins import Registry
from rigproof.verdict.inputs import u
from rigproof.verdict.record import Verdict

from .remake import CASES, GOLDEN, PRESENT, changes, in_words, judged, kept

FOLDERS = sorted(path for path in GOLDEN.glob("journal-*/*") if path.is_dir())


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda folder: f"{folder.parent.name}-{folder.name}")
def test_the_verdict_is_as_ever(folder: Path, registry: Registry) -> None:
    found = in_words(changes(kept(folder), judged(folder, registry)))
    assert not found, "\n".join([*found, "where that is meant: python tests/golden/remake.py"])


def test_the_present_format_has_every_case_and_every_outcome() -> None:
    assert {folder.name for folder in FOLDERS if folder.parent == PRESENT} == set(CASES)
    assert {kept(folder).verdict for folder in FOLDERS} == {"accept", "reject", "undecided", "void"}
    assert kept(PRESENT / "beam-by-hand").people


def test_they_stay_small() -> None:
    assert sum(path.stat().st_size for path in GOLDEN.rglob("*.gz")) < 1_000_000


def altered(verdict: Verdict, name: str, **update: object) -> Verdict:
    """The verdict with its first check of that name altered."""
    number = next(n for n, each in enumerate(verdict.checks) if each.name == name)
    checks = list(verdict.checks)
    checks[number] = checks[number].model_copy(update=update)
    return verdict.model_copy(update={"checks": tuple(checks)})


def test_a_change_is_seen_and_said() -> None:
    old = kept(PRESENT / "spool-accept")
    check = next(each for each in old.checks if each.name == "sensitivity")
    where, line = f"{check.step} cycles: sensitivity of hoop (0 to 25 bar)", check.budget[0]

    def said(**update: object) -> list[str]:
        return in_words(changes(old, altered(old, "sensitivity", **update)))

    assert said(finding="reject") == [f"{where}: finding: accept -> reject"]
    assert check.measured is not None
    assert said(measured=check.measured * (1 + 5e-8)) == []
    (moved,) = said(measured=check.measured * (1 + 2e-7))
    assert moved.startswith(f"{where}: measured: ")
    (wider,) = said(budget=(line.model_copy(update={"u": line.u * 1.000001}), *check.budget[1:]))
    assert wider.startswith(f"{where}: u of {line.input}: ")
    assert said(budget=check.budget[1:]) == [f"{where}: u of {line.input}: {u(line, check, 9)} -> none"]


def test_a_number_that_is_nearly_nothing_is_held_against_its_uncertainty() -> None:
    """Another order of adding up changes by many times itself what ought to be zero, and no finding."""
    verdict = kept(PRESENT / "spool-accept")
    u = next(each.u for each in verdict.checks if each.name == "zero return")
    nothing = altered(verdict, "zero return", measured=0.0)
    assert changes(nothing, altered(verdict, "zero return", measured=u * 1e-8)) == []
    assert len(changes(nothing, altered(verdict, "zero return", measured=u * 1e-3))) == 1
