"""What pytest loads at its start: its markers, and what a nightly.yaml is. Imports nothing slow."""

from __future__ import annotations

from pathlib import Path

import pytest

MARKERS = (
    "hardware: talks to the instrument that the environment variable RIGPROOF_HARDWARE names; skipped without it",
    "nightly: a simulated acceptance that a rig's nightly.yaml names",
)


def pytest_configure(config: pytest.Config) -> None:
    """Make the markers known."""
    for marker in MARKERS:
        config.addinivalue_line("markers", marker)


def pytest_collect_file(file_path: Path, parent: pytest.Collector) -> pytest.Collector | None:
    """A nightly.yaml beside a rig.yaml; one that stands elsewhere is somebody else's."""
    if file_path.name != "nightly.yaml" or not (file_path.parent / "rig.yaml").exists():
        return None
    from .nightly import NightlyFile

    found: pytest.Collector = NightlyFile.from_parent(parent, path=file_path)
    return found
