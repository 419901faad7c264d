"""A whole simulated acceptance against a bare loop of the same PyVISA messages, waits and numpy reductions.

The messages are taken down once while an acceptance runs; the bare loop then sends them again to a fresh twin of the
same seed, lets the same times pass, turns each number among the replies into a float and reduces each block of readings
with numpy alone: the least that a script without checks would do. What is left is what documents, drivers, journal,
interlocks, budgets and judging cost.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pyvisa
from pyvisa.resources import MessageBasedResource

from rigproof.plugins import load_registry
from rigproof.run.accepting import run_and_judge
from rigproof.run.plan import Plan, make_plan
from rigproof.run.progress import Silent
from rigproof.run.simulated import reach_of, simulation
from rigproof.simulation import Simulation
from rigproof.verdict.record import TwinRecord

SPOOL = Path(__file__).parents[2] / "rigs" / "spool"
REPEATS = 5
Action = tuple[str, str, Any, str]  # what is done, resource, its argument, what the reply holds


def whole(plan: Plan, rig: Simulation) -> None:
    """The acceptance as `rigproof run` does it, without a screen."""
    with TemporaryDirectory() as folder:
        verdict = run_and_judge(plan, reach_of(rig), Path(folder), Silent(), TwinRecord(seed=0, flaws=()))
    if verdict.verdict != "accept":
        raise AssertionError(f"the spool must be accepted to be timed: {verdict.why}")


def transcript(plan: Plan) -> list[Action]:
    """Every message, reply and wait of one acceptance."""
    actions: list[Action] = []
    reply = b""
    write, read = MessageBasedResource.write, MessageBasedResource.read_bytes
    rig = simulation(plan.rig, SPOOL, plan.registry, 0, ())
    wait = rig.clock.wait

    def noted_write(self: MessageBasedResource, message: str, *args: Any, **named: Any) -> int:
        nonlocal reply
        reply = b""
        actions.append(("write", self.resource_name, message, ""))
        return write(self, message, *args, **named)

    def noted_read(self: MessageBasedResource, count: int, *args: Any, **named: Any) -> bytes:
        nonlocal reply
        data = read(self, count, *args, **named)
        reply += data
        actions.append(("read", self.resource_name, count, held(reply)))
        return data

    def noted_wait(seconds: float) -> None:
        actions.append(("wait", "", seconds, ""))
        wait(seconds)

    MessageBasedResource.write, MessageBasedResource.read_bytes = noted_write, noted_read  # type: ignore[method-assign]
    rig.clock.wait = noted_wait  # type: ignore[method-assign]
    try:
        whole(plan, rig)
    finally:
        MessageBasedResource.write, MessageBasedResource.read_bytes = write, read  # type: ignore[method-assign]
        rig.close()
    return actions


def held(reply: bytes) -> str:
    """What a reply holds so far: a whole block (streams break it at every LF among the data), a number, or text."""
    if reply[:1] == b"#":
        start = 2 + int(reply[1:2])
        return "block" if len(reply) == start + int(reply[2:start]) + 1 else "part"
    try:
        float(reply)
    except ValueError:
        return "text"
    return "number"


def bare(rig: Simulation, actions: list[Action]) -> None:
    """The same messages and waits, each number as a float, and a mean of strain for each block."""
    manager = pyvisa.ResourceManager(rig.visa_library)
    open_resources: dict[str, Any] = {}
    reply = b""
    for what, name, argument, holds in actions:
        if what == "wait":
            rig.clock.wait(argument)
            continue
        if name not in open_resources:
            open_resources[name] = manager.open_resource(name, read_termination="\n", write_termination="\n")
        resource = open_resources[name]
        if what == "write":
            resource.write(argument)
            reply = b""
        else:
            reply += resource.read_bytes(argument, break_on_termchar=True)
            if holds == "number":
                float(reply)
            elif holds == "block":
                values = np.frombuffer(reply[2 + int(reply[1:2]) : -1], dtype=">f8")
                float(np.mean(4 * values / (2.08 * (1 - 2 * values))))
    for resource in open_resources.values():
        resource.close()


def seconds(plan: Plan, job: Callable[[Simulation], None]) -> float:
    """Processor time of one job on a fresh twin."""
    rig = simulation(plan.rig, SPOOL, plan.registry, 0, ())
    try:
        start = time.process_time()
        job(rig)
        return time.process_time() - start
    finally:
        rig.close()


def rows() -> list[tuple[str, float, str]]:
    """(name, ratio, goal)."""
    plan = make_plan(SPOOL, load_registry())
    actions = transcript(plan)
    pairs = [
        (seconds(plan, lambda rig: whole(plan, rig)), seconds(plan, lambda rig: bare(rig, actions)))
        for _ in range(REPEATS)
    ]
    ratio = median(a for a, _ in pairs) / median(b for _, b in pairs)
    return [("whole acceptance / bare loop of the same messages", ratio, "≤ 1.3")]
