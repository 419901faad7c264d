"""`rigproof power`: what the acceptance finds, and how often it is wrong, over many simulated rigs."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import click

from rigproof.campaign import curve_data, matrix, matrix_data
from rigproof.campaign.crew import Crew, Job, cluster, local
from rigproof.campaign.curve import BLOCK, LEAST_RUNS, SEARCH, sample
from rigproof.campaign.drawing import draw_curve, draw_matrix
from rigproof.campaign.engine import Engine
from rigproof.campaign.results import Results, digests
from rigproof.campaign.risks import beyond, global_risks
from rigproof.campaign.sizes import Axis, axis, sized
from rigproof.campaign.trial import Trial
from rigproof.campaign.verdicts import Verdicts
from rigproof.errors import ExitCode, UsageError
from rigproof.plugins import load_registry
from rigproof.quantities import did_you_mean
from rigproof.run.plan import Plan, make_plan
from rigproof.run.simulated import find_simulator, planted, simulation
from rigproof.simulation import Flaw

from .arguments import WholeNumber, json_option, rig_argument
from .pace import Pace

_MOST_SEEDS = 2**40
_MOST_RUNS = 1_000_000
RUNS = 20
CURVE_RUNS = 700


@click.command("power")
@rig_argument
@click.option("--healthy", is_flag=True, help="The sound rig alone: how often it is accepted.")
@click.option("--matrix", "as_matrix", is_flag=True, help="Every flaw at its stated size: which check catches it.")
@click.option("--flaw", metavar="NAME", help="The operating characteristic of this flaw; with --from and --to.")
@click.option("--from", "mild", metavar="SIZE", help="Its mild end.")
@click.option("--to", "severe", metavar="SIZE", help="Its severe end; it may be the smaller number.")
@click.option("--limit", metavar="SIZE", help="Size of the consumer's risk; the flaw's stated one where left out.")
@click.option("--process-mean", metavar="SIZE", help="Mean size in what is made, for global risks (JCGM 106).")
@click.option("--process-sd", metavar="SIZE", help="Its standard deviation.")
@click.option(
    "--runs",
    type=WholeNumber(1, _MOST_RUNS),
    help=f"Runs of each rig ({RUNS} where left out); of a whole curve ({CURVE_RUNS}; {LEAST_RUNS} at least).",
)
@click.option("--first-seed", type=WholeNumber(0, _MOST_SEEDS), default=1000, show_default=True, help="Seeds count on.")
@click.option(
    "--out", type=click.Path(path_type=Path), help="Folder for trials, tables, picture; there it goes on later."
)
@click.option("--workers", type=WholeNumber(1), help="Processes of this machine; 1 where left out.")
@click.option("--scheduler", metavar="ADDRESS", help="Workers of a Dask cluster, such as tcp://127.0.0.1:8786.")
@click.option("--quiet", is_flag=True, help="No progress.")
@json_option
def command(
    rig: Path,
    healthy: bool,
    as_matrix: bool,
    flaw: str | None,
    mild: str | None,
    severe: str | None,
    limit: str | None,
    process_mean: str | None,
    process_sd: str | None,
    runs: int | None,
    first_seed: int,
    out: Path | None,
    workers: int | None,
    scheduler: str | None,
    quiet: bool,
    as_json: bool,
) -> int:
    """Take many simulated RIGs through the acceptance: --healthy, --matrix, or --flaw NAME --from SIZE --to SIZE.

    Runs that are in DIR already are not taken again: after Ctrl-C the same command goes on.

    Exit code 0: the runs were taken, and with --matrix there is no hole; 1: --matrix has a hole, a flaw that is found
    in less than 95 %; 2: no sound rig is accepted, so that --matrix says nothing; 3: stopped before the end.
    """
    if healthy + as_matrix + bool(flaw) != 1:
        raise UsageError("--healthy, --matrix, --flaw: choose one of them")
    if workers and scheduler:
        raise UsageError("--workers, --scheduler: choose one of them; a cluster brings its own workers")
    if not flaw and any((mild, severe, limit, process_mean, process_sd)):
        raise UsageError("--from, --to, --limit, --process-mean, --process-sd: belong to --flaw")
    plan = make_plan(rig, load_registry())
    asked = _asked(rig, plan, flaw, (mild, severe, limit), (process_mean, process_sd), runs) if flaw else None
    pace = Pace(quiet)
    with _folder(out) as folder, _crew(workers, scheduler) as crew:
        campaign = _Campaign(rig, plan, folder, crew, pace, first_seed, kept=out is not None)
        outcome = campaign.curve(asked) if asked else campaign.matrix(runs or RUNS, healthy)
        outcome.write(folder)
    pace.end()
    if as_json:
        click.echo(json.dumps(outcome.data | {"runs_per_second": pace.a_second}, indent=1, ensure_ascii=False))
        return outcome.exit_code
    none = f" No run was taken now: all that counts stood in {out} already; another --out measures anew."
    rate = f" {pace.a_second:.2f} runs a second." if pace.a_second else none
    click.echo(f"{outcome.text}\n\nSIMULATED: the figures hold for the twin's model of the rig.{rate}")
    return outcome.exit_code


@dataclass(frozen=True)
class _Outcome:
    """What came of a campaign, for machine, people, spreadsheet and eye; the same bytes for the same results."""

    name: str
    data: dict[str, Any]
    text: str
    rows: Sequence[Sequence[str]]
    picture: str
    exit_code: ExitCode = ExitCode.ACCEPT

    def write(self, out: Path) -> None:
        """The three files."""
        table = io.StringIO()
        csv.writer(table, lineterminator="\n").writerows(self.rows)
        json_text = json.dumps(self.data, indent=1, ensure_ascii=False) + "\n"
        for ending, text in {"json": json_text, "csv": table.getvalue(), "svg": self.picture}.items():
            try:
                (out / f"{self.name}.{ending}").write_text(text, "utf-8")
            except OSError as error:
                raise UsageError(f"{out / self.name}.{ending}: cannot be written ({error.strerror})") from None


@dataclass(frozen=True)
class _Asked:
    """What curve; `limit`: the size of the consumer's risk, `process`: mean and standard deviation; base units."""

    sizes: Axis
    limit: float
    process: tuple[float, float] | None
    runs: int


