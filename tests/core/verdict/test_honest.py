"""Nothing is accepted that was not shown: journals with something missing, poor or made up, judged again."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, ClassVar

import numpy as np
import pytest

from rigproof.errors import DocumentError, JournalError
from rigproof.instruments import FloatArray
from rigproof.journal import BROKEN_OFF, Entry, Journal
from rigproof.plugins import Registry
from rigproof.run.plan import Plan
from rigproof.steps.base import Step
from rigproof.verdict.judging import judge
from rigproof.verdict.record import Check, Verdict
from rigproof_scpi.bridge_amplifier import BridgeAmplifier

Entries = Sequence[Entry]
Edit = Callable[[Entry], Entry | None]
Judged = Callable[[Iterable[Entry]], Verdict]


def edited(entries: Entries, edit: Edit) -> list[Entry]:
    """The entries with each changed, or taken out where `edit` gives None."""
    return [new for entry in entries if (new := edit(entry)) is not None]


def labelled(entry: Entry, *labels: str) -> bool:
    return entry.kind == "samples" and entry.data["label"] in labels


def with_values(entry: Entry, **values: list[float | None]) -> Entry:
    return replace(entry, data={**entry.data, "values": {**entry.data["values"], **values}})


def with_data(entry: Entry, **data: object) -> Entry:
    return replace(entry, data={**entry.data, **data})


def named(verdict: Verdict, name: str) -> list[Check]:
    return [check for check in verdict.checks if check.name == name]


@pytest.fixture(scope="module")
def whole(sound: Entries, judged: Judged) -> Verdict:
    """The verdict of the journal that the tests edit."""
    verdict = judged(sound)
    assert verdict.verdict == "accept", verdict.why
    return verdict


def test_the_edited_journals_are_what_a_writer_and_a_reader_would_make_of_them(
    sound: Entries, whole: Verdict, judged: Judged, rewritten: Callable[[Iterable[Entry]], Journal], registry: Registry
) -> None:
    """So that tests may judge entries in memory: a chain that holds vouches for nothing that is not in it."""
    written = judge(rewritten(sound), registry)
    assert written.model_copy(update={"journal": whole.journal}) == whole
    fewer = [entry for entry in sound if entry.kind != "safe"]
    without = judge(rewritten(fewer), registry)
    assert without.verdict == "void"
    assert without.model_copy(update={"journal": whole.journal}) == judged(fewer)


# -- the safe end and the instruments -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    "edit",
    [
        lambda e: None if e.kind == "safe" else e,
        lambda e: with_data(e, confirmed=False) if e.kind == "safe" else e,
        lambda e: with_data(e, source="another pump") if e.kind == "safe" else e,
    ],
    ids=["missing", "not confirmed", "of another source"],
)
def test_a_source_that_was_not_left_safe_voids_the_run(sound: Entries, judged: Judged, edit: Edit) -> None:
    verdict = judged(edited(sound, edit))
    assert verdict.verdict == "void"
    assert any(why.startswith("pump: not confirmed safe at the end") for why in verdict.why)


def test_only_the_last_word_about_a_source_counts(sound: Entries, judged: Judged) -> None:
    *before, safe, end = sound
    assert safe.kind == "safe"
    assert judged([*before, with_data(safe, confirmed=False), safe, end]).verdict == "accept"
    assert judged([*before, safe, with_data(safe, confirmed=False), end]).verdict == "void"


@pytest.mark.parametrize(
    "edit",
    [
        lambda e: None if e.kind == "end" else e,
        lambda e: with_data(e, how="tripped") if e.kind == "end" else e,
        lambda e: with_data(e, how="broken off") if e.kind == "end" else e,
    ],
    ids=["killed", "tripped", "broken off"],
)
def test_a_run_without_a_good_end_is_void(sound: Entries, judged: Judged, edit: Edit) -> None:
    assert judged(edited(sound, edit)).verdict == "void"


def test_a_simulated_run_that_calls_itself_real_is_void(sound: Entries, judged: Judged) -> None:
    head, *rest = sound
    verdict = judged([with_data(head, simulated=False, twin=None), *rest])
    assert verdict.verdict == "void"
    assert "bridge is a simulated instrument" in verdict.why


@pytest.mark.parametrize(("number", "named"), [("B-0107", "B-0107"), ("", "certificate 2026-0001")])
def test_a_calibration_that_had_run_out_leaves_the_verdict_open(
    sound: Entries, judged: Judged, number: str, named: str
) -> None:
    """An instrument that tells no serial number is known by its certificate."""

    def expire(entry: Entry) -> Entry:
        late = {"calibration_due": "2026-11-24", "serial_number": number, "certificate": "2026-0001"}
        return with_data(entry, **late) if entry.data.get("name") == "bridge" else entry

    verdict = judged(edited(sound, expire))
    assert verdict.verdict == "undecided"
    assert f"the calibration of bridge ({named}) ran out on 2026-11-24" in verdict.why


@pytest.mark.parametrize("name", ["bridge", "transmitter", "pump"])
def test_an_instrument_that_never_said_who_it_is_keeps_the_verdict_from_accept(
    sound: Entries, judged: Judged, name: str
) -> None:
    """With its entry go its identity, its calibration and the mark of a simulated one."""

    def drop(entry: Entry) -> Entry | None:
        return None if entry.kind == "instrument" and entry.data["name"] == name else entry

    verdict = judged(edited(sound, drop))
    assert verdict.verdict != "accept"
    assert any(name in why for why in verdict.why)


def test_the_plugins_that_judged_are_told_from_those_of_the_run(
    sound: Entries, judged: Judged, registry: Registry
) -> None:
    old = {"name": "steps", "distribution": "rigproof", "version": "0.0.1"}
    head, *rest = sound
    verdict = judged([with_data(head, plugins=[old]), *rest])
    assert [plugin.model_dump() for plugin in verdict.plugins] == [old]
    assert {(p.name, p.distribution, p.version) for p in verdict.judged_with} == {
        (info.name, info.distribution, info.version) for info in registry.sources.values()
    }
    assert verdict.judged_with


# -- readings taken out -------------------------------------------------------------------------------------------

LABELS = [
    *("resistance", "start", "end", "open", "closed", "after", "zero", "level", "zero before", "stage"),
    *("hold start", "hold start, temperature", "hold end", "hold end, temperature", "zero after"),
]


@pytest.mark.parametrize("position", [0, -1], ids=["first", "last"])
@pytest.mark.parametrize("label", LABELS)
def test_a_block_that_is_missing_is_never_passed_over(
    sound: Entries, judged: Judged, label: str, position: int
) -> None:
    numbers = [entry.n for entry in sound if labelled(entry, label)]
    verdict = judged(entry for entry in sound if entry.n != numbers[position])
    assert verdict.verdict != "accept"
    assert verdict.why


@pytest.mark.parametrize("label", ["hold", "stage"])
def test_blocks_that_are_all_missing_are_never_passed_over(sound: Entries, judged: Judged, label: str) -> None:
    assert judged(entry for entry in sound if not labelled(entry, label)).verdict == "undecided"


@pytest.mark.parametrize(
    ("label", "channel"),
    [
        *((label, "axial") for label in LABELS[:10]),
        *((label, "pressure") for label in (*LABELS[6:11], "hold end", "zero after")),
        *((label, "axial") for label in ("hold end", "zero after")),
    ],
)
def test_a_channel_that_is_missing_from_a_block_is_never_passed_over(
    sound: Entries, judged: Judged, label: str, channel: str
) -> None:
    def drop(entry: Entry) -> Entry:
        if not labelled(entry, label):
            return entry
        left = {name: column for name, column in entry.data["values"].items() if not name.startswith(channel)}
        return with_data(entry, values=left)

    entries = edited(sound, drop)
    assert entries != list(sound)
    assert judged(entries).verdict != "accept"


@pytest.mark.parametrize("label", LABELS)
def test_one_reading_that_is_missing_is_never_passed_over(sound: Entries, judged: Judged, label: str) -> None:
    """Overload, open circuit or no number: one sample of one channel of one block."""
    number = next(entry.n for entry in sound if labelled(entry, label))

    def lose(entry: Entry) -> Entry:
        if entry.n != number:
            return entry
        values = entry.data["values"]
        name = "pressure" if label == "hold start" else next(iter(values))  # only the load is judged at its start
        column = values[name]
        return with_values(entry, **{name: [*column[:-1], None]})

    assert judged(edited(sound, lose)).verdict != "accept"


def test_an_insulation_measured_in_one_polarity_only_is_open(sound: Entries, judged: Judged) -> None:
    number = next(entry.n for entry in sound if entry.kind == "insulation")
    verdict = judged(entry for entry in sound if entry.n != number)
    assert verdict.verdict == "undecided"
    assert [check.finding for check in named(verdict, "insulation")] == ["undecided", "accept"]


@pytest.mark.parametrize("step", range(1, 7))
@pytest.mark.parametrize("taken", ["begun", "whole"])
def test_a_step_without_its_beginning_or_its_end_is_not_accepted(
    sound: Entries, judged: Judged, step: int, taken: str
) -> None:
    """Without its end the cycles seem to go on with the proof's loads, which are too high for them."""
    verdict = judged(e for e in sound if not (e.kind == "step" and e.data["step"] == step and e.data["taken"] == taken))
    assert verdict.verdict == ("reject" if (step, taken) == (5, "whole") else "undecided")
    assert verdict.steps[step - 1].taken != "whole"


