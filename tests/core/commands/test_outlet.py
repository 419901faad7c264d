"""What is written never waits for its reader, and is never lost while there is one."""

from __future__ import annotations

import os
import time

import pytest

from rigproof.commands.cadence import Cadence
from rigproof.commands.outlet import Outlet


def test_a_full_pipe_keeps_nobody_waiting() -> None:
    reading, writing = os.pipe()
    with os.fdopen(writing, "w") as stream:
        outlet = Outlet(stream)
        lines = [f"{number:09}\n" for number in range(20_000)]
        began = time.monotonic()
        for line in lines:
            outlet.write(line)
        assert time.monotonic() - began < 10
        full = not outlet.clear
        assert full
        outlet.finish(0.01)  # whoever has patience for so long gets no further either
        got = b""
        while not outlet.clear:
            got += os.read(reading, 65536)
        outlet.close()
    while data := os.read(reading, 65536):
        got += data
    os.close(reading)
    assert got.decode() == "".join(lines)


def test_a_reader_that_has_gone_is_an_error() -> None:
    reading, writing = os.pipe()
    os.close(reading)
    with os.fdopen(writing, "w") as stream:
        outlet = Outlet(stream)
        with pytest.raises(BrokenPipeError):
            outlet.write("a line\n")


def test_letters_that_the_stream_cannot_have_end_no_run() -> None:
    reading, writing = os.pipe()
    with os.fdopen(writing, "w", encoding="ascii") as stream:
        outlet = Outlet(stream)
        outlet.write("350 Ω\n")
        outlet.close()
    assert os.read(reading, 100) == b"350 ?\n"
    os.close(reading)


def test_never_more_than_four_in_any_second() -> None:
    now = 0.0
    cadence = Cadence(2.0, 2, lambda: now)
    shown = []
    for tick in range(1000):
        now = tick * 0.01
        if cadence.ready:
            cadence.take()
            shown.append(now)
    assert shown[:2] == [0.0, 0.01]
    assert len(shown) == pytest.approx(20, abs=2)
    assert max(sum(t <= other < t + 1 for other in shown) for t in shown) <= 4
