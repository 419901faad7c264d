"""`rigproof run`: the acceptance."""

from __future__ import annotations

import shlex
import sys
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from itertools import count
from pathlib import Path

import click

from rigproof.clock import PacedClock, WallClock
from rigproof.documents.faults import in_order
from rigproof.documents.load import PROCEDURE_FILE
from rigproof.errors import DocumentError, Fault, Stopped, UsageError
from rigproof.people import Answers, checked_name
from rigproof.plugins import load_registry
from rigproof.run.accepting import run_and_judge
from rigproof.run.calibration import expect_in_date
from rigproof.run.lock import locked
from rigproof.run.loopback import refuse_bench
from rigproof.run.opening import Reach
from rigproof.run.plan import Plan, make_plan
from rigproof.run.records import refuse_records, replay_reach
from rigproof.run.resuming import Earlier, take_up
from rigproof.run.simulated import find_simulator, on_twin, planted
from rigproof.run.unwritten import refuse_unwritten
from rigproof.verdict.record import TwinRecord, Verdict
from rigproof.verdict.sessions import FINISHED

from .arguments import EXIT_CODES, WholeNumber, procedure_option, rig_argument
from .by_hand import answered, answers_for
from .listening import Listener, beside, listening
from .scripted import Scripted
from .simulated import bench_reach


