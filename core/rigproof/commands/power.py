"""`rigproof power`: what the acceptance finds, and how often it is wrong, over many simulated rigs."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import click

from rigproof.campaign import curve_data, matrix, matrix_data
from rigproof.campaign.crew import Crew, Job, cluster, local
from rigproof.campaign.curve import LEAST_RUNS, sample
from rigproof.campaign.drawing import draw_curve, draw_matrix
from rigproof.campaign.engine import Engine
from rigproof.campaign.intervals import Share
from rigproof.campaign.results import Results, digests
from rigproof.campaign.risks import global_risks
from rigproof.campaign.sizes import Axis, axis
from rigproof.campaign.trial import Trial
from rigproof.errors import UsageError
from rigproof.plugins import load_registry
from rigproof.quantities import did_you_mean, parse
from rigproof.run.plan import Plan, make_plan
from rigproof.run.simulated import find_simulator, planted, simulation
from rigproof.simulation import Flaw

from .arguments import json_option, rig_argument
from .pace import Pace

_MOST_SEEDS = 2**40


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
    "--seeds", type=click.IntRange(1), default=20, show_default=True, help="Runs of each rig, but for a curve."
)
@click.option("--runs", type=click.IntRange(LEAST_RUNS), default=700, show_default=True, help="Runs of a curve.")
@click.option(
    "--first-seed", type=click.IntRange(0, _MOST_SEEDS), default=1000, show_default=True, help="Seeds count on."
)
@click.option(
    "--out", type=click.Path(path_type=Path), help="Folder for trials, tables, picture; there it goes on later."
)
@click.option("--workers", type=click.IntRange(1), help="Processes of this machine; 1 where left out.")
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
    seeds: int,
    runs: int,
    first_seed: int,
    out: Path | None,
    workers: int | None,
    scheduler: str | None,
    quiet: bool,
    as_json: bool,
) -> None:
    """Take many simulated RIGs through the acceptance: --healthy, --matrix, or --flaw NAME --from SIZE --to SIZE.

    Runs that are in DIR already are not taken again: after Ctrl-C the same command goes on.
    """
    if healthy + as_matrix + bool(flaw) != 1:
        raise UsageError("--healthy, --matrix, --flaw: choose one of them")
    if workers and scheduler:
        raise UsageError("--workers, --scheduler: choose one of them; a cluster brings its own workers")
    if not flaw and any((mild, severe, limit, process_mean, process_sd)):
        raise UsageError("--from, --to, --limit, --process-mean, --process-sd: belong to --flaw")
    plan = make_plan(rig, load_registry())
    pace = Pace(quiet)
    with _folder(out) as folder:
        if flaw:
            sizes, largest = _axis(rig, plan, flaw, mild, severe, limit)
            process = _process(sizes, process_mean, process_sd)
            with _engine(rig, folder, workers, scheduler, pace, runs) as engine:
                measure = Measured(engine, sizes, first_seed)
                curve = sample(sizes, largest, runs, measure)
            risks = global_risks(curve, *process) if process else None
            data = curve_data.as_data(curve, (first_seed, measure.used), risks)
            text = curve_data.as_text(curve, rig, risks)
            _write(folder, f"curve-{flaw}", data, curve_data.as_rows(curve), draw_curve(curve))
        else:
            with _engine(rig, folder, workers, scheduler, pace) as engine:
                found = matrix.take_matrix(rig, plan, range(first_seed, first_seed + seeds), engine, healthy)
            data, text = matrix_data.as_data(found), matrix_data.as_text(found)
            _write(folder, "healthy" if healthy else "matrix", data, matrix_data.as_rows(found), draw_matrix(found))
    pace.end()
    said = f"{text}\n\nSIMULATED: the figures hold for the twin's model of the rig."
    click.echo(json.dumps(data, indent=1, ensure_ascii=False) if as_json else said)


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

    def __call__(self, size: float | None, runs: int) -> Share:
        """How many of `runs` were accepted."""
        flaws = () if size is None else (self._sizes.planted(size),)
        first = self._first_seed + self.used
        self.used += runs
        results = self._engine.take([Trial(flaws, seed) for seed in range(first, first + runs)])
        return Share(sum(result.verdict == "accept" for result in results), runs)


@contextmanager
def _engine(
    rig: Path, out: Path, workers: int | None, scheduler: str | None, pace: Pace, expected: int = 0
) -> Iterator[Engine]:
    documents = digests(rig)
    job = Job(rig.resolve(), tuple(documents.items()))
    with (
        Results(out, documents) as results,
        _crew(workers, scheduler) as crew,
        Engine(results, crew, job, pace, expected) as engine,
    ):
        yield engine


@contextmanager
def _crew(workers: int | None, scheduler: str | None) -> Iterator[Crew]:
    if scheduler is None:
        yield local(workers or 1)
        return
    with cluster(scheduler) as crew:
        yield crew


def _axis(
    rig: Path, plan: Plan, name: str, mild: str | None, severe: str | None, limit: str | None
) -> tuple[Axis, float]:
    """The sizes, and that of the consumer's risk. Every size is tried before anything is run."""
    known: dict[str, Flaw] = {flaw.name: flaw for flaw in find_simulator(rig, plan.registry).flaws()}
    if name not in known:
        raise UsageError(f"--flaw {name}: no flaw is called {name!r}; {did_you_mean(name, known)}")
    if mild is None or severe is None:
        raise UsageError(f"--flaw {name}: give its sizes, --from the mild end --to the severe one")
    sizes = axis(known[name], mild, severe)
    largest = parse(sizes.shown(parse(limit or known[name].size, sizes.kind).value), sizes.kind).value
    for size in (sizes.mild, sizes.severe, largest):
        simulation(plan.rig, rig, plan.registry, 0, planted([sizes.planted(size)], [known[name]])).close()
    return sizes, largest


def _process(sizes: Axis, mean: str | None, sd: str | None) -> tuple[float, float] | None:
    if (mean is None) != (sd is None):
        raise UsageError("--process-mean, --process-sd: global risks need both")
    return None if mean is None or sd is None else (parse(mean, sizes.kind).value, parse(sd, sizes.kind).value)


def _write(out: Path, name: str, data: dict[str, Any], rows: Sequence[Sequence[str]], picture: str) -> None:
    """The three files of an outcome, always the same bytes for the same results."""
    table = io.StringIO()
    csv.writer(table, lineterminator="\n").writerows(rows)
    texts = {"json": json.dumps(data, indent=1, ensure_ascii=False) + "\n", "csv": table.getvalue(), "svg": picture}
    for ending, text in texts.items():
        try:
            (out / f"{name}.{ending}").write_text(text, "utf-8")
        except OSError as error:
            raise UsageError(f"{out / name}.{ending}: cannot be written ({error.strerror})") from None
