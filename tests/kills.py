"""Runs killed at random moments and resumed: `python tests/kills.py --kills 200 --seed 0`.

Each trial is an acceptance of the sound spool in a process of its own that ends by `kill -9` at a random moment of its
duration. What the journal had acknowledged until then (every call that had returned) must stand in it, entry for entry;
then `--resume` must take the run to an accept that judges again to the same bytes, with the old lines untouched. Where
the kill came before the first entry there is nothing to resume, and a new run is taken.
"""

from __future__ import annotations

import argparse
import os
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from rigproof.documents import fit, load_procedure
from rigproof.errors import UsageError
from rigproof.journal import Entry, JournalWriter, read_journal
from rigproof.plugins import load_registry
from rigproof.run import runner
from rigproof.run.accepting import run_and_judge
from rigproof.run.plan import Plan, make_plan
from rigproof.run.progress import Silent
from rigproof.run.resuming import take_up
from rigproof.run.simulated import on_twin
from rigproof.verdict.judging import judge
from rigproof.verdict.record import from_bytes, to_bytes

SPOOL = Path(__file__).parent / "rigs" / "spool"
STEPS = """\
  - resistance: {}
  - insulation: {electrification: 5 s}
  - balance: {settle: 5 s}
  - shunt: {resistor: 174.8 kΩ ± 0.1 %}
  - cycles: {source: pump, to: 25 bar, times: 2, levels: 2, exercise: 0, dwell: 2 s, rest: 5 s}
  - proof: {source: pump, to: 35.75 bar, stages: [50 %, 100 %], dwell: 2 s, hold: 30 s, rest: 5 s}
"""


class Acknowledging(JournalWriter):
    """Says on a pipe which entry is kept, once the call that wrote it returns."""

    pipe = -1

    def write(self, kind: str, /, **fields: Any) -> Entry:
        """As ever."""
        return self._said(super().write(kind, **fields))

    def samples(self, *arguments: Any, **fields: Any) -> Entry:
        """As ever."""
        return self._said(super().samples(*arguments, **fields))

    def _said(self, entry: Entry) -> Entry:
        os.write(self.pipe, f"{entry.n}\n".encode())
        return entry


@dataclass(frozen=True)
class Trial:
    """What became of one kill."""

    at_s: float
    acknowledged: int
    lost: int
    torn: bool
    step: str  # that was cut off, or where else the kill struck
    outcome: str  # of the resumed run; what is wrong otherwise


def plan_of_the_spool() -> Plan:
    """The spool with a short procedure of all step kinds."""
    plan = make_plan(SPOOL, load_registry())
    procedure = load_procedure(text=f"rigproof: procedure/1\nname: x\nsteps:\n{STEPS}", registry=plan.registry)
    fit(plan.rig, procedure)
    return Plan(plan.rig, procedure, plan.registry)


def acceptance(plan: Plan, folder: Path, resume: bool) -> None:
    """One session, in this process."""
    earlier = take_up(folder, plan, simulated=True, bench=False) if resume else None
    with on_twin(plan, SPOOL, 0, (), earlier.behind_s if earlier else 0.0) as (reach, twin):
        run_and_judge(plan, reach, folder, Silent(), twin, earlier)


def in_a_child(job: Callable[[], None], kill_after_s: float | None = None) -> tuple[set[int], float]:
    """Do a job in a fork, killed after a while; the entries that it acknowledged, and how long it lived."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        Acknowledging.pipe = writing
        code = 1
        try:
            job()
            code = 0
        except BaseException:
            traceback.print_exc()
        finally:
            os._exit(code)
    os.close(writing)
    began = time.monotonic()
    if kill_after_s is not None:
        time.sleep(kill_after_s)
        os.kill(child, signal.SIGKILL)
    with open(reading, encoding="ascii") as stream:
        said = {int(line) for line in stream if line.endswith("\n")}
    os.waitpid(child, 0)
    return said, time.monotonic() - began


def killed(plan: Plan, folder: Path, at_s: float) -> Trial:
    """One run, one kill, and what comes of it."""
    acknowledged, _ = in_a_child(lambda: acceptance(plan, folder, resume=False), at_s)
    path = folder / "journal.jsonl"
    try:
        before = take_up(folder, plan, simulated=True, bench=False)
    except UsageError as refusal:
        if "went to its end" in str(refusal):
            return Trial(at_s, len(acknowledged), 0, False, "after the end", "over before the kill")
        outcome = "nothing to resume" if not acknowledged else f"LOST: {refusal}"
        return Trial(at_s, len(acknowledged), len(acknowledged), False, "before the first entry", outcome)
    lost = len(acknowledged - {entry.n for entry in before.entries})
    marks = [entry.data for entry in before.entries if entry.kind == "step"]
    step = marks[-1]["step_kind"] if marks and marks[-1]["taken"] == "begun" else "between steps"
    old = path.read_bytes()[: path.read_bytes().rfind(b"\n") + 1]
    in_a_child(lambda: acceptance(plan, folder, resume=True))
    return Trial(at_s, len(acknowledged), lost, before.torn, step, _outcome(plan, folder, old))


def _outcome(plan: Plan, folder: Path, old: bytes) -> str:
    path = folder / "journal.jsonl"
    if not path.read_bytes().startswith(old):
        return "OLD LINES CHANGED"
    try:
        written = (folder / "verdict.json").read_bytes()
        verdict, again = from_bytes(written), judge(read_journal(path), plan.registry)
    except Exception as error:
        return f"NO VERDICT: {error}"
    if to_bytes(again) != written:
        return "JUDGED OTHERWISE"
    if len(verdict.resumed) != 1:
        return "RESUMPTION NOT TOLD"
    return verdict.verdict if verdict.verdict == "accept" else f"{verdict.verdict}: {verdict.why[0]}"


def trials(kills: int, seed: int) -> list[Trial]:
    """So many kills, at moments drawn over the duration of a run."""
    vars(runner)["JournalWriter"] = Acknowledging
    plan, random = plan_of_the_spool(), np.random.default_rng(seed)
    found = []
    with tempfile.TemporaryDirectory(prefix="rigproof-kills-") as scratch:
        whole = Path(scratch) / "whole"
        whole.mkdir()
        duration_s = in_a_child(lambda: acceptance(plan, whole, resume=False))[1]
        for number in range(kills):
            folder = Path(scratch) / str(number)
            folder.mkdir()
            found.append(killed(plan, folder, float(random.uniform(0.0, duration_s))))
    return found


def main() -> int:
    """Kill, and print what became of it."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--kills", type=int, default=8)
    parser.add_argument("--seed", type=int, default=0)
    asked = parser.parse_args()
    found = trials(asked.kills, asked.seed)
    print(
        f"{len(found)} kills, {sum(t.acknowledged for t in found)} entries acknowledged, "
        f"{sum(t.lost for t in found)} lost, {sum(t.torn for t in found)} last lines torn"
    )
    for title, counted in (("cut off", Counter(t.step for t in found)), ("then", Counter(t.outcome for t in found))):
        for name, count in counted.most_common():
            print(f"  {title:8} {count:4}  {name}")
    fine = {"accept", "nothing to resume", "over before the kill"}
    return 0 if all(t.lost == 0 and t.outcome in fine for t in found) else 1


if __name__ == "__main__":
    sys.exit(main())
