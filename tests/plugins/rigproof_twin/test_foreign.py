"""A program that knows nothing of this project talks to the served bench: lxi-tools from Debian's packages."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Iterator

import numpy as np
import pytest

from rigproof_twin.instruments import build
from rigproof_twin.interface import Appearance
from rigproof_twin.registry import Bench
from rigproof_twin.serve import HOST, Server
from rigproof_twin.still import StillWorld

pytestmark = [
    pytest.mark.foreign,
    pytest.mark.network,
    pytest.mark.skipif(shutil.which("lxi") is None, reason="lxi is not here: apt-get install lxi-tools"),
]
NAME = "TCPIP::192.0.2.12::5025::SOCKET"


@pytest.fixture
def port() -> Iterator[int]:
    world = StillWorld()
    look = Appearance("Test bay", "four-wire ohmmeter", "R-0042", "1.0", latency_s=0.02)
    server = Server(Bench(world.clock, {NAME: build("ohmmeter", world, look, np.random.default_rng(1))}))
    yield server.ports[NAME]
    server.close()


def lxi(port: int, message: str) -> subprocess.CompletedProcess[str]:
    command = ["lxi", "scpi", "-a", HOST, "-p", str(port), "-t", "2", "-r", message]
    return subprocess.run(command, capture_output=True, text=True, check=False, timeout=20.0)


def test_it_is_asked_who_it_is(port: int) -> None:
    answer = lxi(port, "*IDN?")
    assert answer.returncode == 0, answer.stderr
    assert answer.stdout == "Test bay,four-wire ohmmeter,R-0042,1.0\n"


def test_it_reads_measures_and_reports_errors(port: int) -> None:
    assert lxi(port, "MEAS:FRES? (@1)").stdout.strip() == "3.500000000E+02"
    assert lxi(port, "MEAS:FRES? (@9)").stdout.strip() == ""  # lxi gives up waiting
    assert lxi(port, "SYST:ERR?").stdout.strip() == '-222,"Data out of range;input 9 of 1..4"'
