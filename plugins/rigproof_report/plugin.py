"""The door: what this plugin supplies."""

from __future__ import annotations

from rigproof.hookspecs import hookimpl
from rigproof.reports import ReportWriter

from .junit import JUnit
from .page import Page
from .table import Table

RIGPROOF_DOOR = 1


@hookimpl
def rigproof_report_writers() -> list[ReportWriter]:
    """For people, for a CI server and for a spreadsheet."""
    return [Page(), JUnit(), Table()]
