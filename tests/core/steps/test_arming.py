"""Step `arming`: what it provokes, what it finds before any pressure, and how its record is judged."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from rigproof.campaign.trial import Trial, acceptance
from rigproof.documents import load_procedure, load_rig
from rigproof.errors import DocumentError
from rigproof.instruments import FloatArray
from rigproof.interlocks import locks_of
from rigproof.journal import Entry, read_journal
from rigproof.plugins import Registry
from rigproof.run.plan import Plan
from rigproof.run.progress import Reading, Silent
from rigproof.steps.arming import SAFE_AFTER_TEST, arming_cautions
from rigproof.steps.base import ARMED
from rigproof.verdict.record import Check, Verdict
from rigproof_scpi.pressure_source import PressureSource
from rigproof_scpi.thermometer import Thermometer

Acceptance = Callable[..., Verdict]
Planned = Callable[..., Plan]

ARMING = "  - arming: {source: pump, rest: 5 s}\n"
CYCLES = (
    "  - cycles: {source: pump, to: 20 bar, times: 2, levels: 2, exercise: 0, dwell: 1 s, rest: 1 s, readings: 2}\n"
)
HARMLESS_PA = 0.5e5  # the spool's `safe below`


def highest_pa(folder: Path) -> float:
    lines = (folder / "journal.jsonl").read_text("utf-8").splitlines()
    blocks = [entry["values"] for entry in map(json.loads, lines) if entry["kind"] == "samples"]
    return max((max(block["pressure"]) for block in blocks if "pressure" in block), default=0.0)


def ordered_pa(folder: Path) -> list[float]:
    entries = read_journal(folder / "journal.jsonl").entries
    return [entry.data["target"] for entry in entries if entry.kind == "command" and "target" in entry.data]


def of_arming(verdict: Verdict, name: str) -> dict[str, Check]:
    return {check.subject: check for check in verdict.checks if (check.step_kind, check.name) == ("arming", name)}


@pytest.fixture(scope="module")
def armed(accept: Acceptance, planned: Planned, tmp_path_factory: pytest.TempPathFactory) -> tuple[Verdict, Path]:
    """A sound spool, armed and then cycled."""
    folder = tmp_path_factory.mktemp("armed")
    return accept(planned(ARMING + CYCLES), folder), folder


def test_on_a_sound_rig_each_trips_and_the_run_goes_on(armed: tuple[Verdict, Path], spool: Plan) -> None:
    verdict, folder = armed
    trips, times = of_arming(verdict, "trips"), of_arming(verdict, "reading to safe command")
    assert list(trips) == [lock.name for lock in locks_of(spool.rig)] == list(times)
    assert {check.finding for check in verdict.checks} == {"accept"}
    assert all(check.measured is not None and 0 < check.measured < 1 for check in times.values())
    assert ARMED in verdict.shown
    assert [step.taken for step in verdict.steps] == ["whole", "whole"]
    assert max(ordered_pa(folder)[: len(trips)]) < HARMLESS_PA
    hows = {e.data["how"] for e in read_journal(folder / "journal.jsonl").entries if e.kind == "arming"}
    assert hows == {"by load"}  # each channel had to move


class Told(Silent):
    """What a person is told."""

    def __init__(self) -> None:
        self.texts: list[str] = []

    def say(self, text: str) -> None:
        self.texts.append(text)

    def safe(self, source: str, load: Reading | None, text: str) -> None:
        self.texts.append(f"{source} safe: {text}")


@pytest.mark.parametrize(
    ("flaws", "becomes"),
    [([], r"pressure is down again: -?0.0\d\d bar"), (["stuck-vent"], r"pressure is NOT down: 0.4\d\d bar")],
)
def test_what_becomes_of_the_pressure_after_a_trip_is_told(
    accept: Acceptance, planned: Planned, tmp_path: Path, flaws: list[str], becomes: str
) -> None:
    """Right after it 0.4 bar still stand on the part: that is no failure, and what follows is."""
    told = Told()
    accept(planned(ARMING), tmp_path, flaws, progress=told)
    tripped = next(
        n for n, text in enumerate(told.texts) if text.endswith("from the reading of pressure to the safe command")
    )
    safe, after = told.texts[tripped + 1 : tripped + 3]
    left = r"0\.3\d* bar, within the 0.5 bar that count as no load"
    assert re.fullmatch(f"pump safe: source reports its safe state, pressure {left}", safe)
    assert re.fullmatch(f"{becomes} left 5 s after the trip", after)


def test_a_provoked_trip_leaves_no_trace_in_the_limits(armed: tuple[Verdict, Path]) -> None:
    """20 bar in the cycles, 50 times what every interlock tripped at."""
    assert highest_pa(armed[1]) > 19e5


def test_a_frozen_transmitter_is_found_before_any_pressure(
    accept: Acceptance, planned: Planned, tmp_path: Path
) -> None:
    verdict = accept(planned(ARMING + CYCLES), tmp_path, ["frozen-transmitter=1 s"])
    trips = of_arming(verdict, "trips")
    assert verdict.verdict == "reject"
    assert {name for name, check in trips.items() if check.finding == "reject"} == {
        *("overpressure", "pressure rate", "time at pressure", "limit of pump")
    }
    assert {trips[name].finding for name in ("hoop strain", "hoop yield")} == {"accept"}
    assert max(ordered_pa(tmp_path)) < HARMLESS_PA
    assert ARMED in verdict.not_shown


def test_without_the_test_a_stuck_vent_is_never_seen(accept: Acceptance, planned: Planned, tmp_path: Path) -> None:
    """Every cycle is lowered by the pump itself; only a trip needs the vent."""
    (tmp_path / "unarmed").mkdir()
    unarmed = accept(planned(CYCLES), tmp_path / "unarmed", ["stuck-vent"])
    assert unarmed.verdict == "accept"
    assert ARMED in unarmed.not_shown
    (tmp_path / "armed").mkdir()
    verdict = accept(planned(ARMING + CYCLES), tmp_path / "armed", ["stuck-vent"])
    assert verdict.verdict == "reject"
    assert of_arming(verdict, "load left after a trip")["pressure"].finding == "reject"
    assert max(ordered_pa(tmp_path / "armed")) < HARMLESS_PA


def test_a_source_that_does_not_obey_is_found_before_any_pressure(
    accept: Acceptance, planned: Planned, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The safe command gets lost each time, at the end too: the run is void."""
    monkeypatch.setattr(PressureSource, "go_safe", lambda self: None)
    verdict = accept(planned(ARMING + CYCLES), tmp_path)
    check = of_arming(verdict, "safe state confirmed")["pump"]
    assert (check.measured, check.finding) == (0.0, "reject")
    assert "NOT its safe state" in check.note
    assert verdict.verdict == "void"
    assert verdict.steps[1].taken == "not taken"
    assert max(ordered_pa(tmp_path)) < HARMLESS_PA
    late = [check for check in of_arming(verdict, "trips").values() if check.finding == "undecided"]
    assert "the step ended before it" in late[0].note


