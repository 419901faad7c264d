"""`rigproof check`: are the documents right, can every step be taken and judged, and do the instruments answer?"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import click

from rigproof.campaign.nightly import NIGHTLY, Expectation, faults_of_nightly, load_nightly
from rigproof.clock import WallClock
from rigproof.documents import fault_in, in_a_line
from rigproof.documents.load import PROCEDURE_FILE
from rigproof.errors import DocumentError, ExitCode, RigproofError, UsageError
from rigproof.plugins import load_registry
from rigproof.quantities import did_you_mean
from rigproof.run.calibration import due_soon, overdue
from rigproof.run.looking import NO_READING, Look, folded, look
from rigproof.run.loopback import at_this_machine
from rigproof.run.odds import unlikely_of
from rigproof.run.opening import Reach
from rigproof.run.plan import Plan, make_plan
from rigproof.run.planned import hopeless_of
from rigproof.run.records import neither_live_nor_replayed, read_records, replayed
from rigproof.run.rehearsal import Rehearsed
from rigproof.run.simulated import TWIN, reach_of, simulation
from rigproof.run.unused import fewer_readings, unforeseen, unproved, unused
from rigproof.run.unwritten import against_live

from .arguments import json_option, procedure_option, rig_argument
from .plan_text import CANNOT, OFTEN
from .simulated import bench_reach

LOOKED = (
    "Looked only: no excitation, relay, output or source was touched. Readings set which inputs are scanned, and "
    "reading an error queue empties it."
)


@click.command("check")
@rig_argument
@procedure_option
@click.option("--connect", is_flag=True, help="Look at each instrument: who, how fast, how quiet; sets nothing.")
@click.option("--only", multiple=True, metavar="NAME", help="With --connect: this instrument alone; repeatable.")
@click.option("--simulated", is_flag=True, help="With --connect: the simulated instruments.")
@click.option("--bench", metavar="HOST:PORT", help="With --connect: a served bench; the port of its clock.")
@json_option
def command(
    rig: Path,
    procedure: str,
    connect: bool,
    only: tuple[str, ...],
    simulated: bool,
    bench: str | None,
    as_json: bool,
) -> int:
    """Read the documents of RIG with all their faults at once, and go through every step on paper."""
    plan = _plan(rig, procedure)
    _expect_known(plan, connect, only, bench)
    lacking = [] if connect and simulated else _twin(plan, rig)  # which says it by itself
    simulable = not lacking and (rig / TWIN).exists()
    nightly = _nightly(plan, rig, simulable=not lacking) if procedure == PROCEDURE_FILE else []
    found = _found(rig, plan, nightly, lacking, simulable, live=not (simulated or bench))
    looks = _connect(plan, rig, only, simulated, bench) if connect else []
    if as_json:
        click.echo(json.dumps({**found.as_json(), "instruments": [asdict(each) for each in looks]}))
    else:
        for text in found.lines(looks):
            click.echo(text)
    if found.trouble or found.refused:
        return ExitCode.WRONG_INPUT
    return ExitCode.VOID if any(not each.well for each in looks) else ExitCode.ACCEPT


@dataclass(frozen=True)
class Found:
    """What the documents come to on paper, and what of it stands against a run."""

    folder: Path
    plan: Plan
    rehearsed: Sequence[Rehearsed]
    nightly: int
    """Acceptances of the nightly regression."""
    records: int
    trouble: Sequence[str]
    hopeless: Sequence[str]
    often: Sequence[str]
    """Checks that sound rigs often leave undecided."""
    late: Sequence[str]
    obstacles: Sequence[str]
    cautions: Sequence[str]
    live: Sequence[str]
    """What keeps the rig from its instruments, though not from the simulated ones."""
    simulable: bool

    def as_json(self) -> dict[str, object]:
        """For a program that reads it."""
        return {
            "rig": self.plan.rig.name,
            "steps": len(self.plan.procedure.steps),
            "checks": sum(len(step.checks) for step in self.rehearsed),
            "nightly": self.nightly,
            "trouble": self.trouble,
            "cannot_be_accepted": self.hopeless,
            "often_undecided": self.often,
            "cautions": [*self.cautions, *self.obstacles],
            "against_live": self.live,
            "overdue": self.late,
        }

    def lines(self, looks: Sequence[Look]) -> Iterator[str]:
        """For a person, with the looks of the instruments."""
        rig, procedure = self.plan.rig, self.plan.procedure
        yield f"{rig.name}: {len(rig.channels)} channels, {len(rig.instruments)} instruments"
        yield f"{procedure.name}: {len(procedure.steps)} steps, {_counted(self.rehearsed)}"
        if self.nightly:
            yield f"{NIGHTLY}: {self.nightly} acceptances, taken by `pytest {self.folder}`: runs of the simulated rig"
        if self.records:
            yield f"{self.records} instruments read a record, and each record holds"
        yield from (f"  {each}" for each in self._told())
        yield from _lines(looks)
        if not self._stands_against(looks):
            yield self._free(looks)

    @property
    def refused(self) -> bool:
        """Whether the procedure refuses a run for a calibration that has run out."""
        return bool(self.late) and self.plan.procedure.overdue == "refuse"

    def _told(self) -> Iterator[str]:
        then = "a run will be refused" if self.refused else "a run cannot be accepted"
        yield from (*self.trouble, *self.cautions, *self.obstacles)
        yield from (f"{each}: {then}" for each in self.late)
        if not self.simulable:
            yield from (f"{each}: a run will be refused" for each in self.live)
        yield from _listed(CANNOT, self.hopeless)
        yield from _listed(OFTEN, self.often)

    def _stands_against(self, looks: Sequence[Look]) -> bool:
        found = self.trouble or self.hopeless or self.late or self.obstacles
        refused = self.live and not self.simulable
        return bool(found or refused or any(not each.well for each in looks))

    def _free(self, looks: Sequence[Look]) -> str:
        """The last line where nothing stands against a run, or only against one on the instruments themselves."""
        open_ended = any(NO_READING in each.readings.values() for each in looks)
        to_mind = self.cautions or self.often or open_ended or any(each.errors for each in looks)
        mind = ", and what is said above is to be minded" if to_mind else ""
        if not self.live:
            return f"nothing stands against a run{mind}"
        refused = ", and ".join(self.live)
        return f"nothing stands against a run with --simulated{mind}; without it one is refused: {refused}"


def _found(
    folder: Path, plan: Plan, nightly: Sequence[Expectation], lacking: Sequence[str], simulable: bool, live: bool
) -> Found:
    """`lacking`: why it cannot be simulated; `live`: for the instruments themselves, too."""
    records = read_records(plan.rig)
    rehearsed = plan.rehearsed
    days = [record.began.date() for record in records.values() if record.began]
    today = WallClock().utc().date()
    late, soon = overdue(plan.rig, max(days, default=today)), [] if days else due_soon(plan.rig, today)
    return Found(
        folder,
        plan,
        rehearsed,
        nightly=len(nightly),
        records=len(records),
        trouble=[
            *(f"step {step.number} {step.step.kind} {step.trouble}" for step in rehearsed if step.trouble),
            *neither_live_nor_replayed(plan.rig),
        ],
        hopeless=tuple(hopeless_of(plan.rig, rehearsed)),
        often=tuple(unlikely_of(rehearsed)),
        late=late,
        obstacles=_obstacles(plan) if live else [],
        cautions=[
            *plan.of_rig(),
            *unused(plan.rig, rehearsed),
            *unproved(plan.rig, rehearsed),
            *unforeseen(rehearsed),
            *fewer_readings(plan.rig, rehearsed),
            *(at_this_machine(plan.rig) if live else []),
            *soon,
            *lacking,
        ],
        live=list(against_live(plan.rig)) if live else [],
        simulable=simulable,
    )


def _listed(title: str, texts: Sequence[str]) -> list[str]:
    """What can never be accepted, or often not, under its title."""
    return [f"{title}:", *(f"  - {each}" for each in texts)] if texts else []


def _expect_known(plan: Plan, connect: bool, only: Sequence[str], bench: str | None) -> None:
    """Raise `UsageError` for an instrument that is to be looked at and is not in the rig, or without --connect."""
    for name in only:
        if name not in plan.rig.instruments:
            near = did_you_mean(name, plan.rig.instruments)
            raise UsageError(f"--only {name}: {plan.rig.file} names no instrument {name!r}; {near}")
    if only and not connect:
        raise UsageError("--only says which instruments --connect opens; write --connect, too, or leave it out")
    if bench and not connect:
        raise UsageError(f"--bench {bench}: says where --connect looks; write --connect, too, or leave it out")


def _plan(rig: Path, procedure: str) -> Plan:
    """The plan; where there is none, one error has the faults of all documents."""
    try:
        return make_plan(rig, load_registry(), procedure)
    except DocumentError as error:
        raise DocumentError([*error.faults, *faults_of_nightly(rig)]) from None


def _nightly(plan: Plan, rig: Path, simulable: bool) -> list[Expectation]:
    """The nightly regression, which a rig need not have; where nothing can be simulated its form alone is looked at."""
    if simulable and (rig / NIGHTLY).exists():
        return load_nightly(rig, plan)
    if faults := faults_of_nightly(rig):
        raise DocumentError(faults)
    return []


def _obstacles(plan: Plan) -> list[str]:
    """What this machine lacks for each resource, with its place in rig.yaml."""
    said = []
    for name, instrument in plan.rig.instruments.items():
        if found := instrument.driver.obstacle(instrument.resource):
            fault = fault_in(plan.rig, ("instruments", name, "resource"), found, "")
            said.append(f"{fault.file}:{fault.line}:{fault.column}: {fault.where}: {fault.message}")
    return said


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


def _twin(plan: Plan, folder: Path) -> list[str]:
    """Why the rig cannot be simulated; nothing where it can, or where no twin.yaml asks for it."""
    if not (folder / TWIN).exists():
        return [f"{NIGHTLY} cannot be taken: there is no {TWIN}."] if (folder / NIGHTLY).exists() else []
    try:
        simulation(plan.rig, folder, plan.registry, 0, ()).close()
    except DocumentError as error:
        return [f"It cannot be simulated: {said}." for said in map(in_a_line, error.faults)]
    except RigproofError as error:
        return [f"It cannot be simulated: {error}"]
    return []


def _connect(plan: Plan, folder: Path, only: Sequence[str], simulated: bool, bench: str | None) -> list[Look]:
    """The look of every instrument, or of these alone, the failing ones too."""
    if simulated:
        rig = simulation(plan.rig, folder, plan.registry, 0, ())
        try:
            return list(look(plan.rig, reach_of(rig), only))
        finally:
            rig.close()
    if bench:
        with bench_reach(bench, plan.rig) as reach:
            return list(look(plan.rig, reach, only))
    return list(look(plan.rig, Reach(clock=WallClock(), replayed=bool(replayed(plan.rig))), only))


def _lines(looks: Sequence[Look]) -> list[str]:
    """The table, and under it what nobody may overlook."""
    if not looks:
        return []
    rows = [("instrument", "latency", "errors", "cal. due", "who answered; reading and noise"), *map(_row, looks)]
    widths = [max(len(row[i]) for row in rows) for i in range(4)]
    lines = ["  ".join(cell.ljust(width) for cell, width in zip(row, [*widths, 0], strict=True)) for row in rows]
    lines += [f"  {each.instrument}: {entry}" for each in looks for entry in folded(each.errors)]
    opened = [each.instrument for each in looks if each.as_for_a_run]
    words = "opened as for a run, with its settings, because its driver has no `look` of its own"
    lines += [f"  {words}: {', '.join(opened)}"] if opened else []
    lines += [
        f"\n!!! {each.instrument}: NOT IN ITS SAFE STATE, there may be load on the part. Nothing was changed: "
        "keep away, and use the rig's own stop and vent.\n"
        for each in looks
        if each.safe is False
    ]
    return [*lines, LOOKED]


def _row(each: Look) -> tuple[str, ...]:
    latency = "" if each.latency_s is None else f"{1000 * each.latency_s:.3g} ms"
    latency += "" if each.round_s is None else f", all {1000 * each.round_s:.3g} ms"
    noise = "; ".join(_read(channel, each.readings[channel], size) for channel, size in each.noise.items())
    safe = "safe" if each.safe else ""
    queue = str(len(each.errors) or "none") if each.well or each.errors else ""
    return each.instrument, latency, queue, each.due, "; ".join(filter(None, (each.answer, noise, safe)))


def _read(channel: str, mean: str, noise: str) -> str:
    return f"{channel} {mean}" if mean == noise else f"{channel} {mean}, noise {noise}"
