"""A simulated run of the spool, replayed from its own journal: the same findings, digit for digit, and marked."""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path

import pytest
from click.testing import CliRunner

from rigproof.__main__ import cli, run
from rigproof.clock import Clock, JumpingClock
from rigproof.errors import InstrumentError
from rigproof.journal import Journal, JournalWriter, read_journal
from rigproof.plugins import Registry
from rigproof.run.accepting import run_and_judge
from rigproof.run.opening import Reach, open_all
from rigproof.run.plan import Plan, make_plan
from rigproof.run.progress import Silent
from rigproof.run.records import replay_reach
from rigproof.run.simulated import simulation
from rigproof.verdict.judging import judge
from rigproof.verdict.record import Verdict, from_bytes

from .conftest import Original

Rig = Callable[..., Path]
Page = Callable[[str], str]
Said = Callable[..., tuple[int, str]]


@pytest.fixture
def said(capsys: pytest.CaptureFixture[str]) -> Said:
    """A function: a command line -> exit code, and all that was printed."""

    def tell(*words: object) -> tuple[int, str]:
        code = run([str(word) for word in words])
        printed = capsys.readouterr()
        return code, printed.out + printed.err

    return tell


@pytest.fixture
def replayed(replayed_rig: Rig, page: Page, said: Said, tmp_path: Path) -> Callable[..., Verdict]:
    """A function: changes of the rig and the steps -> the verdict of the original run's journal, replayed."""

    def take(*changes: tuple[str, str], steps: str = "") -> Verdict:
        folder = replayed_rig(page("journal"), *changes, steps=steps)
        said("run", folder, "--replayed", "--quiet", "--out", tmp_path / "out")
        return from_bytes((tmp_path / "out" / "verdict.json").read_bytes())

    return take


def compared(verdict: Verdict) -> Sequence[object]:
    return verdict.verdict, verdict.steps, verdict.shown, verdict.not_shown, verdict.safe_end, verdict.checks


def test_gives_what_the_original_gave(replayed: Callable[..., Verdict], original: Original) -> None:
    """Every check is equal: measured value, u, tolerance, finding, and each line of its budget."""
    again = replayed()
    assert original.verdict.verdict == "accept"
    assert len(again.checks) == 62
    assert compared(again) == compared(original.verdict)
    assert (again.started, again.ended) == (original.verdict.started, original.verdict.ended)


def test_takes_every_reading_again(replayed: Callable[..., Verdict], original: Original, tmp_path: Path) -> None:
    """The looks during a rise too: none is lost, and none is taken twice."""
    replayed()

    def blocks(folder: Path) -> list[tuple[object, ...]]:
        entries = read_journal(folder / "journal.jsonl").entries
        return [(e.data["label"], e.data["tags"], e.data["values"]) for e in entries if e.kind == "samples"]

    assert blocks(tmp_path / "out") == blocks(original.folder)


def test_is_marked_and_stays_simulated(replayed: Callable[..., Verdict], tmp_path: Path) -> None:
    again = replayed()
    assert again.replayed
    assert again.simulated
    assert {i.firmware for i in again.instruments} == {"replayed"}
    shown = CliRunner().invoke(
        cli, ["judge", str(tmp_path / "out" / "journal.jsonl"), "--out", str(tmp_path / "again")]
    )
    assert "REPLAYED RECORD: nothing was measured now" in shown.output
    assert shown.output.rstrip().endswith("verdict: accept (simulated, replayed)")
    commands = [e.data for e in read_journal(tmp_path / "out" / "journal.jsonl").entries if e.kind == "command"]
    assert commands
    assert all(command["replayed"] is True for command in commands)
    assert run(["report", str(tmp_path / "out")]) == 0
    assert '<property name="replayed" value="true" />' in (tmp_path / "out" / "junit.xml").read_text("utf-8")
    header, first = (tmp_path / "out" / "checks.csv").read_text("utf-8").splitlines()[:2]
    assert header.endswith("simulated,replayed")
    assert first.endswith("yes,yes")


