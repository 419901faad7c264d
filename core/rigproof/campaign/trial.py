"""One acceptance of a campaign: rig, flaws, seed; and what it found, small enough to keep thousands."""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from shlex import quote

from rigproof.journal import read_journal
from rigproof.plugins import load_registry
from rigproof.run.plan import Plan, make_plan
from rigproof.run.progress import Silent
from rigproof.run.runner import run
from rigproof.run.simulated import find_simulator, on_twin, planted
from rigproof.verdict.judging import Once, judge
from rigproof.verdict.record import Check, Finding, Outcome, Verdict

_SHARED_MEMORY = Path("/dev/shm")  # noqa: S108  the folders made in it have names of their own
# A record that is thrown away need not wait for a disk: a journal syncs with every command to the rig.
MEMORY = _SHARED_MEMORY if os.access(_SHARED_MEMORY, os.W_OK) else None


@dataclass(frozen=True, slots=True)
class Trial:
    """`flaws` as written for `rigproof run --flaw`; the same trial gives the same findings anywhere."""

    flaws: tuple[str, ...]
    seed: int

    def command(self, rig: Path) -> str:
        """What reproduces it in a shell."""
        flaws = "".join(f" --flaw '{flaw}'" for flaw in self.flaws)
        return f"rigproof run {quote(str(rig))} --simulated --seed {self.seed}{flaws}"


@dataclass(frozen=True, slots=True)
class Caught:
    """A check that did not accept."""

    step: int
    kind: str
    name: str
    subject: str
    at: str
    finding: Finding


@dataclass(frozen=True, slots=True)
class Result:
    """What a trial came to. `why` is the verdict's own first reason; `caught` are the checks that did not accept.

    `numbers`: a digest of all that was measured; alike in two runs where every check came to the same.
    """

    trial: Trial
    verdict: Outcome
    why: str
    caught: tuple[Caught, ...]
    numbers: str = ""


def take(rig: Path, trial: Trial) -> Result:
    """Take the simulated rig through its acceptance; the record is thrown away.

    Raises `UsageError` for a flaw that the rig cannot have, `DocumentError` for documents with faults.
    """
    verdict = acceptance(rig, trial)
    caught = tuple(_caught(check) for check in verdict.checks if check.finding != "accept")
    return Result(trial, verdict.verdict, verdict.why[0] if verdict.why else "", caught, _digest(verdict.checks))


def acceptance(rig: Path, trial: Trial) -> Verdict:
    """The whole verdict of a trial."""
    plan = plan_of(rig.resolve())
    flaws = planted(trial.flaws, find_simulator(rig, plan.registry).flaws())
    with (
        tempfile.TemporaryDirectory(prefix="rigproof-", dir=MEMORY) as folder,
        on_twin(plan, rig, trial.seed, flaws) as (
            reach,
            twin,
        ),
    ):
        once = Once()
        journal = run(plan, reach, Path(folder), Silent(), twin, once=once)
        return judge(read_journal(journal), plan.registry, once)


@lru_cache(maxsize=4)
def plan_of(rig: Path) -> Plan:
    """Documents are read once for all trials of a process."""
    return make_plan(rig, load_registry())


def _digest(checks: Sequence[Check]) -> str:
    numbers = repr([(check.step, check.name, check.subject, check.at, check.measured) for check in checks])
    return hashlib.sha256(numbers.encode()).hexdigest()[:16]


def _caught(check: Check) -> Caught:
    return Caught(check.step, check.step_kind, check.name, check.subject, check.at, check.finding)
