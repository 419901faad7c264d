"""`checks.csv`: one row a check, for a spreadsheet or a program (RFC 4180, UTF-8).

Numbers stand in the unit of their row, with all digits: empty where there is none, `inf` for infinite degrees of
freedom.
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
    "of",
    "at",
    "finding",
    "unit",
    "measured",
    "u",
    "dof",
    "method",
    "expected",
    "tolerance lower",
    "tolerance upper",
    "tolerance origin",
    "tolerance computed",
    "guard band",
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
        with (folder / self.filename).open("w", encoding="utf-8", errors="backslashreplace", newline="") as stream:
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
        "inf" if check.dof is None else repr(check.dof),
        check.method,
        _value(check.expected, kind),
        _value(limits.lower, kind),
        _value(limits.upper, kind),
        _text(limits.origin),
        _yes(limits.computed),
        _width(check.guard_band, kind),
        _value(check.acceptance_lower, kind),
        _value(check.acceptance_upper, kind),
        repr(check.conformance_probability),
        _text(check.improve),
        "" if check.improve_to is None else repr(check.improve_to),
        check.would_be or "",
        _text(check.note),
        _yes(verdict.simulated),
        _yes(verdict.replayed),
    )


def _value(value: float | None, kind: str) -> str:
    return "" if value is None else repr(float(shown(value, kind)))


def _width(value: float, kind: str) -> str:
    """A difference in the unit of the row, whose zero may lie elsewhere."""
    return repr(float(shown(value, kind) - shown(0.0, kind)))


def _text(text: str) -> str:
    """A spreadsheet runs a cell that starts like a formula; the apostrophe makes it a text."""
    return f"'{text}" if text.startswith(("=", "+", "-", "@", "\t", "\r")) else text


def _yes(is_so: bool) -> str:
    return "yes" if is_so else "no"