def test_a_live_run_is_not_marked(original: Original) -> None:
    entries = read_journal(original.folder / "journal.jsonl").entries
    assert not original.verdict.replayed
    assert not any("replayed" in e.data for e in entries if e.kind == "command")


def test_a_journal_that_hides_its_replay_is_void(
    replayed: Callable[..., Verdict], tmp_path: Path, registry: Registry
) -> None:
    """Chained again, as whoever can write both can do: the instruments' own word stands against it."""
    replayed()
    journal = read_journal(tmp_path / "out" / "journal.jsonl")
    journal.entries[0].data["replayed"] = False
    verdict = judge(Journal(journal.entries, "", False, ""), registry)
    assert verdict.verdict == "void"
    assert "bridge is a replayed instrument" in verdict.why


def test_a_replay_can_be_replayed(
    replayed: Callable[..., Verdict], replayed_rig: Rig, said: Said, original: Original, tmp_path: Path
) -> None:
    replayed()
    (tmp_path / "rig" / "journal.jsonl").write_bytes((tmp_path / "out" / "journal.jsonl").read_bytes())
    code, _ = said("run", tmp_path / "rig", "--replayed", "--quiet", "--out", tmp_path / "twice")
    assert code == 0
    assert compared(from_bytes((tmp_path / "twice" / "verdict.json").read_bytes())) == compared(original.verdict)


def test_a_corrected_gauge_factor_is_judged_anew(replayed: Callable[..., Verdict], original: Original) -> None:
    """The use of it. At small strain a bridge gives output = F strain / 4: 10 % more F is 10 % less strain."""
    again = replayed(("gauge factor: 2.08 ± 0.5 %", "gauge factor: 2.288 ± 0.5 %"))
    assert again.verdict == "reject"

    def sensitivity(verdict: Verdict) -> float:
        (found,) = [c.measured for c in verdict.checks if (c.name, c.subject) == ("sensitivity", "hoop")]
        assert found is not None
        return found

    assert sensitivity(again) == pytest.approx(sensitivity(original.verdict) / 1.1, rel=1e-3)


def test_only_some_of_its_steps(replayed: Callable[..., Verdict], original: Original) -> None:
    again = replayed(steps="  - resistance: {}\n  - balance: {channels: all strain, settle: 60 s}\n")
    taken = [c.measured for c in original.verdict.checks if c.step_kind in {"resistance", "balance"}]
    assert [c.measured for c in again.checks] == taken


@pytest.mark.parametrize(
    ("steps", "why"),
    [
        (
            "  - proof: {source: pump, to: 35.75 bar}\n",
            "no 50 readings, 0.02 s apart, of hoop, axial within 150 s after",
        ),
        (
            "  - resistance: {}\n  - insulation: {test voltage: 40 V}\n",
            "no insulation test of hoop insulation at +40 V after",
        ),
        (
            "  - resistance: {readings: 6}\n",
            "no 6 readings, 0.2 s apart, of hoop resistance after",
        ),
    ],
)
def test_what_the_recorded_run_did_not_do_ends_it(replayed: Callable[..., Verdict], steps: str, why: str) -> None:
    again = replayed(steps=steps)
    assert again.verdict == "void"
    assert again.why[0].startswith("instrument lost: ")
    assert why in again.why[0]
    assert "only what the recorded run did can be replayed" in again.why[0]


def test_a_load_it_never_went_to(replayed: Callable[..., Verdict]) -> None:
    text = (Path(__file__).parents[3] / "tests" / "rigs" / "spool" / "acceptance.yaml").read_text("utf-8")
    steps = text.split("steps:\n")[1].replace("to: 25 bar", "to: 24 bar")
    again = replayed(steps=steps)
    assert "pump: journal.jsonl has no load sent to 24 bar after" in again.why[0]


