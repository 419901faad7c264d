"""One row a check, in the unit of the row."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from rigproof.verdict.record import ToleranceRecord, Verdict
from rigproof_report.table import COLUMNS, Table

if TYPE_CHECKING:
    from .conftest import MakeCheck, MakeVerdict


def rows(verdict: Verdict, folder: Path) -> list[dict[str, str]]:
    Table().write(verdict, folder)
    with (folder / "checks.csv").open(encoding="utf-8-sig", newline="") as stream:
        return list(csv.DictReader(stream))


def test_one_row_a_check(verdict: MakeVerdict, tmp_path: Path) -> None:
    found = rows(verdict(), tmp_path)
    assert [(row["step"], row["check"], row["subject"], row["finding"]) for row in found] == [
        ("1", "zero return", "hoop", "accept"),
        ("1", "zero return", "axial", "reject"),
        ("2", "insulation", "hoop", "accept"),
        ("3", "hoop strain", "hoop", "undecided"),
    ]
    assert {row["simulated"] for row in found} == {"yes"}
    assert tuple(found[0]) == COLUMNS


def test_numbers_stand_in_the_unit_of_the_row(verdict: MakeVerdict, tmp_path: Path) -> None:
    row = rows(verdict(), tmp_path)[3]
    assert row["unit"] == "µε"
    for column, value in {
        "measured": 410.0,
        "u": 0.42,
        "expected": 400.0,
        "tolerance lower": 390.0,
        "tolerance upper": 410.0,
        "guard band": 0.69,
        "acceptance upper": 1.67,
        "dof": 12.5,
        "u expected": 3.8,
        "difference": 10.0,
        "u difference": 3.9,
        "U": 10.0,
        "k": 2.564,
        "coverage": 0.99,
    }.items():
        assert float(row[column]) == pytest.approx(value, rel=1e-12), column
    assert row["tolerance computed"] == "yes"
    assert row["conformance probability"] == ""  # of an agreement it says nothing
    assert (row["rule"], row["guard band for"]) == ("agreement within U, 99 %", "rejection")
    assert row["improve"] == "part wall"


def test_what_there_is_not(verdict: MakeVerdict, tmp_path: Path) -> None:
    row = rows(verdict(), tmp_path)[2]
    assert (row["unit"], row["measured"], row["expected"], row["tolerance upper"], row["dof"]) == (
        "MΩ",
        "",
        "",
        "",
        "inf",
    )
    assert row["note"] == "above the range of the tester"


def test_a_temperature(verdict: MakeVerdict, check: MakeCheck, tmp_path: Path) -> None:
    limits = ToleranceRecord(lower=15.0, upper=25.0, origin="procedure", computed=False)
    one = check(kind="temperature", measured=20.5, u=0.1, guard_band=0.2, tolerance=limits)
    row = rows(verdict(checks=(one,)), tmp_path)[0]
    assert (row["unit"], row["measured"], row["u"], row["guard band"]) == ("°C", "20.5", "0.1", "0.2")


def test_fifteen_digits_stand_and_no_binary_crumbs(verdict: MakeVerdict, check: MakeCheck, tmp_path: Path) -> None:
    value = 0.1 + 0.2
    row = rows(verdict(checks=(check(kind="number", measured=value),)), tmp_path)[0]
    assert row["measured"] == "0.3"
    row = rows(verdict(checks=(check(kind="strain", measured=5e-6),)), tmp_path)[0]
    assert row["measured"] == "5"  # 5e-6 · 1e6 is 5.000000000000001 in binary
    row = rows(verdict(checks=(check(kind="number", measured=0.123456789012345),)), tmp_path)[0]
    assert row["measured"] == "0.123456789012345"


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_no_text_is_a_formula(verdict: MakeVerdict, check: MakeCheck, tmp_path: Path, start: str) -> None:
    evil = f'{start}cmd("x"),\n2'
    row = rows(verdict(checks=(check(subject=evil, at=evil, note=evil),)), tmp_path)[0]
    assert row["subject"] == row["at"] == row["note"] == f"'{evil}"


def test_no_checks(verdict: MakeVerdict, tmp_path: Path) -> None:
    assert rows(verdict(checks=()), tmp_path) == []
    assert (tmp_path / "checks.csv").read_bytes().startswith(b"\xef\xbb\xbfstep,step kind,check,")  # RFC 3629, 6
