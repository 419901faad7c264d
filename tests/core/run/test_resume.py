"""Going on with a run that was cut off: what stands is not taken again, the rig is made safe first, and it is told."""

from __future__ import annotations

import json
import os
import signal
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from rigproof.errors import JournalError, Suspended, UsageError
from rigproof.journal import FORMAT, read_journal
from rigproof.journal.entry import encode, link_of, seal
from rigproof.plugins import Registry
from rigproof.run.accepting import run_and_judge
from rigproof.run.live import LiveRig
from rigproof.run.plan import Plan
from rigproof.run.progress import Progress, Silent
from rigproof.run.resuming import take_up
from rigproof.run.simulated import find_simulator, on_twin, planted
from rigproof.steps.balance import Balance
from rigproof.steps.cycles import Cycles
from rigproof.verdict import words
from rigproof.verdict.judging import judge
from rigproof.verdict.record import Check, Verdict, to_bytes

Acceptance = Callable[..., Verdict]
Planned = Callable[..., Plan]
Lines = list[dict[str, Any]]

STEPS = """\
  - resistance: {}
  - balance: {settle: 5 s}
  - cycles: {source: pump, to: 20 bar, times: 2, levels: 2, exercise: 0, dwell: 1 s, rest: 1 s, readings: 20}
"""
PROOF = (
    "  - proof: {source: pump, to: 20 bar, stages: [50 %, 100 %], dwell: 1 s, hold: 10 s, rest: 1 s, readings: 20}\n"
)


@pytest.fixture(scope="module")
def plan(planned: Planned) -> Plan:
    return planned(STEPS)


