"""Golden verdicts: kept journals, and what judging them gave. This remakes them, on purpose:

    .venv/bin/python tests/golden/remake.py

Every kept journal is judged again, and what has changed in its verdict is said in words before it is written. A journal
stays as it is for ever; only one of `CASES` that is not there is run. Those of an older format nothing can run again.
"""

from __future__ import annotations

import gzip
import math
import os
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from rigproof.journal import read_journal
from rigproof.journal.entry import FORMAT
from rigproof.plugins import Registry, load_registry
from rigproof.run.accepting import run_and_judge
from rigproof.run.plan import make_plan
from rigproof.run.progress import Silent
from rigproof.run.simulated import find_simulator, on_twin, planted
from rigproof.verdict.difference import Difference, differences
from rigproof.verdict.judging import judge
from rigproof.verdict.record import Verdict, from_bytes, to_bytes

GOLDEN = Path(__file__).parent
ROOT = GOLDEN.parent.parent
PRESENT = GOLDEN / FORMAT.removeprefix("rigproof: ").replace("/", "-")  # journal-1


@dataclass(frozen=True)
class Case:
    """A simulated run worth keeping."""

    rig: str
    seed: int = 1
    flaws: tuple[str, ...] = ()
    procedure: str = "acceptance.yaml"


CASES = {
    "spool-accept": Case("tests/rigs/spool"),
    "spool-undecided": Case("tests/rigs/spool", seed=6),
    "spool-reject": Case("tests/rigs/spool", flaws=("thin-wall=15 %",)),
    "spool-void": Case("tests/rigs/spool", flaws=("turned-sign",)),
    "beam-by-hand": Case("rigs/beam"),
    "beam-installation": Case("rigs/beam", procedure="installation.yaml"),
    "branch-accept": Case("rigs/branch"),
}

# Numbers are the same to a ten-millionth of themselves, or of the check's standard uncertainty where they are nearly
# nothing. Sensitivities are differences (noise of 1e-10), and another numpy adds up in another order.
CLOSE = 1e-7


def kept(folder: Path) -> Verdict:
    """The golden verdict of a case."""
    return from_bytes(gzip.decompress((folder / "verdict.json.gz").read_bytes()))


def judged(folder: Path, registry: Registry) -> Verdict:
    """What judging the case's journal gives today."""
    with tempfile.TemporaryDirectory() as place:
        journal = Path(place) / "journal.jsonl"
        journal.write_bytes(gzip.decompress((folder / "journal.jsonl.gz").read_bytes()))
        return judge(read_journal(journal), registry)


def changes(old: Verdict, new: Verdict) -> list[Difference]:
    """What differs beyond `CLOSE`; which plugins judged is not asked: they change with every version."""
    settled = _settled(old.model_dump(), new.model_dump() | {"judged_with": old.judged_with})
    return differences(old, Verdict.model_validate(settled))


def _settled(old: Any, new: Any, near_nothing: float = 0.0) -> Any:
    """`new`, with the number of `old` in each place where the two are close."""
    if isinstance(old, float) and isinstance(new, float):
        return old if math.isclose(old, new, rel_tol=CLOSE, abs_tol=CLOSE * near_nothing) else new
    if isinstance(old, dict) and isinstance(new, dict):
        if "u_limit" in new:  # a check; its budget has units of its own
            near_nothing = max(new["u"], new["u_difference"] or 0.0, new["u_limit"] or 0.0)
        scales = {"budget": 0.0, "conformance_probability": 1.0}
        return {key: _settled(old.get(key), each, scales.get(key, near_nothing)) for key, each in new.items()}
    if isinstance(old, tuple) and isinstance(new, tuple) and len(old) == len(new):
        return tuple(_settled(*pair, near_nothing) for pair in zip(old, new, strict=True))
    return new


def in_words(found: Sequence[Difference]) -> list[str]:
    """A line for each difference."""
    return [f"{each.where or 'verdict'}: {each.at}: {each.old} -> {each.new}" for each in found]


def run(name: str, registry: Registry) -> None:
    """Take a case through its acceptance and keep the journal."""
    case, rig = CASES[name], Path(CASES[name].rig)
    plan = make_plan(rig, registry, case.procedure)
    flaws = planted(case.flaws, find_simulator(rig, registry).flaws())
    with tempfile.TemporaryDirectory() as place, on_twin(plan, rig, case.seed, flaws) as (reach, twin):
        run_and_judge(plan, reach, Path(place), Silent(), twin)
        _keep(PRESENT / name / "journal.jsonl.gz", (Path(place) / "journal.jsonl").read_bytes())


def _keep(path: Path, content: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(gzip.compress(content, mtime=0))


def main() -> None:
    """Remake all, and say what changed."""
    os.chdir(ROOT)  # a journal names its documents as the rig was named
    registry = load_registry()
    for name in CASES:
        if not (PRESENT / name / "journal.jsonl.gz").exists():
            run(name, registry)
    for folder in sorted(path.parent for path in GOLDEN.glob("journal-*/*/journal.jsonl.gz")):
        verdict = judged(folder, registry)
        new = not (folder / "verdict.json.gz").exists()
        said = ["new"] if new else in_words(changes(kept(folder), verdict))
        print(f"{folder.name}: {verdict.verdict}", *(said or ["nothing differs"]), sep="\n  ")
        if said:
            _keep(folder / "verdict.json.gz", to_bytes(verdict))


if __name__ == "__main__":
    main()
