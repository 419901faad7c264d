"""A run in which failed readings were taken again, replayed: what was broken off is no reading."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import cast

import pytest

from rigproof.documents import load_procedure, load_rig
from rigproof.journal import BROKEN_OFF, read_journal
from rigproof.plugins import Registry
from rigproof.run.accepting import run_and_judge
from rigproof.run.plan import Plan, make_plan
from rigproof.run.progress import Silent
from rigproof.run.records import replay_reach
from rigproof.run.simulated import reach_of, simulation
from rigproof_twin import faults
from rigproof_twin.faults import Fault, FaultyWire
from rigproof_twin.simulator import SimulatedRig

STEPS = """\
  - balance: {settle: 2 s}
  - cycles: {source: pump, to: 20 bar, times: 2, levels: 2, exercise: 0, dwell: 2 s, rest: 5 s, readings: 5}
"""
RETRIES = "  transmitter:\n    retries: {times: 2, wait: 0.5 s}\n"


@pytest.mark.parametrize("after", [82, 144, 206])  # replies of the transmitter: in levels of the first cycle
def test_a_reading_that_was_broken_off_is_not_replayed(
    registry: Registry,
    spool: Plan,
    spool_folder: Path,
    replayed_rig: Callable[..., Path],
    page: Callable[[str], str],
    tmp_path: Path,
    after: int,
) -> None:
    rig = load_rig(text=spool.rig.text.replace("  transmitter:\n", RETRIES), registry=registry)
    procedure = load_procedure(text=f"rigproof: procedure/1\nname: x\nsteps:\n{STEPS}", registry=registry)
    simulated = cast("SimulatedRig", simulation(rig, spool_folder, registry, 0, ()))
    wire = FaultyWire(Fault(faults.NO_REPLY, after))
    simulated.bench.instruments[rig.instruments["transmitter"].resource].wire = wire
    (tmp_path / "live").mkdir()
    try:
        live = run_and_judge(Plan(rig, procedure, registry), reach_of(simulated), tmp_path / "live", Silent())
    finally:
        simulated.close()
    entries = read_journal(tmp_path / "live" / "journal.jsonl").entries
    assert [each.count for each in live.retries] == [1]
    assert [e for e in entries if e.data.get("label") == BROKEN_OFF]
    folder = replayed_rig(page("journal"), steps=STEPS)
    (folder / "journal.jsonl").write_bytes((tmp_path / "live" / "journal.jsonl").read_bytes())
    (tmp_path / "again").mkdir()
    plan = make_plan(folder, registry)
    again = run_and_judge(plan, replay_reach(plan.rig), tmp_path / "again", Silent())
    assert again.checks == live.checks
