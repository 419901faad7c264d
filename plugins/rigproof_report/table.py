"""`checks.csv`: one row a check, for a spreadsheet or a program (RFC 4180, UTF-8 with a byte order mark).

Without that mark a spreadsheet takes µ, Ω and ± for letters of an old code page, and nobody is asked; a program reads
the file as `utf-8-sig`, or takes verdict.json, which holds the same and more. Separator and decimal point are those of
the RFC whatever the country: a spreadsheet set to a decimal comma must be told on opening. Text that begins as a
formula does (=, +, -, @, tab, carriage return) gets an apostrophe in front, so that no name in a rig is ever run.

Numbers stand in the unit of their row, always the same for a kind of quantity, with fifteen digits: empty where there
is none, `inf` for infinite degrees of freedom.
"""

from __future__ import annotations

import csv
from pathlib import Path
from typing import ClassVar

from rigproof.quantities import shown, unit
from rigproof.reports import ReportWriter
from rigproof.verdict.record import Check, Verdict

COLUMNS = (
    "step",
    "step kind",
    "check",
    "subject",
    "at",
    "finding",
    "unit",
    "measured",
    "u",
    "expected",
    "u expected",
    "difference",
    "u difference",
    "u at limit",
    "U",
    "k",
    "coverage",
    "dof",
    "method",
    "equivalent strain in µε",
    "rule",
    "tolerance lower",
    "tolerance upper",
    "tolerance origin",
    "tolerance computed",
    "guard band",
    "guard band for",
    "acceptance lower",
    "acceptance upper",
    "conformance probability",
    "improve",
    "improve to",
    "would be",
    "note",
    "simulated",
    "replayed",
)


class Table(ReportWriter):
    """Writes `checks.csv`."""

    kind: ClassVar[str] = "table"
    filename: ClassVar[str] = "checks.csv"

    def write(self, verdict: Verdict, folder: Path) -> None:
        """Write the checks as a table; raises `OSError`."""
        with (folder / self.filename).open("w", encoding="utf-8-sig", errors="backslashreplace", newline="") as stream:
            writer = csv.writer(stream)
            writer.writerow(COLUMNS)
            writer.writerows(_row(check, verdict) for check in verdict.checks)


def _row(check: Check, verdict: Verdict) -> tuple[str | int, ...]:
    kind, limits = check.kind, check.tolerance
    return (
        check.step,
        _text(check.step_kind),
        _text(check.name),
        _text(check.subject),
        _text(check.at),
        check.finding,
        unit(kind),
        _value(check.measured, kind),
        _width(check.u, kind),
        _value(check.expected, kind),
        _width(check.u_expected, kind),
        _width(check.difference, kind),
        _width(check.u_difference, kind),
        _width(check.u_limit, kind),
        _width(check.U, kind),
        _number(check.k),
        _number(check.coverage),
        "inf" if check.dof is None else _number(check.dof),
        check.method,
        _value(check.equivalent_strain, "strain"),
        _text(check.rule),
        _value(limits.lower, kind),
        _value(limits.upper, kind),
        _text(limits.origin),
        _yes(limits.computed),
        _width(check.guard_band, kind),
        check.guards,
        _value(check.acceptance_lower, kind),
        _value(check.acceptance_upper, kind),
        _number(check.conformance_probability),
        _text(check.improve),
        _number(check.improve_to),
        check.would_be or "",
        _text(check.note),
        _yes(verdict.simulated),
        _yes(verdict.replayed),
    )


def _value(value: float | None, kind: str) -> str:
    return "" if value is None else _number(float(shown(value, kind)))


def _width(value: float | None, kind: str) -> str:
    """A difference in the unit of the row, whose zero may lie elsewhere."""
    return "" if value is None else _number(float(shown(value, kind) - shown(0.0, kind)))


def _number(value: float | None) -> str:
    """To fifteen digits, all that a decimal keeps in a float and comes back with: 5 and not 5.000000000000001."""
    return "" if value is None else f"{value:.15g}"


def _text(text: str) -> str:
    """A spreadsheet runs a cell that starts like a formula; the apostrophe makes it a text."""
    return f"'{text}" if text.startswith(("=", "+", "-", "@", "\t", "\r")) else text


def _yes(is_so: bool) -> str:
    return "yes" if is_so else "no"
