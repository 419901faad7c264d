"""The trials of a rig's nightly.yaml, and what each found beside what it should find."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product
from pathlib import Path

from rigproof.documents import read_document
from rigproof.documents.nightly import (
    ExpectedCheck,
    MadeCheck,
    NightlyContext,
    NightlyDocument,
    NightlyTrial,
    plain,
)
from rigproof.errors import DocumentError, Fault, UsageError
from rigproof.run.plan import Plan
from rigproof.run.simulated import find_simulator, planted, simulation

from .trial import Caught, Result, Trial

NIGHTLY = "nightly.yaml"


@dataclass(frozen=True)
class Expectation:
    """One trial and what must become of it. `name` is its own within the document: `thin-wall[10%-seed3]`."""

    name: str
    trial: Trial
    told: NightlyTrial


def load_nightly(folder: Path, plan: Plan) -> list[Expectation]:
    """Every trial of a rig's nightly.yaml. Raises `DocumentError` with all its faults."""
    document = read_document(NightlyDocument, folder / NIGHTLY, context=_context(folder, plan))
    found = []
    for told in document.trials:
        for size, seed in product(told.sizes or [""], told.seeds or document.seeds):
            written = (f"{told.flaw}={size}" if size else told.flaw,) if told.flaw else ()
            place = "-".join(filter(None, (plain(size), f"seed{seed}")))
            found.append(Expectation(f"{told.flaw or 'sound'}[{place}]", Trial(written, seed), told))
    return found


def faults_of_nightly(folder: Path) -> tuple[Fault, ...]:
    """What is wrong in a rig's nightly.yaml, as far as it shows without the rig; nothing where there is none."""
    try:
        if (folder / NIGHTLY).exists():
            read_document(NightlyDocument, folder / NIGHTLY)
    except DocumentError as error:
        return error.faults
    return ()


def _context(folder: Path, plan: Plan) -> NightlyContext:
    flaws = find_simulator(folder, plan.registry).flaws()

    def refuses(written: str) -> str:
        try:
            simulation(plan.rig, folder, plan.registry, 0, planted((written,), flaws)).close()
        except UsageError as error:
            return str(error)
        return ""

    whole = (step for step in plan.rehearsed if not step.trouble and not step.stopped)
    checks = (found.check for step in whole for found in step.checks)
    return NightlyContext(
        flaws={flaw.name: flaw for flaw in flaws},
        refuses=refuses,
        steps=[step.kind for step in plan.procedure.steps],
        checks=[MadeCheck(check.step, check.step_kind, check.name, check.subject) for check in checks],
    )


@dataclass(frozen=True)
class Row:
    """What was expected and what was found, as texts; "" where one of them is nothing."""

    expected: str
    found: str
    as_told: bool


def compare(told: NightlyTrial, result: Result) -> list[Row]:
    """Side by side: the verdict, then the checks. All is well where every row is as told."""
    return [*_ends(told, result), *_checks(told, result)]


def _ends(told: NightlyTrial, result: Result) -> Iterator[Row]:
    yield Row(told.verdict, result.verdict, told.verdict == result.verdict)
    if told.why:
        yield Row(f"because: {told.why}", f"because: {result.why}", told.why in result.why)
    elif result.verdict == "void":
        yield Row("", f"because: {result.why}", False)


def _checks(told: NightlyTrial, result: Result) -> Iterator[Row]:
    """A check that must be found, then what else was. Beside a reject, what is undecided is of no account."""
    if told.verdict == result.verdict == "void":
        return  # what was measured until then depends on when it ended
    left = {_said(each): each for each in result.caught}
    for check in told.checks:
        mine = {text: each for text, each in left.items() if _is(check, each)}
        well = {text: each for text, each in mine.items() if each.finding == told.verdict}
        yield Row(_wanted(check, told.verdict), next(iter(well or mine), ""), bool(well))
        left = {text: each for text, each in left.items() if text not in mine}
    for text, each in left.items():
        if any(_is(check, each) for check in told.also_possible):
            yield Row("possible", text, True)
        elif each.finding == "reject" or told.verdict != "reject":
            yield Row("", text, False)


def _is(check: ExpectedCheck, caught: Caught) -> bool:
    step = check.step in {caught.kind, str(caught.step)}
    return step and (check.check, check.subject) == (caught.name, caught.subject)


def _wanted(check: ExpectedCheck, finding: str) -> str:
    return f"{check.step}: {check.check} of {check.subject}: {finding}"


def _said(caught: Caught) -> str:
    at = f" ({caught.at})" if caught.at else ""
    return f"{caught.kind}: {caught.name} of {caught.subject}{at}: {caught.finding}"
