"""A program that knows nothing of this project reads and writes the same registers: mbpoll from Debian's packages."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from rigproof.documents import load_rig
from rigproof.instruments import Loads, Reads, able
from rigproof.plugins import Registry
from rigproof.run.opening import make_driver
from rigproof.run.simulated import reach_of
from rigproof.simulation import Simulation

from .modbus_rig import RIG

pytestmark = [
    pytest.mark.foreign,
    pytest.mark.network,
    pytest.mark.skipif(shutil.which("mbpoll") is None, reason="mbpoll is not here: apt-get install mbpoll"),
]
WHERE = "tcp://192.0.2.20"


class Bench:
    """A simulated rig, its drivers, and mbpoll beside them."""

    def __init__(self, simulated: Simulation, registry: Registry) -> None:
        reach = reach_of(simulated)
        rig = load_rig(text=RIG, registry=registry)
        self.port = reach.addresses[WHERE].rpartition(":")[2]
        self.drivers = {name: make_driver(rig, about, reach) for name, about in rig.instruments.items()}

    def mbpoll(self, unit: int, table: str, address: int, *options: str, written: tuple[str, ...] = ()) -> str:
        """What it says of one value; mbpoll counts references from 1 unless `-0` tells it otherwise."""
        which = ["-a", str(unit), "-t", table, "-0", "-r", str(address), "-p", self.port, "-1", "-o", "2", *options]
        done = subprocess.run(
            ["mbpoll", "-m", "tcp", *which, "127.0.0.1", *written],
            capture_output=True,
            text=True,
            timeout=20,
            check=False,
        )
        assert done.returncode == 0, done.stdout + done.stderr
        found = re.search(rf"^\[{address}\]:\s+(.*)$", done.stdout, re.MULTILINE)
        return found[1] if found else done.stdout


@pytest.fixture
def bench(registry: Registry, tmp_path: Path) -> Iterator[Bench]:
    (tmp_path / "twin.yaml").write_text("rigproof: twin/1\nsimulator: strain rig\n", "utf-8")
    rig = load_rig(text=RIG, registry=registry)
    simulated = registry.simulators["strain rig"].open(rig, tmp_path / "twin.yaml", 0, ())
    bench = Bench(simulated, registry)
    yield bench
    for driver in bench.drivers.values():
        driver.close()
    simulated.close()


def test_it_reads_what_the_driver_reads(bench: Bench) -> None:
    pump, meter = able(bench.drivers["pump"], Loads), able(bench.drivers["transmitter"], Reads)
    assert pump is not None
    assert meter is not None
    pump.rise_to(35.75e5, 0.5e5)
    clock = bench.drivers["pump"].connection.clock
    clock.wait(60.0)
    pressure, water = meter.read([1, 2], 1, 0.0)[0]
    assert pressure == pytest.approx(30e5, rel=1e-3)  # after 60 s at 0.5 bar/s
    assert float(bench.mbpoll(3, "3:float", 0, "-B")) == pytest.approx(pressure / 1e5, rel=1e-5)
    assert int(bench.mbpoll(3, "3", 2)) == round(water * 100)
    assert float(bench.mbpoll(4, "4:float", 0)) == 35.75  # low word first is mbpoll's own order
    assert int(bench.mbpoll(4, "4", 2)) == 300  # 30.0 bar/min
    assert [bench.mbpoll(4, "0", address) for address in (0, 1)] == ["1", "0"]
    assert bench.mbpoll(4, "1", 1) == "1"
    assert int(bench.mbpoll(4, "3:int", 6, "-B")) == pytest.approx(pressure / 1e5 * 1000, rel=1e-3)


def test_what_it_writes_the_driver_reads_back(bench: Bench) -> None:
    pump = able(bench.drivers["pump"], Loads)
    assert pump is not None
    assert pump.is_safe()
    bench.mbpoll(4, "0", 1, written=("0",))  # vent shut
    assert not pump.is_safe()
    pump.go_safe()
    assert bench.mbpoll(4, "0", 1) == "1"


def test_it_is_told_what_is_not_there(bench: Bench) -> None:
    with pytest.raises(AssertionError, match="Illegal data address"):
        bench.mbpoll(3, "3", 50)
    with pytest.raises(AssertionError, match="Target device failed to respond"):
        bench.mbpoll(9, "3", 0)