def test_a_hold_that_was_too_short_does_not_prove(sound: Entries, judged: Judged) -> None:
    start = next(entry.t for entry in sound if labelled(entry, "hold start"))

    def hurry(entry: Entry) -> Entry:
        return replace(entry, t=start + (entry.t - start) / 2) if entry.t > start else entry

    verdict = judged(edited(sound, hurry))
    assert verdict.verdict == "undecided"
    assert any("not for 1 min" in check.note for check in verdict.checks)


def test_a_load_that_sagged_between_start_and_end_of_the_hold_does_not_prove(sound: Entries, judged: Judged) -> None:
    number = [entry.n for entry in sound if labelled(entry, "hold")][1]
    verdict = judged(edited(sound, lambda e: with_values(e, pressure=[35.0e5]) if e.n == number else e))
    assert [check.finding for check in named(verdict, "lowest load of the hold")] == ["reject"]


@pytest.mark.parametrize("label", ["watch", BROKEN_OFF])
def test_a_load_that_was_overdone_on_the_way_is_seen(sound: Entries, judged: Judged, label: str) -> None:
    """Not only the readings at the stages count, but every look while the load moved, and what was broken off."""
    hold = next(entry for entry in sound if labelled(entry, "hold"))
    look = with_data(with_values(hold, pressure=[38.5e5]), label=label)
    verdict = judged([new for entry in sound for new in ((look, entry) if entry is hold else (entry,))])
    assert [check.finding for check in named(verdict, "highest load")] == ["accept", "reject"]  # cycles, proof


