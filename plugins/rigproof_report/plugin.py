"""The door: what this plugin supplies."""

from __future__ import annotations

from rigproof.hookspecs import hookimpl
from rigproof.reports import ReportWriter

from .junit import JUnit
from .table import Table

RIGPROOF_DOOR = 1


@hookimpl
def rigproof_report_writers() -> list[ReportWriter]:
    """For a CI server and for a spreadsheet."""
    return [JUnit(), Table()]