@click.command("run")
@rig_argument
@procedure_option
@click.option("--simulated", is_flag=True, help="Put the simulated rig under the drivers.")
@click.option("--bench", metavar="HOST:PORT", help="Use a bench served by `rigproof bench`; the port of its clock.")
@click.option("--replayed", is_flag=True, help="Read every instrument from its record; the time jumps.")
@click.option("--flaw", "flaws", multiple=True, metavar="NAME[=SIZE]", help="Plant a defect (see `rigproof flaws`).")
@click.option("--seed", type=WholeNumber(0, 2**63 - 1), help="Seed of the simulated rig.  [default: 0]")
@click.option(
    "--pace",
    type=click.FloatRange(1, 1e6),
    help="How many times faster than real a simulated run goes, to watch it.  [default: as fast as it can]",
)
@click.option("--out", type=click.Path(path_type=Path), help="Folder for journal and verdict; made when not there.")
@click.option("--resume", is_flag=True, help="Go on with the run in --out that was cut off or suspended.")
@click.option(
    "--operator",
    metavar="NAME",
    callback=lambda _context, _option, name: "" if name is None else checked_name(name),
    help="Who takes the run and answers for it; stands on the verdict and the report.",
)
@click.option("--person", metavar="NAME", help="Who reads the instruments that are read by hand; else it is asked.")
@click.option(
    "--answers",
    type=click.Path(path_type=Path),
    help="File with the answers of that person, where there is no terminal.",
)
@click.option("--quiet", is_flag=True, help="Nothing but cautions, alarms, and the verdict with what to do.")
@click.option("--json", "as_json", is_flag=True, help="For a machine: an event a line (`rigproof schema event`).")
def command(
    rig: Path,
    procedure: str,
    simulated: bool,
    bench: str | None,
    replayed: bool,
    flaws: tuple[str, ...],
    seed: int | None,
    pace: float | None,
    out: Path | None,
    resume: bool,
    operator: str,
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
    if pace and not simulated:
        raise UsageError("--pace: only a simulated run can go faster than time; add --simulated")
    if (simulated or replayed) and person:
        raise UsageError("--person, --answers: a simulated or replayed run asks nobody here; leave them out")
    if answers and person:
        raise UsageError("--person: the file of --answers names the person; leave --person out")
    if resume and (out is None or replayed or flaws or seed is not None):
        raise UsageError(
            "--resume: give --out with the folder of the run, no --seed and no --flaw (the record has them), and no "
            "--replayed (a record can be replayed again)"
        )
    plan = make_plan(rig, load_registry(), procedure)
    if replayed and plan.asking_steps():
        raise UsageError(f"--replayed: {', '.join(plan.asking_steps())}: a person is asked, and a record has none")
    if answers and (replayed or (simulated and not plan.asking_steps())):
        raise UsageError("--person, --answers: a simulated or replayed run asks nobody here; leave them out")
    if out is not None and str(out) in {"", "."}:
        raise UsageError("--out: name a folder of its own for the run")
    live = not (simulated or replayed)
    asks = live or answers is not None
    by_hand = answers_for(plan, person, answers, sys.stderr if as_json else sys.stdout) if asks else None
    chosen = Chosen(
        rig, procedure, simulated, bench, replayed, flaws, seed or 0, by_hand, pace, operator, quiet, as_json
    )
    with listening(quiet, as_json) as listener:
        folder, verdict = _accept(plan, chosen, out, resume, listener)
        try:
            listener.verdict(verdict, folder, chosen.notes(verdict, folder, person, answers))
        except KeyboardInterrupt:
            raise Stopped(f"stopped while the verdict was shown; the run was over: {folder} has all of it") from None
    return EXIT_CODES[verdict.verdict]


@dataclass(frozen=True)
class Chosen:
    """Which rig the run is taken on, and how it is reached."""

    folder: Path
    procedure: str
    simulated: bool
    bench: str | None
    replayed: bool
    flaws: tuple[str, ...]
    seed: int
    by_hand: Answers | None
    pace: float | None = None  # of a simulated run, against real time; None: as fast as it can
    operator: str = ""  # who takes the run; "": not named
    quiet: bool = False
    as_json: bool = False

    def unasked(self) -> Sequence[str]:
        """Lines of the file of answers that no question called for."""
        return self.by_hand.unasked() if isinstance(self.by_hand, Scripted) else ()

    @property
    def folders(self) -> tuple[Path, ...]:
        """Those that nobody else may run on meanwhile, beside the record's: a real rig can be loaded by one only."""
        return () if self.simulated or self.bench or self.replayed else (self.folder,)

    def notes(self, verdict: Verdict, record: Path, person: str | None, answers: Path | None) -> list[str]:
        """What a person may do with a run that did not come to its end, and answers that a run to its end left over."""
        if self.replayed or verdict.end.startswith(FINISHED):
            return [f"caution: {text}" for text in self.unasked() if text in verdict.cautions]
        when = ", once the cause of the trip is found and mended" if verdict.end.startswith("tripped") else ""
        if verdict.twin and verdict.twin.flaws:  # nobody can mend what is planted
            when = f", with what is planted ({', '.join(verdict.twin.flaws)}) there again"
        return [f"to go on{when}: {self.going_on(record, person, answers)}"]

    def going_on(self, record: Path, person: str | None, answers: Path | None) -> str:
        """The command that goes on with the run, as it was begun."""
        words = ["rigproof", "run", str(self.folder), "--out", str(record), "--resume"]
        words += ["--procedure", self.procedure] if self.procedure != PROCEDURE_FILE else []
        words += ["--simulated"] if self.simulated else []
        pace = f"{self.pace:.15g}" if self.pace else None
        given = (
            *(("--bench", self.bench), ("--pace", pace), ("--operator", self.operator)),
            *(("--person", person), ("--answers", answers)),
        )
        for option, value in given:
            words += [option, str(value)] if value else []
        words += ["--quiet"] * self.quiet + ["--json"] * self.as_json
        still = " (a file with the answers still to come)" if answers else ""
        return shlex.join(words) + still

    @contextmanager
    def reached(self, plan: Plan, earlier: Earlier | None) -> Iterator[tuple[Reach, TwinRecord | None]]:
        """How its instruments are reached, and what is simulated in this process."""
        if self.replayed:
            yield replay_reach(plan.rig), None
            return
        refuse_records(plan.rig)
        if self.simulated:
            record = earlier.twin if earlier else None
            seed, flaws = (record.seed, record.flaws) if record else (self.seed, self.flaws)
            known = find_simulator(self.folder, plan.registry).flaws()
            behind_s = earlier.behind_s if earlier else 0.0
            with on_twin(plan, self.folder, seed, planted(flaws, known), behind_s) as (reach, twin):
                paced = replace(reach, clock=PacedClock(reach.clock, self.pace)) if self.pace else reach
                yield answered(paced, self.by_hand), twin
        elif self.bench:
            with bench_reach(self.bench, plan.rig) as reach:
                yield answered(reach, self.by_hand), None
        else:
            _refuse_live(plan)
            yield answered(Reach(clock=WallClock()), self.by_hand), None


def _refuse_live(plan: Plan) -> None:
    """Raise one `DocumentError` with all that keeps a run from the instruments themselves."""
    faults: list[Fault] = []
    for refuse in (refuse_unwritten, refuse_bench):
        try:
            refuse(plan.rig)
        except DocumentError as error:
            faults += error.faults
    if faults:
        raise DocumentError(in_order(faults))


def _folder(out: Path | None) -> Path:
    """The folder asked for, or a new one named after the time."""
    name = f"run-{datetime.now(UTC):%Y%m%d-%H%M%S}"
    folder = out or next(path for n in count(1) if not (path := Path(name if n == 1 else f"{name}-{n}")).exists())
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UsageError(f"--out {folder}: cannot be made ({error.strerror}); choose another folder") from None
    return folder


def _accept(plan: Plan, chosen: Chosen, out: Path | None, resume: bool, progress: Listener) -> tuple[Path, Verdict]:
    """Run and judge on the rig asked for; the folder is made when nothing else stands in the way."""
    with ExitStack() as stack:
        earlier = None
        if resume and out is not None:
            _expect_folder(out)
            stack.enter_context(locked((out, *chosen.folders), out, progress.say))
            earlier = take_up(out, plan, chosen.simulated, bool(chosen.bench))
        reach, twin = stack.enter_context(chosen.reached(plan, earlier))
        reach = replace(reach, operator=chosen.operator)
        if chosen.by_hand:
            reach = beside(progress, reach)
        folder = _folder_for(plan, reach, out)
        if not resume:
            stack.enter_context(locked((folder, *chosen.folders), folder, progress.say))
        return folder, run_and_judge(plan, reach, folder, progress, twin, earlier)


def _expect_folder(folder: Path) -> None:
    if not folder.is_dir():
        raise UsageError(f"--resume: {folder} is not there, so there is no run to go on with; leave --resume out")


def _folder_for(plan: Plan, reach: Reach, out: Path | None) -> Path:
    """The folder of a run that will be begun: none is made for one that is refused."""
    expect_in_date(plan.rig, plan.procedure, reach.clock.utc().date())
    return _folder(out)