@dataclass(frozen=True)
class _Campaign:
    """What is asked for, and where it is taken and kept."""

    rig: Path
    plan: Plan
    folder: Path
    crew: Crew
    pace: Pace
    first_seed: int
    kept: bool

    def matrix(self, runs: int, healthy: bool) -> _Outcome:
        """Every flaw, or the sound rig alone."""
        with self._engine() as engine:
            seeds = range(self.first_seed, self.first_seed + runs)
            found = matrix.take_matrix(self.rig, self.plan, seeds, engine, healthy)
        return _Outcome(
            "healthy" if healthy else "matrix",
            matrix_data.as_data(found),
            matrix_data.as_text(found),
            matrix_data.as_rows(found),
            draw_matrix(found),
            ExitCode.ACCEPT if healthy else _judged(found),
        )

    def curve(self, asked: _Asked) -> _Outcome:
        """One flaw over its sizes."""
        with self._engine(asked.runs) as engine:
            measure = Measured(engine, asked.sizes, self.first_seed)
            curve = sample(asked.sizes, asked.limit, asked.runs, measure, measure.zero_is_sound)
        risks = (*global_risks(curve, *asked.process), beyond(curve, *asked.process)) if asked.process else None
        return _Outcome(
            f"curve-{asked.sizes.flaw}",
            curve_data.as_data(curve, (self.first_seed, measure.used), risks),
            curve_data.as_text(curve, self.rig, self.first_seed + measure.used - 1, risks),
            curve_data.as_rows(curve),
            draw_curve(curve),
        )

    @contextmanager
    def _engine(self, expected: int = 0) -> Iterator[Engine]:
        documents = digests(self.rig)
        job = Job(self.rig.resolve(), tuple(documents.items()))
        with (
            Results(self.folder, documents, self.kept) as results,
            Engine(results, self.crew, job, self.pace, expected) as engine,
        ):
            yield engine


