"""A day of readings: `python tests/soak.py --hours 24` reads eight bridges ten times a second on the twin's clock.

The readings go the whole way: twin, wire, driver, journal, interlocks. The resident set is read after the first tenth
of the time and at the end; what grew between is what a day would cost. The step's record is read back only when it is
judged: the peak then stands for itself.
"""

from __future__ import annotations

import argparse
import gc
import resource
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from rigproof.documents import fit, load_procedure, load_rig
from rigproof.journal import read_journal
from rigproof.plugins import load_registry
from rigproof.run.live import LiveRig
from rigproof.run.plan import Plan
from rigproof.run.progress import Silent
from rigproof.run.runner import run
from rigproof.run.simulated import on_twin
from rigproof.steps.balance import Balance

SPOOL = Path(__file__).parent / "rigs" / "spool"
CHANNELS, PER_SECOND = 8, 10
GAUGE = """\
  gauge {n}:
    at: hoop
    resistance: 350 Ω ± 0.3 %
    gauge factor: 2.08 ± 0.5 %
    transverse sensitivity: 0.4 % ± 0.2 %
"""
CHANNEL = """\
  strain {n}:
    measures: strain
    gauge: gauge {n}
    reduction: {{model: quarter bridge, wires: 3, lead: 0.8 Ω ± 10 %}}
    instrument: bridge
    input: {n}
    accuracy: {{of reading: 0.05 %, zero drift: 0.05 µV/V, resolution: 0.005 µV/V}}
"""


@dataclass
class Held:
    """What was found."""

    early_bytes: int = 0  # of memory, after a tenth of the time
    late_bytes: int = 0  # and at the end
    blocks: int = 0


def resident() -> int:
    """Bytes of this process in memory (proc(5), statm)."""
    return int(Path("/proc/self/statm").read_text("ascii").split()[1]) * resource.getpagesize()


def soak(hours: float, folder: Path, memory: Callable[[], int]) -> Held:
    """Read for so many hours of the twin; gives what was held then."""
    held = Held()
    wanted = round(hours * 3600)

    def acquire(self: Balance, live: LiveRig) -> None:
        names = [f"strain {n}" for n in range(1, CHANNELS + 1)]
        for second in range(wanted):
            live.read("soak", names, count=PER_SECOND, interval_s=1 / PER_SECOND)
            if second in (wanted // 10, wanted - 1):
                gc.collect()
                held.early_bytes, held.late_bytes = held.late_bytes, memory()
        held.blocks = wanted

    plan = _plan()
    kept, Balance.acquire = Balance.acquire, acquire  # type: ignore[method-assign]
    try:
        with on_twin(plan, SPOOL, 0, ()) as (reach, twin):
            run(plan, reach, folder, Silent(), twin)
    finally:
        Balance.acquire = kept  # type: ignore[method-assign]
    return held


def _plan() -> Plan:
    """The spool with eight gauges on one amplifier."""
    registry = load_registry()
    text = (SPOOL / "rig.yaml").read_text("utf-8")
    for old, new in (("\ngauges:\n", GAUGE), ("\nchannels:\n", CHANNEL)):
        added = "".join(new.format(n=n) for n in range(1, CHANNELS + 1))
        text = text.replace(old, old + added, 1)
    for name, number in (("hoop", 9), ("axial", 10)):  # the spool's own make room
        text = text.replace(
            f"gauge: {name}\n    reduction: {{model: quarter bridge, wires: 3, lead: 0.8 Ω ± 10 %}}\n"
            f"    instrument: bridge\n    input: {number - 8}\n",
            f"gauge: {name}\n    reduction: {{model: quarter bridge, wires: 3, lead: 0.8 Ω ± 10 %}}\n"
            f"    instrument: bridge\n    input: {number}\n",
        )
    rig = load_rig(text=text, registry=registry)
    steps = "  - balance: {channels: [strain 1], noise: left out}\n"
    procedure = load_procedure(text=f"rigproof: procedure/1\nname: soak\nsteps:\n{steps}", registry=registry)
    fit(rig, procedure)
    return Plan(rig, procedure, registry)


def main() -> int:
    """Soak, and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--hours", type=float, default=24.0)
    hours = parser.parse_args().hours
    with tempfile.TemporaryDirectory(prefix="rigproof-soak-") as scratch:
        began = time.monotonic()
        held = soak(hours, Path(scratch), resident)
        size = (Path(scratch) / "journal.jsonl").stat().st_size
        whole = read_journal(Path(scratch) / "journal.jsonl")
    count = sum(len(e.data["values"]) for e in whole.entries if e.data.get("label") == "soak") * PER_SECOND
    print(
        f"{hours:g} h, {held.blocks} blocks, {count} readings, journal {size / 1e6:.1f} MB, "
        f"{time.monotonic() - began:.0f} s of wall time"
    )
    print(f"resident: {held.early_bytes / 1e6:.2f} MB after a tenth, {held.late_bytes / 1e6:.2f} MB at the end")
    peak_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(f"largest resident set, with the judging and one reading back of it all: {peak_kb / 1e3:.0f} MB")
    return 0


if __name__ == "__main__":
    sys.exit(main())
