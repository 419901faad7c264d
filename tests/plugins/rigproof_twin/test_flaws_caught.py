"""FLAWS.md is complete, and what it says finds each flaw at its default size finds it."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from rigproof.campaign.trial import Result, Trial, take
from rigproof_twin.flaws import FLAWS

from .flaw_table import Row, rows

RIGS = Path(__file__).parents[3]
SEED = 0  # its healthy rigs are accepted, see below
ROWS = {row.name: row for row in rows()}


def caught(result: Result) -> str:
    return f"{result.verdict}, {result.why}; {[(c.kind, c.name, c.subject, c.finding) for c in result.caught]}"


def test_the_page_has_every_flaw_in_its_order_with_its_size() -> None:
    said = [(row.name, row.size, row.quantity) for row in rows()]
    assert said == [(name, each.flaw.size or "-", each.flaw.quantity or "-") for name, each in FLAWS.items()]
    assert all(row.model not in {"", "-"} and row.source for row in ROWS.values())


def test_at_least_24_are_found() -> None:
    assert sum(row.finder != "nothing" for row in ROWS.values()) >= 24


@pytest.mark.parametrize("rig", ["rigs/spool", "rigs/beam", "rigs/forcecell"])
def test_the_healthy_rig_is_accepted(rig: str) -> None:
    result = take(RIGS / rig, Trial((), SEED))
    assert result.verdict == "accept", caught(result)


@pytest.mark.parametrize("row", [row for row in rows() if row.finder != "nothing"], ids=lambda row: row.name)
def test_it_is_found_as_the_page_says(row: Row) -> None:
    result = take(RIGS / row.rig, Trial((row.name,), SEED))
    assert result.verdict != "accept"
    assert row.finds(result), f"{row.written}, but {caught(result)}"


@pytest.mark.parametrize("flaw", ["trapped-gas", "thermal-mismatch"])
def test_what_no_step_looks_for_is_not_found(flaw: str) -> None:
    """The page says so: a procedure without `air content` and `thermal output`, in a bay that keeps its temperature."""
    assert take(RIGS / "tests/rigs/spool", Trial((flaw,), SEED)).verdict == "accept"


def test_thermal_mismatch_is_found_where_the_bay_drifts(tmp_path: Path) -> None:
    """By 2 K/h; the healthy rig is accepted there, its thermal output being taken out."""
    rig = shutil.copytree(RIGS / "tests/rigs/spool", tmp_path / "spool")
    twin = rig / "twin.yaml"
    text = twin.read_text("utf-8")
    assert "drift: 0.05 K/h" in text
    twin.write_text(text.replace("drift: 0.05 K/h", "drift: 2 K/h"), "utf-8")
    assert take(rig, Trial((), SEED)).verdict == "accept"
    result = take(rig, Trial(("thermal-mismatch",), SEED))
    found = {(c.kind, c.name) for c in result.caught if c.finding == "reject"}
    assert ("cycles", "zero return") in found, caught(result)


def test_several_at_once_are_each_found() -> None:
    """The three that no earlier step stops."""
    together = ("soft-bond", "loose-gauge", "transmitter-offset")
    result = take(RIGS / "rigs/spool", Trial(together, SEED))
    assert result.verdict == "reject"
    assert all(ROWS[name].finds(result) for name in together), caught(result)