def test_a_dead_thermometer_costs_the_decay_and_nothing_else(sound: Entries, whole: Verdict, judged: Judged) -> None:
    def die(entry: Entry) -> Entry:
        if entry.kind != "samples" or "water" not in entry.data["values"]:
            return entry
        return with_values(entry, water=[None] * len(entry.data["values"]["water"]))

    verdict = judged(edited(sound, die))
    decay = "decay over the hold"
    (check,) = named(verdict, decay)
    assert check.finding == "undecided"
    assert check.note.startswith("cannot be computed: water: no temperature at end of hold: overload or open circuit")
    assert verdict.verdict == "undecided"
    assert [c for c in verdict.checks if c.name != decay] == [c for c in whole.checks if c.name != decay]


def test_a_check_that_cannot_be_computed_costs_no_other(sound: Entries, whole: Verdict, judged: Judged) -> None:
    """One channel is not in the last block of the hold: its strain there is open, all else stands."""

    def drop(entry: Entry) -> Entry:
        if not labelled(entry, "hold end"):
            return entry
        left = {name: column for name, column in entry.data["values"].items() if name != "axial"}
        return with_data(entry, values=left)

    def elsewhere(verdict: Verdict) -> list[Check]:
        return [c for c in verdict.checks if (c.name, c.subject, c.at) != lost]

    lost = ("strain under load", "axial", "end of the hold")
    verdict = judged(edited(sound, drop))
    (strain,) = [c for c in verdict.checks if (c.name, c.subject, c.at) == lost]
    assert strain.finding == "undecided"
    assert "no readings of channel axial" in strain.note
    assert elsewhere(verdict) == elsewhere(whole)