@pytest.mark.parametrize(
    ("change", "place", "what"),
    [
        (("1: hoop, 2", "1: hopo, 2"), "instruments.bridge.settings.inputs.1", "no channel 'hopo'"),
        (("1: hoop, 2", "1: pressure, 2"), "instruments.bridge.settings.inputs.1", "'pressure' read a gauge pressure"),
        (("1: hoop, 2", "7: hoop, 2"), "instruments.bridge.settings.inputs", "a channel reads input 1; here are 7, 2"),
        (("source: pump}}", "source: pomp}}"), "instruments.pump.settings.source", "no source 'pomp'"),
    ],
)
def test_what_does_not_fit_is_named_at_its_place(
    replayed_rig: Rig, page: Page, said: Said, change: tuple[str, str], place: str, what: str
) -> None:
    folder = replayed_rig(page("journal"), change)
    for command in (["check", folder], ["run", folder, "--replayed", "--out", folder / "out"]):
        code, printed = said(*command)
        assert code == 4
        assert f"{place}: " in printed
        assert what in printed
        assert f"{folder}/rig.yaml:" in printed
        assert not (folder / "out").exists()


def test_every_line_that_does_not_hold_is_named(replayed_rig: Rig, page: Page, said: Said) -> None:
    folder = replayed_rig(page("journal"))
    lines = (folder / "journal.jsonl").read_text("utf-8").splitlines(keepends=True)
    for number in (20, 40):
        lines[number - 1] = lines[number - 1].replace("0", "1", 1)
    (folder / "journal.jsonl").write_text("".join(lines), "utf-8")
    code, printed = said("check", folder)
    assert code == 4
    assert [line.split(":")[1] for line in printed.splitlines() if "does not chain it" in line] == ["20", "40"]


@pytest.mark.parametrize(
    ("data", "what"),
    [(b"", "is empty"), (b"t,p\n", "does not end in a link"), (b"t,p", "torn"), (b"\0", "is a binary file")],
)
def test_what_is_no_journal(replayed_rig: Rig, page: Page, said: Said, data: bytes, what: str) -> None:
    folder = replayed_rig(page("journal"))
    (folder / "journal.jsonl").write_bytes(data)
    code, printed = said("check", folder)
    assert code == 4
    assert what in printed


def test_a_chained_file_that_is_no_run(replayed_rig: Rig, page: Page, said: Said) -> None:
    folder = replayed_rig(page("journal"))
    (folder / "journal.jsonl").unlink()
    with JournalWriter(folder / "journal.jsonl", JumpingClock()) as journal:
        journal.write("note", text="no run")
    code, printed = said("check", folder)
    assert code == 4
    assert "is not as a run writes it" in printed
    assert "give the journal.jsonl that `rigproof run` wrote" in printed


@pytest.mark.parametrize("flags", [[], ["--simulated"]])
def test_a_run_that_is_not_replayed_reads_no_record(
    replayed_rig: Rig, page: Page, said: Said, flags: list[str]
) -> None:
    folder = replayed_rig(page("journal"))
    code, printed = said("run", folder, *flags, "--out", folder / "out")
    assert code == 4
    assert "reads a record, and a live or simulated run reads none; use --replayed" in printed
    assert not (folder / "out").exists()


def test_a_replayed_run_reads_nothing_live(spool_folder: Path, said: Said, tmp_path: Path) -> None:
    code, printed = said("run", spool_folder, "--replayed", "--out", tmp_path / "out")
    assert code == 4
    assert (
        "--replayed: bridge, ohmmeter, insulation tester, transmitter, thermometer, pump would be read live" in printed
    )


def test_check_tells_a_rig_that_no_run_would_take(replayed_rig: Rig, page: Page, said: Said) -> None:
    """Some instruments read a record, the others are read live."""
    live = "  thermometer: {driver: thermometer, resource: 'TCPIP::192.0.2.14::5025::SOCKET'}"
    instruments = "\n".join(
        live if line.startswith("  thermometer:") else line for line in page("journal").splitlines()
    )
    code, printed = said("check", replayed_rig(instruments))
    assert code == 4
    assert "would be read from a record and thermometer live, and no run does both" in printed


