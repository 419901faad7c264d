"""`rigproof check`: are the documents right, can every step be taken and judged, and do the instruments answer?"""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import date
from pathlib import Path

import click

from rigproof.clock import WallClock
from rigproof.documents import Rig, in_a_line
from rigproof.errors import DocumentError, ExitCode, InstrumentError, RigproofError
from rigproof.people import NOBODY, Person
from rigproof.plugins import load_registry
from rigproof.run.interview import Interview
from rigproof.run.opening import Reach, make_driver, open_instrument
from rigproof.run.plan import Plan, make_plan
from rigproof.run.planned import hopeless_of
from rigproof.run.records import read_records, replayed
from rigproof.run.rehearsal import Rehearsed

from .arguments import json_option, rig_argument
from .plan_text import CANNOT
from .simulated import TWIN, bench_reach, reach_of, simulation


@click.command("check")
@rig_argument
@click.option("--connect", is_flag=True, help="Open each instrument and ask who it is; changes nothing else.")
@click.option("--simulated", is_flag=True, help="With --connect: the simulated instruments.")
@click.option("--bench", metavar="HOST:PORT", help="With --connect: a served bench; the port of its clock.")
@json_option
def command(rig: Path, connect: bool, simulated: bool, bench: str | None, as_json: bool) -> int:
    """Read the two documents of RIG with all their faults at once, and go through every step on paper."""
    plan = make_plan(rig, load_registry())
    records = read_records(plan.rig)
    rehearsed = plan.rehearse()
    count = sum(len(step.checks) for step in rehearsed)
    trouble = [f"step {step.number} {step.step.kind} {step.trouble}" for step in rehearsed if step.trouble]
    trouble += [f"{i.name}: {lacking}" for i in plan.rig.instruments.values() if (lacking := i.driver.lacks())]
    cautions = (*plan.of_rig(), *_overdue(plan.rig, date.today()), *_twin(plan, rig))
    hopeless = tuple(hopeless_of(rehearsed))
    rows = _connect(plan, rig, simulated, bench) if connect else []
    if as_json:
        click.echo(
            json.dumps(
                {
                    "rig": plan.rig.name,
                    "steps": len(plan.procedure.steps),
                    "checks": count,
                    "trouble": trouble,
                    "cannot_be_accepted": hopeless,
                    "cautions": cautions,
                    "instruments": rows,
                }
            )
        )
    else:
        click.echo(f"{plan.rig.name}: {len(plan.rig.channels)} channels, {len(plan.rig.instruments)} instruments")
        click.echo(f"{plan.procedure.name}: {len(plan.procedure.steps)} steps, {_counted(rehearsed)}")
        if records:
            click.echo(f"{len(records)} instruments read a record, and each record holds")
        for text in (*trouble, *cautions):
            click.echo(f"  {text}")
        for text in (f"{CANNOT}:", *(f"  - {each}" for each in hopeless)) if hopeless else ():
            click.echo(f"  {text}")
        for row in rows:
            click.echo(f"  {row['instrument']:20} {row['answer']}")
    if trouble:
        return ExitCode.WRONG_INPUT
    return ExitCode.VOID if any(not row["well"] for row in rows) else ExitCode.ACCEPT


def _counted(rehearsed: Sequence[Rehearsed]) -> str:
    """How many checks the steps come to on paper, and how many of them could not be accepted."""
    checks = [found for step in rehearsed for found in step.checks]
    bad = sum(not found.acceptable for found in checks)
    stopped = [f"step {step.number} {step.step.kind}" for step in rehearsed if step.stopped]
    said = f"{len(checks)} checks foreseen"
    said += f", {bad} of them cannot be accepted" if bad else ""
    return said + (
        f"; {', '.join(stopped)} would be stopped, and its later checks do not take place" if stopped else ""
    )


def _overdue(rig: Rig, today: date) -> list[str]:
    """Certificates that have run out: a run would come to no more than `undecided`."""
    dues = {i.name: i.calibration.due for i in rig.instruments.values() if i.calibration and i.calibration.due}
    return [
        f"The calibration of {name} ran out on {due}: a run today is at best undecided. Have it calibrated."
        for name, due in dues.items()
        if due < today
    ]


def _twin(plan: Plan, folder: Path) -> list[str]:
    """Why the rig cannot be simulated; nothing where it can, or where no twin.yaml asks for it."""
    if not (folder / TWIN).exists():
        return []
    try:
        simulation(plan.rig, folder, plan.registry, 0, ()).close()
    except DocumentError as error:
        return [f"It cannot be simulated: {said}." for said in map(in_a_line, error.faults)]
    except RigproofError as error:
        return [f"It cannot be simulated: {error}"]
    return []


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
            answer, well = ", ".join(filter(None, (record.maker, record.model, record.serial_number))), True
        except InstrumentError as error:
            answer, well = str(error).removeprefix(f"{instrument.name}: "), False
        finally:
            driver.close()
        rows.append({"instrument": instrument.name, "answer": answer, "well": well})
    return rows
