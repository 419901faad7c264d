"""`rigproof run`: the acceptance."""

from __future__ import annotations

import sys
from datetime import UTC, datetime
from itertools import count
from pathlib import Path

import click

from rigproof.errors import UsageError
from rigproof.people import Answers
from rigproof.plugins import load_registry
from rigproof.run.accepting import run_and_judge
from rigproof.run.calibration import expect_in_date
from rigproof.run.opening import Reach
from rigproof.run.plan import Plan, make_plan
from rigproof.run.progress import Progress
from rigproof.run.records import refuse_records, replay_reach
from rigproof.run.simulated import find_simulator, on_twin, planted
from rigproof.verdict.record import Verdict

from .arguments import EXIT_CODES, rig_argument
from .by_hand import answers_for
from .listening import beside, listening
from .simulated import bench_reach


@click.command("run")
@rig_argument
@click.option("--simulated", is_flag=True, help="Put the simulated rig under the drivers.")
@click.option("--bench", metavar="HOST:PORT", help="Use a bench served by `rigproof bench`; the port of its clock.")
@click.option("--replayed", is_flag=True, help="Read every instrument from its record; the time jumps.")
@click.option("--flaw", "flaws", multiple=True, metavar="NAME[=SIZE]", help="Plant a defect (see `rigproof flaws`).")
@click.option(
    "--seed", type=click.IntRange(0, 2**63 - 1), default=0, show_default=True, help="Seed of the simulated rig."
)
@click.option("--out", type=click.Path(path_type=Path), help="Folder for journal and verdict; made when not there.")
@click.option("--person", metavar="NAME", help="Who reads the instruments that are read by hand; else it is asked.")
@click.option(
    "--answers",
    type=click.Path(path_type=Path),
    help="File with the answers of that person, where there is no terminal.",
)
@click.option("--quiet", is_flag=True, help="Nothing but cautions, alarms and the verdict.")
@click.option("--json", "as_json", is_flag=True, help="For a machine: an event a line (`rigproof schema event`).")
def command(
    rig: Path,
    simulated: bool,
    bench: str | None,
    replayed: bool,
    flaws: tuple[str, ...],
    seed: int,
    out: Path | None,
    person: str | None,
    answers: Path | None,
    quiet: bool,
    as_json: bool,
) -> int:
    """Take RIG through its acceptance; DIR gets journal.jsonl and verdict.json."""
    if sum(map(bool, (simulated, bench, replayed))) > 1:
        raise UsageError("--simulated, --bench and --replayed: choose one of them")
    if flaws and not simulated:
        raise UsageError("--flaw: a defect can only be planted in a simulated rig; add --simulated")
    if (simulated or replayed) and (person or answers):
        raise UsageError("--person, --answers: a simulated or replayed run asks nobody here; leave them out")
    if answers and person:
        raise UsageError("--person: the file of --answers names the person; leave --person out")
    plan = make_plan(rig, load_registry())
    if out is not None and str(out) in {"", "."}:
        raise UsageError("--out: name a folder of its own for the run")
    live = not (simulated or replayed)
    by_hand = answers_for(plan.rig, person, answers, sys.stderr if as_json else sys.stdout) if live else None
    with listening(quiet, as_json) as listener:
        asked = beside(listener, by_hand)
        folder, verdict = _accept(plan, rig, out, listener, simulated, bench, replayed, flaws, seed, asked)
        listener.verdict(verdict, folder)
    return EXIT_CODES[verdict.verdict]


def _folder(out: Path | None) -> Path:
    """The folder asked for, or a new one named after the time."""
    name = f"run-{datetime.now(UTC):%Y%m%d-%H%M%S}"
    folder = out or next(path for n in count(1) if not (path := Path(name if n == 1 else f"{name}-{n}")).exists())
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UsageError(f"--out {folder}: cannot be made ({error.strerror}); choose another folder") from None
    return folder


def _accept(
    plan: Plan,
    rig_folder: Path,
    out: Path | None,
    progress: Progress,
    simulated: bool,
    bench: str | None,
    replayed: bool,
    flaws: tuple[str, ...],
    seed: int,
    by_hand: Answers | None,
) -> tuple[Path, Verdict]:
    """Run and judge on the rig asked for; the folder is made when nothing else stands in the way."""
    if replayed:
        reach = replay_reach(plan.rig)
        folder = _folder_for(plan, reach, out)
        return folder, run_and_judge(plan, reach, folder, progress)
    refuse_records(plan.rig)
    if simulated:
        chosen = planted(flaws, find_simulator(rig_folder, plan.registry).flaws())
        with on_twin(plan, rig_folder, seed, chosen) as (reach, twin):
            folder = _folder_for(plan, reach, out)
            return folder, run_and_judge(plan, reach, folder, progress, twin)
    if bench:
        with bench_reach(bench, by_hand) as reach:
            folder = _folder_for(plan, reach, out)
            return folder, run_and_judge(plan, reach, folder, progress)
    from rigproof.clock import WallClock

    here = Reach(clock=WallClock(), answers=by_hand)
    folder = _folder_for(plan, here, out)
    return folder, run_and_judge(plan, here, folder, progress)


def _folder_for(plan: Plan, reach: Reach, out: Path | None) -> Path:
    """The folder of a run that will be begun: none is made for one that is refused."""
    expect_in_date(plan.rig, plan.procedure, reach.clock.utc().date())
    return _folder(out)
