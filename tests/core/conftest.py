"""Plans made of a few lines, and one journal of a sound spool that many tests edit and judge again."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from rigproof.documents import fit, load_procedure, load_rig
from rigproof.journal import Entry, Journal, JournalWriter, read_journal
from rigproof.plugins import Registry
from rigproof.run.plan import Plan
from rigproof.verdict.judging import judge
from rigproof.verdict.record import Verdict

Changes = tuple[tuple[str, str], ...]

HOLD_KEPT = 10  # of the readings during the hold, one in so many is enough to judge by

ALL_STEPS = """\
  - resistance: {}
  - insulation: {}
  - balance: {settle: 5 s}
  - shunt: {resistor: 174.8 kΩ ± 0.1 %}
  - cycles: {source: pump, to: 25 bar, times: 2, levels: 2, exercise: 0, dwell: 2 s, rest: 5 s}
  - proof: {source: pump, to: 35.75 bar, stages: [50 %, 100 %], dwell: 10 s, hold: 1 min, rest: 10 s}
"""


HOOP_READ_ALONE = (  # changes of the spool's rig.yaml: a meter reads the bridge of one channel, and switches no shunt
    ("    instrument: bridge\n    input: 1", "    instrument: indicator\n    input: 1"),
    (
        "instruments:\n",
        "instruments:\n  indicator:\n    driver: described meter\n    resource: TCPIP::192.0.2.17::5025::SOCKET\n"
        "    timeout: 5 s\n    settings: {quantity: bridge output, unit: mV/V, identity: cannot say, "
        'read: {ask: RD, reply: "{value}"}}\n',
    ),
)


class Replay:
    """A clock that stands where it is put."""

    t = 0.0

    def now(self) -> float:
        return self.t

    def wait(self, seconds: float) -> None:
        self.t += seconds

    def utc(self) -> datetime:
        return datetime(2026, 11, 25, tzinfo=UTC)


@pytest.fixture(scope="session")
def planned(spool: Plan, registry: Registry) -> Callable[..., Plan]:
    """A function: the lines of `steps:` and changes (old, new) of the spool's rig.yaml -> a plan."""

    def make(steps: str, *changes: tuple[str, str]) -> Plan:
        rig_text = spool.rig.text
        for old, new in changes:
            assert old in rig_text, old
            rig_text = rig_text.replace(old, new)
        rig = load_rig(text=rig_text, registry=registry)
        procedure = load_procedure(text=f"rigproof: procedure/1\nname: x\nsteps:\n{steps}", registry=registry)
        fit(rig, procedure)
        return Plan(rig, procedure, registry)

    return make


@pytest.fixture
def hoop_read_alone() -> Changes:
    """Changes (old, new) of the spool's rig.yaml."""
    return HOOP_READ_ALONE


@pytest.fixture(scope="session")
def sound(
    accept: Callable[..., Verdict], planned: Callable[..., Plan], tmp_path_factory: pytest.TempPathFactory
) -> tuple[Entry, ...]:
    """A short journal of an accepted spool: all kinds of steps, few levels and stages, few of the looks in between."""
    folder = tmp_path_factory.mktemp("sound")
    verdict = accept(planned(ALL_STEPS), folder)
    assert verdict.verdict == "accept", verdict.why
    entries = read_journal(folder / "journal.jsonl").entries
    held = [entry.n for entry in entries if entry.data.get("label") == "hold"][::HOLD_KEPT]
    return tuple(e for e in entries if e.data.get("label") not in {"watch", "hold"} or e.n in held)


@pytest.fixture
def rewritten(tmp_path: Path) -> Callable[[Iterable[Entry]], Journal]:
    """A function: entries -> a journal of them with a chain that holds, written as a run writes it."""

    def write(entries: Iterable[Entry]) -> Journal:
        clock, path = Replay(), tmp_path / f"journal-{len(list(tmp_path.iterdir()))}.jsonl"
        with JournalWriter(path, clock) as journal:
            for entry in entries:
                clock.t = entry.t
                journal.write(entry.kind, **entry.data)
        return read_journal(path)

    return write


@pytest.fixture(scope="session")
def judged(registry: Registry) -> Callable[[Iterable[Entry]], Verdict]:
    """A function: entries -> the verdict of a journal of them, as a reader would give it."""

    def give(entries: Iterable[Entry]) -> Verdict:
        numbered = tuple(replace(entry, n=n) for n, entry in enumerate(entries))
        return judge(Journal(numbered, "", False, ""), registry)

    return give


@pytest.fixture(scope="session")
def told() -> Callable[..., list[Entry]]:
    """A function: entries, changes (old, new) of the rig's text and a new procedure's steps -> entries."""

    def tell(entries: Iterable[Entry], *changes: tuple[str, str], steps: str = "") -> list[Entry]:
        head, *rest = entries
        rig, procedure = dict(head.data["rig"]), dict(head.data["procedure"])
        for old, new in changes:
            assert old in rig["text"], old
            rig["text"] = rig["text"].replace(old, new)
        if steps:
            procedure["text"] = f"rigproof: procedure/1\nname: x\nsteps:\n{steps}"
        return [replace(head, data={**head.data, "rig": rig, "procedure": procedure}), *rest]

    return tell
