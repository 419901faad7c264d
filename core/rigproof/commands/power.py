"""`rigproof power`: how good a procedure is, counted on the simulated rig."""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path
from typing import Any

import click

from rigproof.campaign.curve import Curve, trace
from rigproof.campaign.engine import Crew
from rigproof.campaign.intervals import Share
from rigproof.campaign.matrix import Row, row, trials
from rigproof.campaign.results import Results
from rigproof.campaign.tables import curve_csv, curve_lines, matrix_csv, matrix_lines
from rigproof.campaign.trial import Result, Trial, plan_of
from rigproof.errors import ExitCode, UsageError
from rigproof.quantities import parse, show
from rigproof.run.simulated import find_simulator, planted
from rigproof.simulation import Flaw

from .arguments import json_option, rig_argument

TRIALS = "trials.jsonl"


@click.command("power")
@rig_argument
@click.option("--healthy", is_flag=True, help="The sound rig: how often it is accepted.")
@click.option("--matrix", is_flag=True, help="Every flaw at its default size: which check finds it, how often.")
@click.option("--flaw", metavar="NAME", help="One flaw over sizes --from to --to: the probability of acceptance.")
@click.option("--from", "low", metavar="SIZE", help="Smallest size, with its unit.")
@click.option("--to", "high", metavar="SIZE", help="Largest size, with its unit.")
@click.option("--sizes", type=click.IntRange(2, 60), default=9, show_default=True, help="How many sizes of a flaw.")
@click.option("--runs", type=click.IntRange(1, 10**6), default=20, show_default=True, help="Runs of each rig and size.")
@click.option("--first-seed", type=click.IntRange(0, 2**62), default=1000, show_default=True, help="Seeds count on.")
@click.option("--workers", type=click.IntRange(1, 256), default=1, show_default=True, help="Processes at work.")
@click.option("--out", type=click.Path(path_type=Path), help="Folder for trials and tables; there it goes on later.")
@json_option
def command(
    rig: Path,
    healthy: bool,
    matrix: bool,
    flaw: str | None,
    low: str | None,
    high: str | None,
    sizes: int,
    runs: int,
    first_seed: int,
    workers: int,
    out: Path | None,
    as_json: bool,
) -> int:
    """Take RIG through many simulated acceptances, and say what they find."""
    if healthy + matrix + (flaw is not None) != 1:
        raise UsageError("--healthy, --matrix, --flaw: choose one of them")
    if (flaw is not None) != (low is not None and high is not None):
        raise UsageError("--flaw, --from, --to: these three go together, such as --flaw NAME --from '1 %' --to '5 %'")
    known = find_simulator(rig, plan_of(rig.resolve()).registry).flaws()
    with Crew(rig, workers) as crew:
        campaign = _Campaign(rig, out, runs, first_seed, crew, quiet=as_json or not sys.stderr.isatty())
        if flaw is not None and low is not None and high is not None:
            campaign.curve(_one(flaw, known), low, high, sizes)
        else:
            campaign.matrix([""] if healthy else ["", *(f"{f.name}={f.size}" if f.kind else f.name for f in known)])
    campaign.report(as_json)
    return ExitCode.ACCEPT


def _one(name: str, known: tuple[Flaw, ...]) -> Flaw:
    planted((name,), known)  # says what is wrong with the name
    found = next(flaw for flaw in known if flaw.name == name)
    if not found.kind:
        raise UsageError(f"--flaw {name}: has no size; its share of accepted runs stands in --matrix")
    return found


class _Campaign:
    """What was asked for, what came of it, and how long it took."""

    def __init__(self, rig: Path, out: Path | None, runs: int, first_seed: int, crew: Crew, *, quiet: bool) -> None:
        self.out, self.runs, self.first_seed, self.crew = out, runs, first_seed, crew
        if out is not None:
            try:
                out.mkdir(parents=True, exist_ok=True)
            except OSError as error:
                raise UsageError(f"--out {out}: cannot be made ({error.strerror}); choose another folder") from None
        self.results = Results(rig, out / TRIALS if out else None)
        self.quiet = quiet
        self.began, self.taken = time.monotonic(), 0
        self.lines: list[str] = []
        self.data: dict[str, Any] = {}

    def matrix(self, flaws: list[str]) -> None:
        """One row a flaw."""
        rows, cannot = [], {}
        for flaw in flaws:
            try:
                rows.append(row(flaw, self._take(flaw, trials(flaw, self.runs, self.first_seed))))
            except UsageError as error:
                cannot[flaw] = str(error)
        self.lines = matrix_lines(rows, cannot)
        self.data = {"rows": [_row_data(each) for each in rows], "cannot_be_planted": cannot}
        self.data["accepted_share"] = rows[0].ends["accept"].share if rows else None
        self._write("matrix.csv", matrix_csv(rows))

    def curve(self, flaw: Flaw, low: str, high: str, sizes: int) -> None:
        """The operating characteristic of one flaw."""
        least, most = (parse(text, flaw.kind).value for text in (low, high))
        if not least < most:
            raise UsageError(f"--from {low} --to {high}: must rise; swap the sizes")

        def accepted(size: float, runs: int) -> int:
            written = f"{flaw.name}={show(size, flaw.kind, 6)}"
            return sum(r.verdict == "accept" for r in self._take(written, trials(written, runs, self.first_seed)))

        found = trace(accepted, least, most, sizes, self.runs)
        self.lines = curve_lines(found, flaw)
        self.data = {"flaw": flaw.name, **_curve_data(found)}
        self._write("curve.csv", curve_csv(found, flaw))

    def report(self, as_json: bool) -> None:
        """On the screen, or as JSON."""
        took = time.monotonic() - self.began
        self.data |= {"runs": self.taken, "runs_per_second": self.taken / took if self.taken else None}
        if as_json:
            click.echo(json.dumps(self.data, ensure_ascii=False))
            return
        for line in self.lines:
            click.echo(line)
        rate = f", {self.taken / took:.2f} a second" if self.taken else ""
        click.echo(f"\n{self.taken} runs taken now{rate}. SIMULATED: the figures hold for the twin's model of the rig.")

    def _take(self, flaw: str, wanted: list[Trial]) -> list[Result]:
        self.taken += sum(trial not in self.results for trial in wanted)
        began = time.monotonic()

        def progress(done: int, of: int) -> None:
            left = (time.monotonic() - began) / done * (of - done)
            if not self.quiet and done < of:
                click.echo(f"\r{flaw or 'sound rig'}: {done} of {of}, {left:.0f} s left   ", nl=False, err=True)

        results = self.crew.take(wanted, self.results, progress)
        if not self.quiet:
            click.echo(f"\r{' ' * 70}\r", nl=False, err=True)
        return results

    def _write(self, name: str, text: str) -> None:
        if self.out is not None:
            (self.out / name).write_text(text, encoding="utf-8")


def _share_data(one: Share) -> dict[str, float]:
    return {"count": one.count, "runs": one.runs, "share": one.share, "low": one.low, "high": one.high}


def _row_data(one: Row) -> dict[str, Any]:
    return {
        "flaw": one.flaw,
        "caught": _share_data(one.caught),
        "ends": {verdict: _share_data(each) for verdict, each in one.ends.items()},
        "checks": [{"check": text, **_share_data(each)} for text, each in one.checks],
        "hole": one.hole,
    }


def _curve_data(curve: Curve) -> dict[str, Any]:
    caught, low, high = curve.size_caught()
    return {
        "points": [{"size": p.size, "smooth": p.smooth, **_share_data(p.accepted)} for p in curve.points],
        "size_caught_95": caught,
        "too_few_at": low,
        "enough_at": high,
    }
