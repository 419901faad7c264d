"""`rigproof check`: do documents, plugins, budgets and, on request, instruments resolve?"""

from __future__ import annotations

import json
from pathlib import Path

import click

from rigproof.clock import WallClock
from rigproof.documents.load import place_in
from rigproof.errors import ExitCode, InstrumentError
from rigproof.plugins import load_registry
from rigproof.run.opening import Reach, make_driver, open_instrument
from rigproof.run.plan import Plan, make_plan

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
    rehearsed = plan.rehearse()
    count = sum(len(step.checks) for step in rehearsed)
    trouble = [f"step {step.number} {step.step.kind} {step.trouble}" for step in rehearsed if step.trouble]
    cautions = (*plan.of_rig(), *_obstacles(plan))
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
        for text in (*trouble, *cautions):
            click.echo(f"  {text}")
        for row in rows:
            click.echo(f"  {row['instrument']:20} {row['answer']}")
    if trouble:
        return ExitCode.WRONG_INPUT
    return ExitCode.VOID if any(not row["well"] for row in rows) else ExitCode.ACCEPT


def _obstacles(plan: Plan) -> tuple[str, ...]:
    """What this machine lacks for the instruments; no fault, since a rig may be checked at another desk."""
    return tuple(
        f"{place_in(plan.rig, ('instruments', name, 'resource'))}: {text}."
        for name, instrument in plan.rig.instruments.items()
        for text in instrument.driver.obstacles(instrument.resource)
    )


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
    return _ask(plan, Reach(clock=WallClock()))


def _ask(plan: Plan, reach: Reach) -> list[dict[str, str | bool]]:
    rows: list[dict[str, str | bool]] = []
    for instrument in plan.rig.instruments.values():
        driver = make_driver(instrument, reach)
        try:
            record = open_instrument(instrument, driver, reach)
            answer, well = f"{record.maker}, {record.model}, {record.serial_number}", True
            if record.unconfirmed:
                answer += f" ({', '.join(record.unconfirmed)} as written in rig.yaml: it cannot say)"
        except InstrumentError as error:
            answer, well = str(error).removeprefix(f"{instrument.name}: "), False
        finally:
            driver.close()
        rows.append({"instrument": instrument.name, "answer": answer, "well": well})
    return rows
