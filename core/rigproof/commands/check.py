"""`rigproof check`: do documents, plugins, budgets and, on request, instruments resolve?"""

from __future__ import annotations

import json
from pathlib import Path

import click

from rigproof.clock import WallClock
from rigproof.documents import fault_in
from rigproof.errors import ExitCode, InstrumentError
from rigproof.people import NOBODY, Person
from rigproof.plugins import load_registry
from rigproof.run.interview import Interview
from rigproof.run.opening import Reach, make_driver, open_instrument
from rigproof.run.plan import Plan, make_plan
from rigproof.run.records import read_records, replayed

from .arguments import json_option, rig_argument
from .simulated import bench_reach, reach_of, simulation


@click.command("check")
@rig_argument
@click.option("--connect", is_flag=True, help="Open each instrument and ask who it is; changes nothing else.")
@click.option("--simulated", is_flag=True, help="With --connect: the simulated instruments.")
@click.option("--bench", metavar="HOST:PORT", help="With --connect: a served bench; the port of its clock.")
@json_option
def command(rig: Path, connect: bool, simulated: bool, bench: str | None, as_json: bool) -> int:
    """Read the two documents of RIG with all their faults at once, and resolve every budget."""
    plan = make_plan(rig, load_registry())
    records = read_records(plan.rig)
    rehearsed = plan.rehearse()
    count = sum(len(step.checks) for step in rehearsed)
    trouble = [f"step {step.number} {step.step.kind} {step.trouble}" for step in rehearsed if step.trouble]
    trouble += [f"{i.name}: {lacking}" for i in plan.rig.instruments.values() if (lacking := i.driver.lacks())]
    cautions = plan.of_rig() if simulated or bench else (*plan.of_rig(), *_obstacles(plan))
    rows = _connect(plan, rig, simulated, bench) if connect else []
    if as_json:
        click.echo(
            json.dumps(
                {
                    "rig": plan.rig.name,
                    "steps": len(plan.procedure.steps),
                    "checks": count,
                    "trouble": trouble,
                    "cautions": cautions,
                    "instruments": rows,
                }
            )
        )
    else:
        click.echo(f"{plan.rig.name}: {len(plan.rig.channels)} channels, {len(plan.rig.instruments)} instruments")
        click.echo(f"{plan.procedure.name}: {len(plan.procedure.steps)} steps, {count} checks resolve on paper")
        if records:
            click.echo(f"{len(records)} instruments read a record, and each record holds")
        for text in (*trouble, *cautions):
            click.echo(f"  {text}")
        for row in rows:
            click.echo(f"  {row['instrument']:20} {row['answer']}")
    if trouble:
        return ExitCode.WRONG_INPUT
    return ExitCode.VOID if any(not row["well"] for row in rows) else ExitCode.ACCEPT


def _obstacles(plan: Plan) -> tuple[str, ...]:
    """What this machine lacks for each resource, with its place in rig.yaml."""
    said = []
    for name, instrument in plan.rig.instruments.items():
        if found := instrument.driver.obstacle(instrument.resource):
            fault = fault_in(plan.rig, ("instruments", name, "resource"), found, "")
            said.append(f"{fault.file}:{fault.line}:{fault.column}: {fault.where}: {fault.message}")
    return tuple(said)


def _connect(plan: Plan, folder: Path, simulated: bool, bench: str | None) -> list[dict[str, str | bool]]:
    """Every instrument's answer, the failing ones too."""
    if simulated:
        rig = simulation(plan.rig, folder, plan.registry, 0, ())
        try:
            return _ask(plan, reach_of(rig))
        finally:
            rig.close()
    if bench:
        with bench_reach(bench) as reach:
            return _ask(plan, reach)
    return _ask(plan, Reach(clock=WallClock(), replayed=bool(replayed(plan.rig))))


def _unrecorded(reach: Reach) -> Person:
    """The person of a reach; nothing of what is asked here is kept."""
    return Interview(reach.answers, lambda *_, **__: None, lambda: None) if reach.answers else NOBODY


def _ask(plan: Plan, reach: Reach) -> list[dict[str, str | bool]]:
    rows: list[dict[str, str | bool]] = []
    for instrument in plan.rig.instruments.values():
        if instrument.driver.asks_a_person and reach.answers is None:
            rows.append({"instrument": instrument.name, "answer": "worked by hand, asked in the run", "well": True})
            continue
        driver = make_driver(plan.rig, instrument, reach, _unrecorded(reach))
        try:
            record = open_instrument(instrument, driver, reach)
            said = ", ".join(filter(None, (record.maker, record.model, record.serial_number)))
            answer, well = said or "is there, and has no means to say who it is", True
        except InstrumentError as error:
            answer, well = str(error).removeprefix(f"{instrument.name}: "), False
        finally:
            driver.close()
        rows.append({"instrument": instrument.name, "answer": answer, "well": well})
    return rows
