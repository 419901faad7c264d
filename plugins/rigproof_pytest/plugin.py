"""What pytest loads at its start: its markers, and what a nightly.yaml is. Imports nothing slow."""

from __future__ import annotations

from pathlib import Path

import pytest

MARKERS = (
    "hardware: talks to the instrument that the environment variable RIGPROOF_HARDWARE names; skipped without it",
    "nightly: a simulated acceptance that a rig's nightly.yaml names",
)
NAMES = ("nightly.yaml", "nightly.yml")
_HEAD_BYTES = 2048


def pytest_configure(config: pytest.Config) -> None:
    """Make the markers known."""
    for marker in MARKERS:
        config.addinivalue_line("markers", marker)


def pytest_collect_file(file_path: Path, parent: pytest.Collector) -> pytest.Collector | None:
    """A nightly.yaml beside a rig.yaml, or one of ours by its first lines; any other is somebody else's.

    One of ours without its rig, or under a name that nobody looks for, is an error: a rig must not fall out of the
    night in silence.
    """
    if file_path.name.lower() not in NAMES:
        return None
    named = file_path.name == NAMES[0]
    if not (named and (file_path.parent / "rig.yaml").exists()) and not _is_ours(file_path):
        return None
    from .nightly import Misnamed, NightlyFile

    found: pytest.Collector = (NightlyFile if named else Misnamed).from_parent(parent, path=file_path)
    return found


def _is_ours(path: Path) -> bool:
    try:
        head = path.read_bytes()[:_HEAD_BYTES]
    except OSError:
        return False
    return b"rigproof: nightly/" in head