THERMOMETERS = (
    """\
  water:
    measures: temperature
    instrument: thermometer
    input: 1
    accuracy: {fixed: 0.1 K, zero drift: 0.01 K}
  wall temperature:
    measures: temperature
    reduction: {model: Pt100}
    instrument: ohmmeter
    input: 3
    accuracy: {of reading: 0.01 %, fixed: 10 mΩ}
""",
    "",
)


BESIDE_THE_GAUGES = ("    temperature: wall temperature ", "    # ")


def test_without_a_thermometer_the_decay_of_a_shut_in_load_shows_nothing(
    sound: Entries, judged: Judged, told: Callable[..., Entries]
) -> None:
    """A warming part holds its pressure in spite of a leak."""
    verdict = judged(told(sound, THERMOMETERS, BESIDE_THE_GAUGES))
    assert verdict.verdict == "undecided"
    (decay,) = named(verdict, "decay over the hold")
    assert (decay.finding, "no temperature channel" in decay.note) == ("undecided", True)


# -- what was asked shows too little ------------------------------------------------------------------------------

UP_TO_SHUNT = """\
  - resistance: {}
  - insulation: {}
  - balance: {}
  - shunt: {resistor: 174.8 kΩ ± 0.1 %}
"""
CYCLES = "  - cycles: {{source: pump, to: 25 bar, times: 2, levels: 2, channels: {}}}\n"
PROOF = "  - proof: {{source: pump, to: 35.75 bar, stages: [50 %, 100 %], hold: 1 min, channels: {}}}\n"


@pytest.mark.parametrize(
    "load_steps", [CYCLES.format("hoop") + PROOF.format("hoop"), CYCLES.format("axial") + PROOF.format("axial")]
)
def test_a_gauge_that_never_felt_load_is_not_accepted(
    sound: Entries, judged: Judged, told: Callable[..., Entries], load_steps: str
) -> None:
    verdict = judged(told(sound, steps=UP_TO_SHUNT + load_steps))
    assert {check.finding for check in verdict.checks} == {"accept"}
    assert verdict.verdict == "undecided"
    (why,) = verdict.why
    assert why.startswith("not shown: response to load")
    assert "not for" in why


def test_each_gauge_may_feel_load_in_a_step_of_its_own(
    sound: Entries, judged: Judged, told: Callable[..., Entries]
) -> None:
    verdict = judged(told(sound, steps=UP_TO_SHUNT + CYCLES.format("hoop") + PROOF.format("axial")))
    assert verdict.verdict == "accept", verdict.why


def test_without_any_load_nothing_is_accepted(sound: Entries, judged: Judged, told: Callable[..., Entries]) -> None:
    verdict = judged(told(sound, steps=UP_TO_SHUNT))
    assert verdict.verdict == "undecided"
    assert {check.finding for check in verdict.checks} == {"accept"}


@pytest.mark.parametrize(
    "step",
    [
        "balance: {offset: within 1 %}",
        "balance: {drift: within 1 %}",
        "balance: {noise: within 10 ppm}",
        "shunt: {resistor: 174.8 kΩ ± 0.1 %, zero after: within 1 %}",
    ],
)
def test_a_share_of_nothing_in_particular_is_refused(planned: Callable[..., Plan], step: str) -> None:
    with pytest.raises(DocumentError, match="nothing says of what"):
        planned(f"  - {step}\n")


@pytest.mark.parametrize(
    "change",
    [("206 GPa ± 2 %", "206 GPa ± 60 %"), ("gauge factor: 2.08 ± 0.5 %", "gauge factor: 2.08 ± 30 %")],
    ids=["modulus", "gauge factor"],
)
def test_an_agreement_that_anything_would_reach_is_none(
    sound: Entries, judged: Judged, told: Callable[..., Entries], change: tuple[str, str]
) -> None:
    verdict = judged(told(sound, change))
    assert verdict.verdict == "undecided"
    for check in (*named(verdict, "sensitivity"), *named(verdict, "strain under load")):
        assert check.finding == "undecided"
        assert "too poor to show anything" in check.note
        assert check.improve