def test_another_trip_during_the_test_is_none_of_it(
    accept: Acceptance, planned: Planned, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    hot = "interlocks:\n  bay: {channel: water, above: 40 °C}\n  silence: {channel: water, silent for longer than: 6 s}"
    plan = planned(ARMING, ("interlocks:", hot))

    def read(self: Thermometer, inputs: Any, count: int, interval_s: float) -> FloatArray:
        return np.full((count, len(inputs)), 50.0)

    monkeypatch.setattr(Thermometer, "read", read)
    verdict = accept(plan, tmp_path)
    assert verdict.verdict == "void"
    assert verdict.end.startswith("tripped: interlock 'bay': water at 50 °C, limit 40 °C")


@pytest.mark.parametrize("ends", [1, 200])
def test_a_channel_without_a_reading_at_rest_is_told(
    accept: Acceptance, planned: Planned, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, ends: int
) -> None:
    """Over range from the start: nothing to lower a limit from. It gives readings again at once, or much later."""
    bay = "interlocks:\n  bay: {channel: water, above: 40 °C}"
    plan, asked = planned(ARMING, ("interlocks:", bay)), iter(range(10_000))
    sound = Thermometer.read

    def read(self: Thermometer, inputs: Any, count: int, interval_s: float) -> FloatArray:
        values = sound(self, inputs, count, interval_s)
        return values if next(asked) >= ends else np.full_like(values, np.nan)

    monkeypatch.setattr(Thermometer, "read", read)
    verdict = accept(plan, tmp_path)
    check = of_arming(verdict, "trips")["bay"]
    assert "defect" not in verdict.end
    assert (check.finding, check.note.partition(";")[0]) == (
        "undecided",
        "bay is not provoked: water gives no reading at rest",
    )


def test_what_load_does_not_move_trips_by_its_limit(accept: Acceptance, planned: Planned, tmp_path: Path) -> None:
    more = (
        "interlocks:\n  bay: {channel: water, above: 40 °C}\n  cold: {channel: water, below: 5 °C}\n"
        "  silence: {channel: water, silent for longer than: 6 s}\n"
        "  fall: {channel: pressure, falling faster than: 3 bar/s, over: 2 s}\n"
        "  apart: {channel: hoop, against: axial, apart by more than: 600 µε}"
    )
    verdict = accept(planned(ARMING, ("interlocks:", more)), tmp_path)
    assert {check.finding for check in verdict.checks} == {"accept"}, verdict.why
    hows = {
        e.data["interlock"]: e.data["how"]
        for e in read_journal(tmp_path / "journal.jsonl").entries
        if e.kind == "arming"
    }
    assert {name for name, how in hows.items() if how == "by its limit"} == {"bay", "cold", "silence", "fall", "apart"}


def test_only_the_record_is_judged(armed: tuple[Verdict, Path], judged: Callable[..., Verdict], spool: Plan) -> None:
    """Entries taken out or turned round, one kind at a time."""
    entries = read_journal(armed[1] / "journal.jsonl").entries

    def findings(change: Callable[[Entry], Entry | None]) -> dict[tuple[str, str], str]:
        verdict = judged([kept for entry in entries if (kept := change(entry)) is not None])
        return {(c.name, c.subject): c.finding for c in verdict.checks if c.step_kind == "arming"}

    def about(entry: Entry, kind: str) -> bool:
        return entry.kind == kind and entry.data["interlock"] == "hoop strain"

    assert set(findings(lambda e: e).values()) == {"accept"}
    assert findings(lambda e: None if about(e, "trip") else e)["trips", "hoop strain"] == "reject"
    assert findings(lambda e: None if about(e, "arming") else e)["trips", "hoop strain"] == "undecided"
    unsafe = findings(lambda e: replace(e, data={**e.data, "confirmed": False}) if about(e, SAFE_AFTER_TEST) else e)
    assert unsafe["safe state confirmed", "pump"] == "reject"
    slow = findings(lambda e: replace(e, data={**e.data, "took_s": 6.0}) if about(e, "trip") else e)
    assert slow["reading to safe command", "hoop strain"] == "reject"
    real = findings(lambda e: replace(e, data={**e.data, "provoked": False}) if about(e, "trip") else e)
    assert real["trips", "hoop strain"] == "reject"


@pytest.mark.parametrize(
    ("parameters", "key", "what"),
    [
        ("{source: pmp}", "source", "no source of the rig"),
        ("{source: pump, to: 2 bar}", "to", "more than 0.5 bar"),
        ("{source: pump, to: 2 kN}", "to", "takes a gauge pressure"),
        ("{source: pump, rate: 2 bar/s}", "rate", "at most the source's 0.5 bar/s"),
    ],
)
def test_what_does_not_fit_the_rig_is_told_before(planned: Planned, parameters: str, key: str, what: str) -> None:
    with pytest.raises(DocumentError) as caught:
        planned(f"  - arming: {parameters}\n")
    (fault,) = caught.value.faults
    assert fault.where == f"steps[1].arming.{key}"
    assert what in f"{fault.message}; {fault.remedy}"


def test_a_load_without_the_test_is_a_caution(planned: Planned, spool: Plan, registry: Registry) -> None:
    said = arming_cautions(spool.rig, planned(CYCLES + ARMING).procedure)
    assert len(said) == 1
    assert "before step 1 puts load on the part" in said[0]
    assert "- arming: {source: pump}" in said[0]
    assert any(text == said[0] for text in planned(CYCLES + ARMING).cautions)
    assert arming_cautions(spool.rig, planned(ARMING + CYCLES).procedure) == []
    assert arming_cautions(spool.rig, planned("  - balance: {}\n").procedure) == []
    bare = load_rig(text=spool.rig.text[: spool.rig.text.index("interlocks:")], registry=registry)
    text = f"rigproof: procedure/1\nname: x\nsteps:\n{CYCLES}"
    (limit_alone,) = arming_cautions(
        bare, load_procedure(text=text, registry=registry)
    )  # that of the source is relied on
    assert "- arming: {source: pump}" in limit_alone


def test_weights_are_not_started(registry: Registry) -> None:
    """No weight is so light; the caution says what can be done."""
    folder = Path(__file__).parents[3] / "rigs" / "beam"
    rig = load_rig(folder / "rig.yaml", registry)
    written = (folder / "acceptance.yaml").read_text("utf-8")
    without = "".join(line for line in written.splitlines(True) if "arming:" not in line)
    assert arming_cautions(rig, load_procedure(text=written, registry=registry)) == []
    (said,) = arming_cautions(rig, load_procedure(text=without, registry=registry))
    assert "- arming: {source: weights, to: 0 N}" in said
    text = "rigproof: procedure/1\nname: x\nsteps:\n  - arming: {source: weights, to: 0 N}\n"
    plan = Plan(rig, load_procedure(text=text, registry=registry), registry)
    (step,) = plan.rehearsed
    assert "the source is not started" in step.step.remarks()[0]
    assert (step.trouble, {found.acceptable for found in step.checks}) == ("", {True})
    assert any("that it obeys is not shown" in found.check.note for found in step.checks)
    assert ARMED not in step.step.shown()


def test_a_source_that_was_not_started_is_not_said_to_obey() -> None:
    folder = Path(__file__).parents[3] / "rigs" / "beam"
    verdict = acceptance(folder, Trial((), 1))
    assert verdict.verdict == "accept", verdict.why
    assert ARMED in verdict.not_shown
    assert any(each.endswith("the source not started") for each in verdict.shown)


def test_on_paper_a_sound_rig_passes_it(planned: Planned) -> None:
    (step,) = planned(ARMING).rehearsed
    assert step.trouble == ""
    assert step.checks
    assert all(found.acceptable for found in step.checks)
    assert 60 < step.duration_s < 300
