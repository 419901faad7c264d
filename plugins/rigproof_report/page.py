"""`report.html`: one page for people, that needs no network, no script and no colour."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from rigproof.reports import ReportWriter
from rigproof.verdict import extent, inputs, words
from rigproof.verdict.identified import of_verdict
from rigproof.verdict.record import Check, Verdict

from . import bars, budgets, paper
from .again import proof_commands, run_commands, why_not
from .drawing import Figure
from .events import step_parts
from .loops import loop_figures
from .readings import series
from .record import RunRecord, read_record
from .stated import stated
from .traces import run_figure, step_figures

if TYPE_CHECKING:
    from jinja2 import Template

MEANINGS = {
    "accept": "every check is inside its acceptance limits",
    "reject": "at least one check is outside its limits beyond doubt",
    "undecided": "something was not shown; a better measurement is needed",
    "void": "the run itself cannot be judged",
}


class Page(ReportWriter):
    """Writes `report.html`."""

    kind: ClassVar[str] = "page"
    filename: ClassVar[str] = "report.html"

    def write(self, verdict: Verdict, folder: Path) -> None:
        """Write the page; raises `OSError`.

        Without the journal that the verdict was made from the page says that, and shows nothing of the verdict.
        """
        record = read_record(verdict, folder / "journal.jsonl")
        name = folder.resolve().name
        html = _template().render(
            verdict=verdict,
            marks=paper.marks(verdict),
            margins=paper.margins(verdict, name, bool(record.doubt)),
            record=record,
            meaning=_meaning(verdict),
            identified=_identified(verdict),
            ended=_ended(verdict),
            stated=stated(record.rig) if record.rig else [],
            steps=_steps(verdict),
            words=words,
            extent=extent,
            bar=bars.bar,
            bar_width=bars.WIDTH,
            figures=_figures(verdict, record),
            budgets=[found for check in verdict.checks if (found := budgets.budget(check))],
            budget_width=budgets.WIDTH,
            proof=proof_commands(name),
            again=() if record.doubt else run_commands(verdict, record.head, name),
            why_not=why_not(verdict),
            number=count(1).__next__,
            inputs=inputs,
        )
        (folder / self.filename).write_text(html, encoding="utf-8", errors="backslashreplace")


def _meaning(verdict: Verdict) -> str:
    """What the verdict means; an accepted one may rest on the word of a person."""
    conceded = verdict.verdict == "accept" and words.deviations(verdict.installation)
    return MEANINGS[verdict.verdict] + (", or stands by a concession" if conceded else "")


def _identified(verdict: Verdict) -> list[tuple[str, str]]:
    """Part, site, operator and relief devices as stated; a real run without an operator says that nobody is named."""
    stated = of_verdict(verdict)
    real = not (verdict.simulated or verdict.replayed)
    operators = stated.operators or (("nobody is named",) if real else ())
    return list(replace(stated, operators=operators).lines())


def _ended(verdict: Verdict) -> str:
    """How the run ended, without what the reasons say already, and which steps were not taken whole."""
    said = verdict.end.partition(":")[0] + ", see above" if verdict.end in verdict.why else verdict.end
    short = [f"step {step.step} {step.kind} {step.taken}" for step in verdict.steps if step.taken != "whole"]
    return f"{said}: {', '.join(short)}" if short else said


def _figures(verdict: Verdict, record: RunRecord) -> list[Figure]:
    """All drawings of the readings."""
    if record.rig is None:
        return []
    parts, found = step_parts(record.entries), series(record.entries)
    whole = run_figure(record.rig, found, parts)
    return [
        *([whole] if whole else []),
        *step_figures(record.rig, found, parts),
        *loop_figures(record.rig, parts, verdict.checks),
    ]


def _steps(verdict: Verdict) -> list[tuple[Any, list[Check]]]:
    return [(step, [check for check in verdict.checks if check.step == step.step]) for step in verdict.steps]


@lru_cache(maxsize=1)
def _template() -> Template:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("rigproof_report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("report.html.j2")