def test_a_poor_resistor_shows_nothing_of_the_chain(
    sound: Entries, judged: Judged, told: Callable[..., Entries]
) -> None:
    text = sound[0].data["procedure"]["text"].partition("steps:\n")[2]
    assert "± 0.1 %" in text
    verdict = judged(told(sound, steps=text.replace("± 0.1 %", "± 40 %")))
    assert [check.finding for check in named(verdict, "shunt reading")] == ["undecided"] * 2
    assert verdict.verdict == "undecided"


def test_an_overloaded_shunt_reading_allows_no_load(
    accept: Callable[..., Verdict], planned: Callable[..., Plan], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    read, shunt, closed = BridgeAmplifier.read, BridgeAmplifier.shunt, dict[int, bool]()

    def switch(self: BridgeAmplifier, channel_input: int, on: bool) -> None:
        closed[channel_input] = on
        shunt(self, channel_input, on)

    def overload(self: BridgeAmplifier, inputs: Sequence[int], count: int, interval_s: float) -> FloatArray:
        block = read(self, inputs, count, interval_s).copy()
        block[:, [closed.get(channel_input, False) for channel_input in inputs]] = np.nan
        return block

    monkeypatch.setattr(BridgeAmplifier, "shunt", switch)
    monkeypatch.setattr(BridgeAmplifier, "read", overload)
    steps = "  - shunt: {resistor: 174.8 kΩ ± 0.1 %}\n" + CYCLES.format("all strain") + PROOF.format("all strain")
    verdict = accept(planned(steps), tmp_path)
    assert verdict.verdict != "accept"
    assert [check.finding for check in named(verdict, "shunt reading")] != ["accept"] * 2
    assert [step.taken for step in verdict.steps] == ["whole", "not taken", "not taken"]
    assert '"target"' not in (tmp_path / "journal.jsonl").read_text("utf-8")


# -- steps that check nothing, or break ---------------------------------------------------------------------------


class Idle(Step):
    """A step kind of a plugin that finds nothing to check, or breaks."""

    kind: ClassVar[str] = "idle"
    error: ClassVar[Exception | None] = None

    def acquire(self, live: Any) -> None:
        raise AssertionError("is only judged here")

    def judge(self, rig: Any, rule: Any, record: Any) -> Sequence[Check]:
        if self.error is not None:
            raise self.error
        return ()


@pytest.mark.parametrize(
    "error",
    [
        *(None, ValueError("x"), KeyError("x"), TypeError("x"), ZeroDivisionError("x"), OverflowError("x")),
        *(AttributeError("x"), IndexError("x"), JournalError("x"), AssertionError("x"), RuntimeError("x")),
    ],
    ids=repr,
)
def test_a_step_that_checks_nothing_shows_nothing(
    sound: Entries,
    rewritten: Callable[[Iterable[Entry]], Journal],
    told: Callable[..., Entries],
    registry: Registry,
    monkeypatch: pytest.MonkeyPatch,
    error: Exception | None,
) -> None:
    """Nor does one that breaks: a judgement is an undecided step, not an end without a verdict."""
    monkeypatch.setattr(Idle, "error", error)
    text = sound[0].data["procedure"]["text"].partition("steps:\n")[2]
    *run, safe, end = told(sound, steps=f"{text.rstrip()}\n  - idle: {{}}\n")
    begun = Entry(0, safe.t, "step", {"step": 7, "step_kind": "idle", "taken": "begun"})
    whole = with_data(begun, taken="whole")
    with_idle = replace(registry, steps={**registry.steps, "idle": Idle})
    verdict = judge(rewritten([*run, begun, whole, safe, end]), with_idle)
    assert verdict.verdict == "undecided"
    assert verdict.steps[-1].finding == "undecided"
    assert any("idle" in why for why in verdict.why)
