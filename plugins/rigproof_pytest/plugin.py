"""What pytest loads at its start: the marker of tests that touch an instrument. Imports nothing slow."""

from __future__ import annotations

import pytest

MARKER = "hardware: talks to the instrument that the environment variable RIGPROOF_HARDWARE names; skipped without it"


def pytest_configure(config: pytest.Config) -> None:
    """Make the marker known."""
    config.addinivalue_line("markers", MARKER)
