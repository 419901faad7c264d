"""What interlocks cost at each look, and how soon the safe command is out after a reading that trips.

Both against one query of an instrument, through its driver and PyVISA down to the simulated transmitter: the least
that a look must wait for. Real time of this machine; what an instrument and its wire need comes on top.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np

from rigproof.instruments import Connection
from rigproof.plugins import load_registry
from rigproof.run.accepting import run_and_judge
from rigproof.run.interlocks import Interlocks
from rigproof.run.live import LiveRig
from rigproof.run.plan import Plan, make_plan
from rigproof.run.progress import Silent
from rigproof.run.simulated import reach_of, simulation
from rigproof_scpi.pressure_source import PressureSource
from rigproof_scpi.pressure_transmitter import PressureTransmitter

SPOOL = Path(__file__).parents[2] / "rigs" / "spool"
TURNS, CALLS = 30, 50


def seconds(call: Callable[[], object]) -> float:
    """Of one call, in the mean of many."""
    start = time.perf_counter()
    for _ in range(CALLS):
        call()
    return (time.perf_counter() - start) / CALLS


def look_and_query(plan: Plan) -> tuple[float, float]:
    """Medians of a check of the channels that a look reads, and of a query of the transmitter, in turns."""
    rig = simulation(plan.rig, SPOOL, plan.registry, 0, ())
    about = plan.rig.instruments["transmitter"]
    driver = PressureTransmitter(
        Connection("transmitter", about.resource, rig.visa_library, 5.0, rig.clock), about.settings
    )
    locks = Interlocks(plan.rig)
    locks.zero("hoop", 0.0)
    readings = {"pressure": np.array([20e5]), "hoop": np.array([1e-4])}
    now_s = 0.0

    def check() -> None:
        nonlocal now_s
        now_s += 1.0
        locks.check(readings, True, now_s, {"pressure": now_s, "hoop": now_s})

    try:
        driver.open()
        pairs = [(seconds(check), seconds(lambda: driver.read([1], 1, 0.0))) for _ in range(TURNS)]
    finally:
        driver.close()
        rig.close()
    return median(a for a, _ in pairs), median(b for _, b in pairs)


def reaction(plan: Plan) -> float:
    """Median time from a reading that trips to its safe command, over the trips of the arming step."""
    came_s, took_s = 0.0, list[float]()
    keep, go_safe = LiveRig._keep, PressureSource.go_safe

    def noted_keep(self: LiveRig, *args: Any) -> None:
        nonlocal came_s
        came_s = time.perf_counter()
        keep(self, *args)

    def noted_go_safe(self: PressureSource) -> None:
        go_safe(self)
        took_s.append(time.perf_counter() - came_s)

    LiveRig._keep, PressureSource.go_safe = noted_keep, noted_go_safe  # type: ignore[method-assign,assignment]
    rig = simulation(plan.rig, SPOOL, plan.registry, 0, ())
    try:
        with TemporaryDirectory() as folder:
            run_and_judge(plan, reach_of(rig), Path(folder), Silent())
    finally:
        LiveRig._keep, PressureSource.go_safe = keep, go_safe  # type: ignore[method-assign]
        rig.close()
    trips = took_s[1:-1]  # the first and the last are the start and the end of the run
    if len(trips) != len(Interlocks(plan.rig).locks):
        raise AssertionError(f"every interlock of the spool must trip to be timed, and {len(trips)} did")
    return median(trips)


def rows() -> list[tuple[str, float, str]]:
    """(name, ratio, goal)."""
    plan = make_plan(SPOOL, load_registry())
    arming = tuple(step for step in plan.procedure.steps if step.kind == "arming")
    look, query = look_and_query(plan)
    trip = reaction(replace(plan, procedure=replace(plan.procedure, steps=arming)))
    return [
        (f"interlocks at a look ({len(Interlocks(plan.rig).locks)} of them) / one query", look / query, "≤ 0.2"),
        ("reading that trips to safe command / one query", trip / query, "≤ 3"),
    ]
