"""The detection matrix: which check catches what share of the rigs with a flaw, and of the sound ones."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from rigproof.errors import UsageError
from rigproof.run.plan import Plan
from rigproof.run.simulated import find_simulator, planted, simulation

from .engine import Engine
from .intervals import CONFIDENCE, Share
from .trial import Result, Trial

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
        return Share(sum(result.verdict != "accept" for result in self.results), len(self.results))

    @property
    def verdicts(self) -> dict[str, int]:
        """How many of each."""
        counted = Counter(result.verdict for result in self.results)
        return {verdict: counted[verdict] for verdict in ("accept", "undecided", "reject", "void")}

    def by(self, check: str) -> Share:
        """How many this check did not accept."""
        return Share(sum(check in catchers(result) for result in self.results), len(self.results))

    @property
    def hole(self) -> bool:
        """A flaw that is found too seldom."""
        return bool(self.flaws) and self.found.value < WANTED

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
        return (*names, VOID) if any(row.verdicts["void"] for row in self.rows) else tuple(names)

    @property
    def holes(self) -> tuple[Row, ...]:
        """Flaws found too seldom."""
        return tuple(row for row in self.rows if row.hole)


def catchers(result: Result) -> set[str]:
    """What stood against acceptance."""
    found = {f"{caught.kind}: {caught.name}" for caught in result.caught}
    return found | {VOID} if result.verdict == "void" else found


def possible(rig: Path, plan: Plan) -> tuple[list[tuple[str, str]], list[tuple[str, str]]]:
    """(flaw as written with its stated size, meaning) of all the rig can have; (flaw, reason) of the others."""
    have, absent = [], []
    for flaw in find_simulator(rig, plan.registry).flaws():
        written = f"{flaw.name}={flaw.size}" if flaw.kind else flaw.name
        try:
            simulation(plan.rig, rig, plan.registry, 0, planted([written], [flaw])).close()
        except UsageError as error:
            absent.append((written, str(error)))
        else:
            have.append((written, flaw.meaning))
    return have, absent


def take_matrix(rig: Path, plan: Plan, seeds: range, engine: Engine) -> Matrix:
    """Run every flaw, and the sound rig, with every seed; seed by seed, so that a part of it shows all flaws."""
    have, absent = possible(rig, plan)
    kinds = [(SOUND, (), "Nothing is wrong."), *((text, (text,), meaning) for text, meaning in have)]
    results = iter(engine.take([Trial(flaws, seed) for seed in seeds for _, flaws, _ in kinds]))
    by_seed = [[next(results) for _ in kinds] for _ in seeds]
    rows = (
        Row(name, flaws, meaning, tuple(row[place] for row in by_seed))
        for place, (name, flaws, meaning) in enumerate(kinds)
    )
    return Matrix(rig, seeds, tuple(rows), tuple(absent))


def as_data(matrix: Matrix) -> dict[str, Any]:
    """For a machine; the same campaign gives the same data."""
    return {
        "format": "rigproof: matrix/1",
        "seeds": {"first": matrix.seeds.start, "count": len(matrix.seeds)},
        "confidence": CONFIDENCE,
        "wanted": WANTED,
        "rows": [_row(row, matrix) for row in matrix.rows],
        "holes": [row.name for row in matrix.holes],
        "cannot have": [{"flaw": flaw, "why": why} for flaw, why in matrix.absent],
    }


def _row(row: Row, matrix: Matrix) -> dict[str, Any]:
    missed = row.missed if row.flaws else None
    return {
        "name": row.name,
        "flaws": list(row.flaws),
        "meaning": row.meaning,
        "verdicts": row.verdicts,
        "found": share_data(row.found),
        "by": {check: share_data(row.by(check)) for check in matrix.checks if row.by(check).count},
        "missed by": missed.command(matrix.rig) if missed else None,
    }


def share_data(share: Share) -> dict[str, float]:
    """A share and its interval."""
    lower, upper = share.interval()
    return {"count": share.count, "of": share.of, "share": share.value, "lower": lower, "upper": upper}


def as_rows(matrix: Matrix) -> list[list[str]]:
    """For a spreadsheet: a line for each flaw and check; `any` for the verdict as a whole."""
    rows = [["flaw", "check", "caught", "of", "share", "lower", "upper"]]
    for row in matrix.rows:
        shares = [("any", row.found), *((check, row.by(check)) for check in matrix.checks)]
        rows += [[row.name, check, *map(str, share_data(share).values())] for check, share in shares]
    return rows


def as_text(matrix: Matrix) -> str:
    """For people: what was found, by what, the holes, and what the number of seeds can show."""
    width = max(len(row.name) for row in matrix.rows)
    lines = [f"{'':{width}}  not accepted (95 % interval)  by"]
    lines += [f"{row.name:{width}}  {row.found!s:29}  {_by(row, matrix.checks)}" for row in matrix.rows]
    n = len(matrix.seeds)
    lines.append(f"\n{n} seeds from {matrix.seeds.start}: what is found each time is found in at least "
                 f"{100 * Share(n, n).interval()[0]:.0f} %, so much is sure.")  # fmt: skip
    lines += _listed("Holes (found in less than 95 %)", [_hole(row, matrix.rig) for row in matrix.holes])
    return "\n".join(lines + _listed("This rig cannot have", [f"{flaw}: {why}" for flaw, why in matrix.absent]))


def _by(row: Row, checks: Sequence[str]) -> str:
    counted = sorted(((row.by(check), check) for check in checks), key=lambda pair: -pair[0].count)
    return ", ".join(f"{check} {100 * share.value:.0f} %" for share, check in counted if share.count) or "–"


def _hole(row: Row, rig: Path) -> str:
    return f"{row.name}: {row.found}. {row.meaning}" + (f"\n    {row.missed.command(rig)}" if row.missed else "")


def _listed(title: str, items: Sequence[str]) -> list[str]:
    return ["", f"{title}:", *(f"  {item}" for item in items)] if items else ["", f"{title}: none."]
