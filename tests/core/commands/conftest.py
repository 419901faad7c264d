"""A pseudo-terminal with somebody who types, and the beam's procedure without its waits."""

from __future__ import annotations

import io
import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from rigproof.commands.terminal import Terminal

BEAM = Path(__file__).parents[3] / "rigs" / "beam"


class Typed(io.StringIO):
    """A screen whose reader types the next line at every prompt, on the other end of the terminal."""

    def __init__(self, keyboard: int, *lines: str) -> None:
        super().__init__()
        self._keyboard, self._lines = keyboard, list(lines)

    def write(self, text: str) -> int:
        if text.endswith("> ") and self._lines:
            os.write(self._keyboard, self._lines.pop(0).encode())
        return super().write(text)


@pytest.fixture
def terminal() -> Iterator[Callable[..., tuple[Terminal, Typed]]]:
    """A function: what is typed at each prompt (with its Enter, or a control character) -> terminal and screen."""
    opened: list[int] = []

    def make(*typed: str, name: str = "A. Tester", beforehand: str = "") -> tuple[Terminal, Typed]:
        master, slave = os.openpty()
        opened.extend((master, slave))
        os.write(master, beforehand.encode())
        screen = Typed(master, *typed)
        return Terminal(slave, screen, name), screen

    yield make
    for end in opened:
        os.close(end)


@pytest.fixture
def beam_folder(tmp_path: Path) -> Path:
    """The beam with a procedure that waits for nothing, so that a run on the wall clock is short."""
    folder = tmp_path / "beam"
    folder.mkdir()
    for name in ("rig.yaml", "twin.yaml"):
        (folder / name).write_text((BEAM / name).read_text("utf-8"), "utf-8")
    written = (BEAM / "acceptance.yaml").read_text("utf-8")
    for old, new in (("settle: 60 s", "settle: 0 s"), ("dwell: 30 s, rest: 10 s", "dwell: 0 s, rest: 0 s")):
        assert old in written
        written = written.replace(old, new)
    (folder / "acceptance.yaml").write_text(written, "utf-8")
    return folder
