"""What the plugin supplies."""

from __future__ import annotations

from rigproof.reports import ReportWriter
from rigproof_report import plugin


def test_writers() -> None:
    writers = plugin.rigproof_report_writers()
    assert plugin.RIGPROOF_DOOR == 1
    assert [(writer.kind, writer.filename) for writer in writers] == [
        ("page", "report.html"),
        ("junit", "junit.xml"),
        ("table", "checks.csv"),
    ]
    assert all(isinstance(writer, ReportWriter) for writer in writers)
