"""Jobs that other processes can import, a rig of three files, and a listener."""

from __future__ import annotations

import importlib
from pathlib import Path
from typing import Any

import pytest

from rigproof.campaign.results import digests

HERE = str(Path(__file__).parent)


class Listener:
    """A `Progress` that remembers."""

    def __init__(self) -> None:
        self.counts: list[tuple[int, int]] = []
        self.left_s: list[float] = []
        self.said: list[str] = []

    def taken(self, done: int, of: int, left_s: float) -> None:
        self.counts.append((done, of))
        self.left_s.append(left_s)

    def say(self, text: str) -> None:
        self.said.append(text)


@pytest.fixture
def listener() -> Listener:
    return Listener()


@pytest.fixture
def hands(monkeypatch: pytest.MonkeyPatch) -> Any:
    """The module `hands`, under a name that other processes can import."""
    monkeypatch.syspath_prepend(HERE)
    monkeypatch.setenv("PYTHONPATH", HERE)
    return importlib.import_module("hands")


@pytest.fixture
def documents(tmp_path: Path) -> dict[str, str]:
    for name in ("rig.yaml", "acceptance.yaml", "twin.yaml"):
        (tmp_path / name).write_text(f"{name}\n", "utf-8")
    return digests(tmp_path)
