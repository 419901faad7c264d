"""A bounded sample of `python tests/soak.py`: what is read for long is written, and not held."""

from __future__ import annotations

import importlib.util
import sys
import tracemalloc
from pathlib import Path
from types import ModuleType

import pytest

from rigproof.journal import read_journal

SCRIPT = Path(__file__).parents[2] / "soak.py"


@pytest.fixture(scope="module")
def script() -> ModuleType:
    spec = importlib.util.spec_from_file_location("soak", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["soak"] = module  # dataclasses look their module up
    spec.loader.exec_module(module)
    return module


def test_memory_stays_flat_while_readings_are_taken(script: ModuleType, tmp_path: Path) -> None:
    """Three minutes: 180 blocks of 80 readings. One block kept as floats would hold 80 x 24 bytes and its lists."""
    tracemalloc.start()
    try:
        held = script.soak(0.05, tmp_path, lambda: tracemalloc.get_traced_memory()[0])
    finally:
        tracemalloc.stop()
    assert held.blocks == 180
    taken = [entry for entry in read_journal(tmp_path / "journal.jsonl").entries if entry.data.get("label") == "soak"]
    assert [len(entry.data["values"]) for entry in taken] == [8] * 180
    assert held.late_bytes - held.early_bytes < 160 * 80 * 24 / 4