def test_one_of_three_flags(spool_folder: Path, said: Said) -> None:
    code, printed = said("run", spool_folder, "--replayed", "--simulated")
    assert (code, "choose one of them" in printed) == (4, True)


def test_check_opens_records_too(replayed_rig: Rig, page: Page, said: Said, original: Original) -> None:
    code, printed = said("check", replayed_rig(page("journal")), "--connect", "--json")
    found = json.loads(printed)
    assert code == 0
    assert {row["answer"] for row in found["instruments"]} == {
        f"record, journal.jsonl, {original.verdict.journal.sha256}"
    }


def test_the_identity_pins_the_record(replayed_rig: Rig, page: Page, said: Said, tmp_path: Path) -> None:
    pinned = "resource: journal.jsonl, identity: {serial number: 0123}, settings: {source: pump}"
    folder = replayed_rig(page("journal"), ("resource: journal.jsonl, settings: {source: pump}", pinned))
    code, printed = said("run", folder, "--replayed", "--quiet", "--out", tmp_path / "out")
    assert code == 3
    assert "the rig names '0123': another instrument stands at journal.jsonl" in printed


class Unpunctual:
    """A clock on which every wait takes a little longer than asked, as on a machine that has other work too."""

    def __init__(self, clock: Clock, seed: int) -> None:
        self._clock, self._random = clock, random.Random(seed)

    def now(self) -> float:
        return self._clock.now()

    def wait(self, seconds: float) -> None:
        self._clock.wait(seconds + self._random.choice((0.0, 1e-7, 1e-5, 0.0123456789, 0.3)) * self._random.random())

    def utc(self) -> datetime:
        return self._clock.utc()


@pytest.mark.parametrize("seed", [4, 5, 6])
def test_an_unpunctual_run_is_replayed_too(
    spool: Plan, spool_folder: Path, replayed_rig: Rig, page: Page, tmp_path: Path, seed: int
) -> None:
    """Its times are no round numbers; the replay must still meet every block in its turn."""
    simulated = simulation(spool.rig, spool_folder, spool.registry, seed, ())
    reach = Reach(Unpunctual(simulated.clock, seed), simulated.visa_library, simulated=True)
    (tmp_path / "live").mkdir()
    try:
        live = run_and_judge(spool, reach, tmp_path / "live", Silent())
    finally:
        simulated.close()
    folder = replayed_rig(page("journal"))
    (folder / "journal.jsonl").write_bytes((tmp_path / "live" / "journal.jsonl").read_bytes())
    (tmp_path / "again").mkdir()
    plan = make_plan(folder, spool.registry)
    again = run_and_judge(plan, replay_reach(plan.rig), tmp_path / "again", Silent())
    assert compared(again) == compared(live)


def test_a_tripped_run_trips_again(
    accept: Callable[..., Verdict], spool: Plan, registry: Registry, replayed_rig: Rig, page: Page, tmp_path: Path
) -> None:
    (tmp_path / "live").mkdir()
    live = accept(spool, tmp_path / "live", ["overshoot=60 %"], seed=3)
    assert live.why[0].startswith("tripped: interlock 'overpressure'")
    folder = replayed_rig(page("journal"))
    (folder / "journal.jsonl").write_bytes((tmp_path / "live" / "journal.jsonl").read_bytes())
    (tmp_path / "again").mkdir()
    plan = make_plan(folder, registry)
    again = run_and_judge(plan, replay_reach(plan.rig), tmp_path / "again", Silent())
    assert compared(again) == compared(live)
    assert again.why == live.why


def test_whoever_opens_a_record_must_say_that_it_is_replayed(replayed_rig: Rig, page: Page, registry: Registry) -> None:
    """The command refuses it before; this is for programs that run without the command."""
    plan = make_plan(replayed_rig(page("journal")), registry)
    with pytest.raises(InstrumentError, match=r"pump: answers from the record journal\.jsonl, and the run would be"):
        list(open_all(plan.rig, Reach(JumpingClock()), {}))