@pytest.fixture(scope="module")
def whole(accept: Acceptance, plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The journal of a run in one piece."""
    folder = tmp_path_factory.mktemp("whole")
    assert accept(plan, folder).verdict == "accept"
    return (folder / "journal.jsonl").read_bytes()


def lines(folder: Path) -> Lines:
    return [json.loads(line) for line in (folder / "journal.jsonl").read_text("utf-8").splitlines()]


def cut(whole: bytes, folder: Path, before: Callable[[dict[str, Any]], bool], torn: int = 0) -> None:
    """What is on the disk after a kill: all lines before one, and `torn` bytes of it."""
    kept = b""
    for line in whole.splitlines(keepends=True):
        if before(json.loads(line)):
            (folder / "journal.jsonl").write_bytes(kept + line[:torn])
            return
        kept += line
    raise AssertionError("no such line")


def rewritten(folder: Path, change: Callable[[dict[str, Any]], None]) -> None:
    """The journal with its entries changed, in a chain that holds."""
    link, whole = FORMAT, b""
    for entry in lines(folder):
        change(entry)
        n, t, kind = entry.pop("n"), entry.pop("t"), entry.pop("kind")
        del entry["link"]
        body = encode(n, t, kind, entry)
        link = link_of(link, body)
        whole += seal(body, link)
    (folder / "journal.jsonl").write_bytes(whole)


def go_on(plan: Plan, folder: Path, rig_folder: Path, progress: Progress | None = None) -> Verdict:
    """As `rigproof run --simulated --resume`."""
    earlier = take_up(folder, plan, simulated=True, bench=False)
    assert earlier.twin
    flaws = planted(earlier.twin.flaws, find_simulator(rig_folder, plan.registry).flaws())
    with on_twin(plan, rig_folder, earlier.twin.seed, flaws, earlier.behind_s) as (reach, twin):
        return run_and_judge(plan, reach, folder, progress or Silent(), twin, earlier)


def step_mark(step: int, taken: str) -> Callable[[dict[str, Any]], bool]:
    return lambda entry: entry["kind"] == "step" and (entry["step"], entry["taken"]) == (step, taken)


def under_load(entry: dict[str, Any]) -> bool:
    return bool(entry.get("label") == "level" and entry["tags"]["level"] == 2)


@pytest.mark.parametrize(
    ("where", "torn", "begun"),
    [
        (lambda entry: entry["kind"] == "instrument", 0, [1, 2, 3]),
        (step_mark(1, "begun"), 5, [1, 2, 3]),
        (step_mark(1, "whole"), 0, [1, 1, 2, 3]),
        (step_mark(2, "begun"), 40, [1, 2, 3]),
        (lambda entry: entry.get("label") == "end", 100, [1, 2, 2, 3]),
        (under_load, 17, [1, 2, 3, 3]),
        (step_mark(3, "whole"), 0, [1, 2, 3, 3]),
        (lambda entry: entry["kind"] == "safe", 0, [1, 2, 3]),
        (lambda entry: entry["kind"] == "end", 3, [1, 2, 3]),
    ],
)  # fmt: skip
def test_a_killed_run_goes_on_from_its_last_whole_step(
    whole: bytes,
    plan: Plan,
    spool_folder: Path,
    registry: Registry,
    tmp_path: Path,
    where: Callable[[dict[str, Any]], bool],
    torn: int,
    begun: list[int],
) -> None:
    cut(whole, tmp_path, where, torn)
    before = read_journal(tmp_path / "journal.jsonl")
    verdict = go_on(plan, tmp_path, spool_folder)
    assert verdict.verdict == "accept", verdict.why
    journal = read_journal(tmp_path / "journal.jsonl")  # the chain holds
    assert journal.entries[: len(before.entries)] == before.entries
    resumed = journal.entries[len(before.entries)]
    assert (resumed.kind, resumed.data["torn"], resumed.t) == ("resumed", torn > 0, before.entries[-1].t)
    assert [e.data["step"] for e in journal.entries if e.kind == "step" and e.data["taken"] == "begun"] == begun
    (record,) = verdict.resumed
    assert record.after == "the journal has no end: the run was killed"
    assert not record.left_safe or begun == [1, 2, 3]
    assert [step.takings for step in verdict.steps] == [begun.count(step.step) for step in verdict.steps]
    assert to_bytes(judge(journal, registry)) == to_bytes(verdict) == (tmp_path / "verdict.json").read_bytes()
    assert len({instrument.name for instrument in verdict.instruments}) == len(verdict.instruments)


def test_it_first_opens_the_instruments_and_makes_the_source_safe(
    whole: bytes, plan: Plan, spool_folder: Path, tmp_path: Path
) -> None:
    cut(whole, tmp_path, under_load)
    go_on(plan, tmp_path, spool_folder)
    entries = lines(tmp_path)
    begin = next(i for i, entry in enumerate(entries) if entry["kind"] == "resumed")
    kinds = [entry["kind"] for entry in entries[begin : begin + 8]]
    assert kinds == ["resumed", *["instrument"] * len(plan.rig.instruments), "safe at the start"]
    assert entries[begin + 7]["confirmed"]


def test_the_twin_is_the_same_rig_later(whole: bytes, plan: Plan, spool_folder: Path, tmp_path: Path) -> None:
    """Same seed, same offsets; its clock goes on where the record ends."""
    cut(whole, tmp_path, under_load)
    ended = read_journal(tmp_path / "journal.jsonl").entries[-1].t
    verdict = go_on(plan, tmp_path, spool_folder)
    (record,) = verdict.resumed
    assert abs(record.zero_moved["hoop"]) < 1e-6
    head, resumed = (next(e for e in lines(tmp_path) if e["kind"] == kind) for kind in ("run", "resumed"))
    assert head["utc"][:16] == "2026-11-25T08:00"
    minutes, seconds = divmod(ended, 60)
    assert resumed["utc"].startswith(f"2026-11-25T08:{minutes:02.0f}:{int(seconds):02d}")


def test_gauges_as_found_before_serve_the_steps_after(
    whole: bytes, plan: Plan, spool_folder: Path, tmp_path: Path
) -> None:
    cut(whole, tmp_path, step_mark(2, "begun"))
    verdict = go_on(plan, tmp_path, spool_folder)
    sensitivity = next(check for check in verdict.checks if check.name == "sensitivity" and check.subject == "hoop")
    (line,) = (line for line in sensitivity.budget if line.input == "hoop gauge resistance")
    assert line.source == "as measured in this run"


def test_what_was_rejected_before_still_forbids_a_load(
    accept: Acceptance, plan: Plan, spool_folder: Path, tmp_path: Path
) -> None:
    accept(plan, tmp_path, ["damaged-grid=2 %"], seed=4)
    data = (tmp_path / "journal.jsonl").read_bytes()
    cut(data, tmp_path, step_mark(2, "whole"))
    verdict = go_on(plan, tmp_path, spool_folder)
    assert verdict.verdict == "reject"
    assert (verdict.steps[2].taken, verdict.steps[2].takings) == ("not taken", 0)
    assert verdict.twin
    assert (verdict.twin.seed, verdict.twin.flaws) == (4, ("damaged-grid=2 %",))


class StopAt(Silent):
    """Presses Ctrl-C once something is said."""

    def __init__(self, text: str) -> None:
        self.text = text

    def say(self, text: str) -> None:
        if self.text in text:
            os.kill(os.getpid(), signal.SIGINT)


def test_a_run_may_be_stopped_and_resumed_again_and_again(
    accept: Acceptance, plan: Plan, spool_folder: Path, registry: Registry, tmp_path: Path
) -> None:
    assert accept(plan, tmp_path, progress=StopAt("cycle 1 of 2: level 2")).verdict == "void"
    assert go_on(plan, tmp_path, spool_folder, StopAt("cycle 2 of 2: level 1")).verdict == "void"
    verdict = go_on(plan, tmp_path, spool_folder)
    assert verdict.verdict == "accept", verdict.why
    assert [(each.after, each.left_safe) for each in verdict.resumed] == [
        ("stopped: by the operator (Ctrl-C)", True)
    ] * 2
    assert words.resumptions(verdict)[-1] == "step 3 cycles was begun 3 times, and the last one counts"
    assert to_bytes(judge(read_journal(tmp_path / "journal.jsonl"), registry)) == to_bytes(verdict)


def test_a_resumed_run_that_is_killed_again_is_void_whatever_ended_it_before(
    accept: Acceptance, plan: Plan, spool_folder: Path, registry: Registry, tmp_path: Path
) -> None:
    """The end of the first session is no end of the second."""
    accept(plan, tmp_path, progress=StopAt("cycle 1 of 2: level 2"))
    go_on(plan, tmp_path, spool_folder)
    whole = (tmp_path / "journal.jsonl").read_bytes()
    second = json.loads(whole.splitlines()[-1])["n"]
    cut(whole, tmp_path, lambda entry: entry["n"] == second)
    verdict = judge(read_journal(tmp_path / "journal.jsonl"), registry)
    assert (verdict.verdict, verdict.why[0]) == ("void", "the run was killed: its journal has no end")
    assert verdict.ended == ""


# -- the zero of the interlocks -----------------------------------------------------------------------------------


def test_strain_interlocks_have_a_zero_of_this_session_before_any_load(
    accept: Acceptance, planned: Planned, spool_folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Even for a step that takes none itself, and relies on the balance that was taken before the run was cut off."""
    plan = planned(STEPS, ("above: 700 µε", "above: 100 µε"))  # 20 bar make about 190 µε
    accept(plan, tmp_path, progress=StopAt("cycle 1 of 2: level 1"))
    monkeypatch.setattr(Cycles, "acquire", lambda self, live: live.rise_to(self.source, self.to.value, None, "up"))
    verdict = go_on(plan, tmp_path, spool_folder)
    assert verdict.verdict == "void"
    assert verdict.end.startswith("tripped: interlock 'hoop strain'")
    assert verdict.safe_end[0].confirmed


@pytest.mark.parametrize(
    ("where", "begun"), [(step_mark(4, "whole"), [1, 2, 3, 4, 3, 4, 5]), (step_mark(5, "whole"), [1, 2, 3, 4, 5, 3, 5])]
)
def test_interlocks_are_tried_again_before_a_load_of_this_session(
    accept: Acceptance,
    planned: Planned,
    spool_folder: Path,
    tmp_path: Path,
    where: Callable[[dict[str, Any]], bool],
    begun: list[int],
) -> None:
    """Between the sessions somebody may have put hands on the source: what the first one showed is no longer shown."""
    armed = "  - arming: {source: pump}\n"
    plan = planned(STEPS.replace("  - cycles", f"{armed}  - cycles") + PROOF)
    accept(plan, tmp_path)
    cut((tmp_path / "journal.jsonl").read_bytes(), tmp_path, where)
    verdict = go_on(plan, tmp_path, spool_folder)
    assert verdict.verdict == "accept", verdict.why
    entries = read_journal(tmp_path / "journal.jsonl").entries
    assert [e.data["step"] for e in entries if e.kind == "step" and e.data["taken"] == "begun"] == begun


def test_a_zero_that_moved_beyond_the_interlock_puts_no_load_on(
    whole: bytes, plan: Plan, spool_folder: Path, tmp_path: Path
) -> None:
    """As after a part that yielded when the power failed: the new zero would hide what stayed behind."""
    cut(whole, tmp_path, under_load)

    def lower(entry: dict[str, Any]) -> None:
        if entry["kind"] == "zero":
            entry["readings"]["hoop"] -= 0.5e-3  # V/V: about 960 µε at a gauge factor of 2.08

    rewritten(tmp_path, lower)
    verdict = go_on(plan, tmp_path, spool_folder)
    assert verdict.verdict == "void"
    assert "from the zero before the run ended" in verdict.end
    assert verdict.resumed[0].zero_moved["hoop"] == pytest.approx(961e-6, rel=0.02)
    session = lines(tmp_path)[[e["kind"] for e in lines(tmp_path)].index("resumed") :]
    assert not [entry for entry in session if entry["kind"] == "command"]


@pytest.fixture(scope="module")
def proved(
    accept: Acceptance, planned: Planned, spool_folder: Path, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Plan, bytes]:
    """The journal of a run whose proof was cut off under load and begun again."""
    plan, folder = planned(STEPS + PROOF), tmp_path_factory.mktemp("proved")
    accept(plan, folder, progress=StopAt("stage 2 of 2"))
    verdict = go_on(plan, folder, spool_folder)
    assert verdict.verdict == "accept", verdict.why
    return plan, (folder / "journal.jsonl").read_bytes()


def sets(verdict: Verdict) -> dict[str, Check]:
    return {c.at: c for c in verdict.checks if (c.name, c.subject) == ("permanent set", "hoop")}


def test_the_permanent_set_of_a_proof_begun_again_counts_from_the_first_rise_too(
    proved: tuple[Plan, bytes], registry: Registry, tmp_path: Path
) -> None:
    (tmp_path / "journal.jsonl").write_bytes(proved[1])
    verdict = judge(read_journal(tmp_path / "journal.jsonl"), registry)
    assert set(sets(verdict)) == {"after 2 stages", "since the first of 2 takings"}

    def lower_the_first_zero(entry: dict[str, Any]) -> None:
        if entry.get("label") == "zero before" and not seen:
            seen.append(entry["n"])
            entry["values"]["hoop"] = [value - 10e-6 for value in entry["values"]["hoop"]]  # about 19 µε of 190 µε

    seen: list[int] = []
    rewritten(tmp_path, lower_the_first_zero)
    verdict = judge(read_journal(tmp_path / "journal.jsonl"), registry)
    assert verdict.verdict == "reject"
    found = sets(verdict)
    assert found["after 2 stages"].finding == "accept"
    assert found["since the first of 2 takings"].finding == "reject"
    assert found["since the first of 2 takings"].measured == pytest.approx(0.1, rel=0.15)


# -- a planned pause ----------------------------------------------------------------------------------------------


def test_a_suspended_run_goes_on_when_its_time_has_come(
    accept: Acceptance,
    plan: Plan,
    spool_folder: Path,
    registry: Registry,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from datetime import datetime, timedelta

    acquire = Balance.acquire
    found: list[int] = []

    def pause(self: Balance, live: LiveRig) -> None:
        earlier = live.record().earlier
        found.append(len(earlier))
        if not earlier:
            live.phase("cure began", utc=live.clock.utc().isoformat())
            raise Suspended("the adhesive cures", live.clock.utc() + timedelta(hours=12))
        (began,) = earlier[0].events("phase")
        assert live.clock.utc() - datetime.fromisoformat(began["utc"]) >= timedelta(hours=12)
        acquire(self, live)

    monkeypatch.setattr(Balance, "acquire", pause)
    accept(plan, tmp_path)
    earlier = take_up(tmp_path, plan, simulated=True, bench=False)
    assert earlier.not_before
    with pytest.raises(UsageError, match=r"suspended until 2026-11-25 20:00:\d\d UTC: the adhesive cures; it is"):
        earlier.expect_due(earlier.not_before - timedelta(seconds=1))
    earlier.expect_due(earlier.not_before)
    verdict = go_on(plan, tmp_path, spool_folder)
    assert verdict.verdict == "accept", verdict.why
    assert found == [0, 1]
    assert verdict.resumed[0].after.startswith("suspended until ")
    assert to_bytes(judge(read_journal(tmp_path / "journal.jsonl"), registry)) == to_bytes(verdict)


# -- what is refused ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("steps", "change", "file"),
    [(STEPS, ("above: 700 µε", "above: 900 µε"), "rig.yaml"), (STEPS + PROOF, (), "acceptance.yaml")],
)
def test_other_documents_than_those_of_the_record_are_refused(
    whole: bytes, planned: Planned, tmp_path: Path, steps: str, change: tuple[str, str] | tuple[()], file: str
) -> None:
    cut(whole, tmp_path, under_load)
    other = planned(steps, *([change] if change else []))
    with pytest.raises(UsageError, match=rf"{file} is not the one that the run in .* began with.*put the old one back"):
        take_up(tmp_path, other, simulated=True, bench=False)


def test_a_chain_that_does_not_hold_is_refused(whole: bytes, plan: Plan, tmp_path: Path) -> None:
    cut(whole, tmp_path, under_load)
    path = tmp_path / "journal.jsonl"
    path.write_bytes(path.read_bytes().replace(b"0.5", b"0.6", 1))
    with pytest.raises(JournalError, match=r"journal\.jsonl:\d+: its link does not chain it"):
        take_up(tmp_path, plan, simulated=True, bench=False)


@pytest.mark.parametrize(
    ("simulated", "bench", "words"),
    [(False, False, "was begun with --simulated: add it"), (True, True, "was begun without --bench: leave it out")],
)
def test_another_kind_of_rig_is_refused(
    whole: bytes, plan: Plan, tmp_path: Path, simulated: bool, bench: bool, words: str
) -> None:
    cut(whole, tmp_path, under_load)
    with pytest.raises(UsageError, match=words):
        take_up(tmp_path, plan, simulated, bench)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (None, "is not there, so there is no run to go on with"),
        (b"", "holds nothing yet, so nothing is lost"),
        (b'{"n":0,"t":0.0,"ki', "holds nothing yet, so nothing is lost"),
    ],
)
def test_where_there_is_nothing_to_go_on_with(plan: Plan, tmp_path: Path, data: bytes | None, words: str) -> None:
    if data is not None:
        (tmp_path / "journal.jsonl").write_bytes(data)
    with pytest.raises(UsageError, match=words):
        take_up(tmp_path, plan, simulated=True, bench=False)


def test_a_run_that_went_to_its_end_is_refused(whole: bytes, plan: Plan, tmp_path: Path) -> None:
    (tmp_path / "journal.jsonl").write_bytes(whole)
    with pytest.raises(UsageError, match=r"went to its end, so nothing is left to do \(`rigproof judge "):
        take_up(tmp_path, plan, simulated=True, bench=False)


@pytest.mark.parametrize("change", [{"replayed": True}, {"rig": None}, {"twin": {"seed": "x"}}])
def test_a_record_of_another_kind_is_refused(
    whole: bytes, plan: Plan, tmp_path: Path, change: dict[str, object]
) -> None:
    cut(whole, tmp_path, under_load)
    rewritten(tmp_path, lambda entry: entry.update(change) if entry["kind"] == "run" else None)
    with pytest.raises((UsageError, JournalError), match=r"replayed run needs no|not as a run writes it"):
        take_up(tmp_path, plan, simulated=True, bench=False)