def _judged(found: matrix.Matrix) -> ExitCode:
    """For a nightly job, which must fail where something passes unseen, or where nobody can say."""
    if found.sound_is_refused:
        return ExitCode.UNDECIDED
    return ExitCode.REJECT if found.holes else ExitCode.ACCEPT


@contextmanager
def _folder(out: Path | None) -> Iterator[Path]:
    """The folder asked for; else one that is thrown away."""
    if out is not None:
        yield out
        return
    with TemporaryDirectory(prefix="rigproof-") as folder:
        yield Path(folder)


class Measured:
    """Runs of one size on the engine; every run of a curve has a seed of its own, so that all are independent."""

    def __init__(self, engine: Engine, sizes: Axis, first_seed: int) -> None:
        self._engine, self._sizes, self._first_seed = engine, sizes, first_seed
        self.used = 0

    def __call__(self, size: float | None, runs: int) -> Verdicts:
        """How `runs` of them ended."""
        flaws = () if size is None else (self._sizes.planted(size),)
        first = self._first_seed + self.used
        self.used += runs
        results = self._engine.take([Trial(flaws, seed) for seed in range(first, first + runs)])
        return Verdicts.of(result.verdict for result in results)

    def zero_is_sound(self) -> bool:
        """Whether size 0, with the seed of its first run, comes to every number that the rig without the flaw has."""
        flaws = (self._sizes.planted(0.0),)
        zero, sound = self._engine.take([Trial(flaws, self._first_seed), Trial((), self._first_seed)])
        return bool(zero.numbers) and zero.numbers == sound.numbers


@contextmanager
def _crew(workers: int | None, scheduler: str | None) -> Iterator[Crew]:
    if scheduler is None:
        yield local(workers or 1)
        return
    with cluster(scheduler) as crew:
        yield crew


def _asked(
    rig: Path,
    plan: Plan,
    name: str,
    ends: tuple[str | None, str | None, str | None],
    process: tuple[str | None, str | None],
    runs: int | None,
) -> _Asked:
    """What the options of a curve come to; `ends`: mild, severe, limit. Every size is tried before anything is run."""
    known: dict[str, Flaw] = {flaw.name: flaw for flaw in find_simulator(rig, plan.registry).flaws()}
    if name not in known:
        raise UsageError(f"--flaw {name}: no flaw is called {name!r}; {did_you_mean(name, known)}")
    mild, severe, limit = ends
    if mild is None or severe is None:
        raise UsageError(f"--flaw {name}: give its sizes, --from the mild end --to the severe one")
    if runs is not None and runs < LEAST_RUNS:
        raise UsageError(
            f"--runs {runs}: a curve takes {LEAST_RUNS} at least: {SEARCH} look for the bend, and four sizes are "
            f"measured by {BLOCK} runs each"
        )
    sizes = axis(known[name], mild, severe)
    largest = sizes.rounded(sized("--limit", limit or known[name].size, sizes.kind))
    for size in (sizes.mild, sizes.severe, largest):
        simulation(plan.rig, rig, plan.registry, 0, planted([sizes.planted(size)], [known[name]])).close()
    return _Asked(sizes, largest, _process(sizes, *process), runs or CURVE_RUNS)


def _process(sizes: Axis, mean: str | None, sd: str | None) -> tuple[float, float] | None:
    if (mean is None) != (sd is None):
        raise UsageError("--process-mean, --process-sd: global risks need both")
    if mean is None or sd is None:
        return None
    found = sized("--process-mean", mean, sizes.kind), sized("--process-sd", sd, sizes.kind)
    if found[1] <= 0.0:
        raise UsageError(f"--process-sd {sd}: a standard deviation is above 0; give that of what is made")
    return found
