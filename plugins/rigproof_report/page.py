"""`report.html`: one page for people, that needs no network, no script and no colour."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from rigproof.documents import load_rig
from rigproof.errors import RigproofError
from rigproof.journal import read_journal
from rigproof.plugins import load_registry
from rigproof.reports import ReportWriter
from rigproof.verdict import words
from rigproof.verdict.record import BudgetLine, Check, Verdict

from . import bars
from .drawings import HEIGHT, WIDTH, Drawing, loops, traces
from .readings import series

if TYPE_CHECKING:
    from jinja2 import Template

SIGNS = {"accept": "✔", "reject": "✘", "undecided": "?", "void": "∅"}
MEANINGS = {
    "accept": "every check lies inside its acceptance limits",
    "reject": "at least one check is outside its limits beyond doubt",
    "undecided": "something was not shown; a better measurement is needed",
    "void": "the run itself cannot be judged",
}
MOST_LINES = 8  # of a budget; what is left out is the smallest


class Page(ReportWriter):
    """Writes `report.html`."""

    kind: ClassVar[str] = "page"
    filename: ClassVar[str] = "report.html"

    def write(self, verdict: Verdict, folder: Path) -> None:
        """Write the page; raises `OSError`. Without a journal that can be drawn it has no drawings, and says so."""
        drawn = _drawings(folder / "journal.jsonl")
        html = _template().render(
            verdict=verdict,
            sign=SIGNS[verdict.verdict],
            signs=SIGNS,
            meaning=_meaning(verdict),
            steps=list(_steps(verdict)),
            words=words,
            bar=bars.bar,
            bar_width=bars.WIDTH,
            width=WIDTH,
            height=HEIGHT,
            drawn=drawn,
            budget=_budget,
            show=_in_words,
        )
        (folder / self.filename).write_text(html, encoding="utf-8", errors="backslashreplace")


def _meaning(verdict: Verdict) -> str:
    """What the verdict means; an accepted one may rest on the word of a person."""
    conceded = verdict.verdict == "accept" and words.deviations(verdict.installation)
    return MEANINGS[verdict.verdict] + (", or stands by a concession" if conceded else "")


@dataclass(frozen=True)
class Drawn:
    """Drawings of the readings, or why there are none."""

    traces: list[Drawing]
    loops: list[tuple[Drawing, Drawing]]
    trouble: str = ""


def _drawings(journal: Path) -> Drawn:
    try:
        entries = read_journal(journal).entries
        head = entries[0].data
        rig = load_rig(text=head["rig"]["text"], name=head["rig"]["file"], registry=load_registry())
        return Drawn(traces(rig, series(rig, entries), entries), loops(rig, entries))
    except RigproofError as error:
        return Drawn([], [], str(error))


def _steps(verdict: Verdict) -> Iterator[tuple[Any, list[Check]]]:
    for step in verdict.steps:
        yield step, [check for check in verdict.checks if check.step == step.step]


def _budget(check: Check) -> tuple[list[BudgetLine], float]:
    """The largest lines of a budget, and the share of the variance that all others have."""
    lines = sorted((line for line in check.budget if line.share > 0), key=lambda line: -line.share)
    return lines[:MOST_LINES], sum(line.share for line in lines[MOST_LINES:])


def _in_words(number: float) -> str:
    """A number of a budget, in its own unit."""
    return f"{number:.4g}"


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
