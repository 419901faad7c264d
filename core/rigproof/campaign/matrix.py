"""The detection matrix: which check catches what share of the rigs with a flaw, and of the sound ones."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from rigproof.errors import UsageError
from rigproof.run.plan import Plan
from rigproof.run.simulated import find_simulator, planted, simulation

from .engine import Engine
from .intervals import Share
from .trial import Result, Trial
from .verdicts import Verdicts

WANTED = 0.95  # a flaw that is found less often is a hole
SOUND = "sound rig"
VOID = "run ends void"  # a trip, a lost instrument: no check, but no acceptance either


@dataclass(frozen=True)
class Row:
    """One flaw at one size, or the sound rig, over all seeds. `found` are the runs that were not accepted."""

    name: str
    flaws: tuple[str, ...]
    meaning: str
    results: tuple[Result, ...]

    @property
    def found(self) -> Share:
        """How many were not accepted."""
        return self.verdicts.accepted.rest

    @property
    def verdicts(self) -> Verdicts:
        """How many of each."""
        return Verdicts.of(result.verdict for result in self.results)

    def by(self, check: str) -> Share:
        """How many this check did not accept."""
        return Share(sum(check in catchers(result) for result in self.results), len(self.results))

    def by_finding(self, check: str) -> dict[str, int]:
        """Of these, how many the check rejected (by one of its subjects at least), left undecided, or were void."""
        found = Counter(catchers(result)[check] for result in self.results if check in catchers(result))
        return {finding: found[finding] for finding in ("undecided", "reject", "void")}

    @property
    def missed(self) -> Trial | None:
        """The first run that was accepted."""
        return next((result.trial for result in self.results if result.verdict == "accept"), None)


@dataclass(frozen=True)
class Matrix:
    """`absent`: flaws that the rig cannot have, with the reason."""

    rig: Path
    seeds: range
    rows: tuple[Row, ...]
    absent: tuple[tuple[str, str], ...]

    @property
    def checks(self) -> tuple[str, ...]:
        """Every check that caught anything, in the order of the procedure; then the void runs."""
        first: dict[str, int] = {}
        for row in self.rows:
            for result in row.results:
                for caught in result.caught:
                    name = f"{caught.kind}: {caught.name}"
                    first[name] = min(caught.step, first.get(name, caught.step))
        names = sorted(first, key=lambda name: (first[name], name))
        return (*names, VOID) if any(row.verdicts.void for row in self.rows) else tuple(names)

    @property
    def holes(self) -> tuple[Row, ...]:
        """Flaws found too seldom."""
        return tuple(row for row in self.rows[1:] if row.found.value < WANTED and row not in self.idle)

    @property
    def sound_is_refused(self) -> bool:
        """No sound rig is accepted: a refusal tells nothing of a flaw."""
        return self.rows[0].verdicts.accept == 0

    @property
    def idle(self) -> tuple[Row, ...]:
        """Flaws that changed no number of any run, so that nothing could find them."""
        sound = [result.numbers for result in self.rows[0].results]
        return tuple(row for row in self.rows[1:] if all(sound) and [each.numbers for each in row.results] == sound)


def catchers(result: Result) -> dict[str, str]:
    """What stood against acceptance, and as what: the worst finding of a check's subjects, or void."""
    found: dict[str, str] = {VOID: "void"} if result.verdict == "void" else {}
    for caught in sorted(result.caught, key=lambda each: each.finding == "reject"):
        found[f"{caught.kind}: {caught.name}"] = caught.finding
    return found


def possible(rig: Path, plan: Plan) -> tuple[list[tuple[str, str]], list[tuple[str, str]]]:
    """(flaw as written with its stated size, meaning) of all the rig can have; (flaw, reason) of the others."""
    have, absent = [], []
    for flaw in find_simulator(rig, plan.registry).flaws():
        written = f"{flaw.name}={flaw.size}" if flaw.kind else flaw.name
        try:
            simulation(plan.rig, rig, plan.registry, 0, planted([written], [flaw])).close()
        except UsageError as error:
            absent.append((written, _why(str(error))))
        else:
            have.append((written, flaw.meaning))
    return have, absent


def _why(said: str) -> str:
    """Without the flaw's name, which stands before it, and without what whoever plants one flaw may do."""
    return said.partition(": ")[2].partition(". ")[0] if said.startswith("flaw ") else said.partition(". ")[0]


def take_matrix(rig: Path, plan: Plan, seeds: range, engine: Engine, healthy: bool = False) -> Matrix:
    """Run every flaw, and the sound rig, with every seed; `healthy`: the sound rig alone.

    Seed by seed, so that a part of it shows all flaws.
    """
    have, absent = ([], []) if healthy else possible(rig, plan)
    kinds = [(SOUND, (), "Nothing is wrong."), *((text, (text,), meaning) for text, meaning in have)]
    results = iter(engine.take([Trial(flaws, seed) for seed in seeds for _, flaws, _ in kinds]))
    by_seed = [[next(results) for _ in kinds] for _ in seeds]
    rows = (
        Row(name, flaws, meaning, tuple(row[place] for row in by_seed))
        for place, (name, flaws, meaning) in enumerate(kinds)
    )
    return Matrix(rig, seeds, tuple(rows), tuple(absent))
