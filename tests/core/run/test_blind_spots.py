"""What a run could overlook: a channel that tells nothing, load nobody ordered, an instrument that is none."""

from __future__ import annotations

import json
import os
import signal
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from rigproof.errors import DocumentError, Tripped
from rigproof.instruments import FloatArray
from rigproof.run.accepting import run_and_judge
from rigproof.run.interlocks import Interlocks
from rigproof.run.opening import Reach
from rigproof.run.plan import Plan
from rigproof.run.progress import Silent
from rigproof.run.simulated import reach_of, simulation
from rigproof.steps.base import source_problems
from rigproof.verdict.record import Verdict
from rigproof_scpi.bridge_amplifier import BridgeAmplifier
from rigproof_scpi.pressure_source import PressureSource
from rigproof_scpi.pressure_transmitter import PressureTransmitter

Acceptance = Callable[..., Verdict]

CYCLES = """\
  - cycles: {source: pump, to: 20 bar, times: 2, levels: 2, exercise: 0, dwell: 1 s, rest: 1 s, readings: 2}
"""
UNDER_PRESSURE = "cycle 1 of 2: level 2 of 2"  # said at 10 bar, on the way to 20 bar
SPOOL = (Path(__file__).parents[3] / "tests" / "rigs" / "spool" / "rig.yaml").read_text("utf-8")
NO_INTERLOCKS = (SPOOL[SPOOL.index("interlocks:") :], "")


@pytest.fixture(scope="module")
def short(planned: Callable[..., Plan]) -> Plan:
    return planned(CYCLES)


class At(Silent):
    """Does something when the run says a certain thing."""

    def __init__(self, words: str, action: Callable[[], None]) -> None:
        self.words, self.action, self.done = words, action, False

    def say(self, text: str) -> None:
        if self.words in text and not self.done:
            self.done = True
            self.action()


def journal(folder: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in (folder / "journal.jsonl").read_text("utf-8").splitlines()]


def of_kind(folder: Path, kind: str) -> list[dict[str, Any]]:
    return [entry for entry in journal(folder) if entry["kind"] == kind]


@pytest.fixture
def ordered(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """Every target the pump was given, bar."""
    targets: list[float] = []
    rise_to = PressureSource.rise_to

    def remember(self: PressureSource, target: float, rate_per_s: float) -> None:
        targets.append(target / 1e5)
        rise_to(self, target, rate_per_s)

    monkeypatch.setattr(PressureSource, "rise_to", remember)
    return targets


@pytest.fixture
def transmitter(monkeypatch: pytest.MonkeyPatch) -> Callable[[Callable[[FloatArray], FloatArray]], None]:
    """A function that puts another function over every reading of the transmitter from now on."""
    read = PressureTransmitter.read

    def put(change: Callable[[FloatArray], FloatArray]) -> None:
        monkeypatch.setattr(PressureTransmitter, "read", lambda self, *args: change(read(self, *args)))

    return put


class Frozen:
    """Gives the first reading for ever."""

    first: float | None = None

    def __call__(self, readings: FloatArray) -> FloatArray:
        self.first = readings[0, 0] if self.first is None else self.first
        return np.full_like(readings, self.first)


# -- the load channel ---------------------------------------------------------------------------------------------


def test_a_frozen_transmitter_ends_the_run_at_the_first_level(
    accept: Acceptance, short: Plan, tmp_path: Path, ordered: list[float], transmitter: Callable[[object], None]
) -> None:
    transmitter(Frozen())
    verdict = accept(short, tmp_path)
    assert verdict.verdict == "void"
    assert "pump says that it reached 10 bar, but pressure reads" in verdict.end
    assert ordered == [10.0]


def test_a_transmitter_that_freezes_under_load_ends_the_run_and_confirms_nothing(
    accept: Acceptance, short: Plan, tmp_path: Path, ordered: list[float], transmitter: Callable[[object], None]
) -> None:
    verdict = accept(short, tmp_path, progress=At(UNDER_PRESSURE, lambda: transmitter(Frozen())))
    assert verdict.verdict == "void"
    assert "pump says that it reached 20 bar, but pressure reads 9.9" in verdict.end
    assert ordered == [10.0, 20.0]
    assert not verdict.safe_end[0].confirmed


def test_a_load_that_never_comes_is_no_cycle(
    accept: Acceptance, short: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A shut valve: the source is content, the part feels nothing, and dead gauges would agree with that."""
    rise_to = PressureSource.rise_to
    monkeypatch.setattr(PressureSource, "rise_to", lambda self, target, rate: rise_to(self, 0.0, rate))
    verdict = accept(short, tmp_path)
    assert verdict.verdict == "void"
    assert "look for a shut valve" in verdict.end


@pytest.mark.parametrize("changes", [(), (NO_INTERLOCKS,)])
def test_a_transmitter_that_is_lost_under_load_trips(
    accept: Acceptance,
    planned: Callable[..., Plan],
    tmp_path: Path,
    ordered: list[float],
    transmitter: Callable[[object], None],
    changes: tuple[tuple[str, str], ...],
) -> None:
    lose = At(UNDER_PRESSURE, lambda: transmitter(lambda readings: readings * np.nan))
    verdict = accept(planned(CYCLES, *changes), tmp_path, progress=lose)
    assert verdict.verdict == "void"
    assert verdict.end.startswith("tripped: ")
    assert "pressure gives no reading under load" in verdict.end
    assert ordered == [10.0, 20.0]
    assert not verdict.safe_end[0].confirmed


def test_the_limit_of_the_source_is_watched_where_the_rig_names_no_interlock(
    accept: Acceptance, planned: Callable[..., Plan], tmp_path: Path
) -> None:
    plan = planned(CYCLES.replace("20 bar", "36 bar"), NO_INTERLOCKS)
    verdict = accept(plan, tmp_path, ["overshoot=25 %"])
    assert verdict.verdict == "void"
    assert verdict.end.startswith("tripped: interlock 'limit of pump': pressure at 4")
    assert verdict.safe_end[0].confirmed
    highest = max(max(e["values"]["pressure"]) for e in of_kind(tmp_path, "samples") if "pressure" in e["values"])
    assert 40e5 < highest < 41e5  # seen within one look of a second at 0.5 bar/s


def test_an_interlock_sees_a_reading_above_its_limit_beside_one_that_is_missing(spool: Plan) -> None:
    with pytest.raises(Tripped, match="'overpressure'"):
        Interlocks(spool.rig).check({"pressure": np.array([60e5, np.nan])}, under_load=False)


def test_a_strain_that_was_never_zeroed_must_still_give_a_reading_under_load(spool: Plan) -> None:
    with pytest.raises(Tripped, match="hoop gives no reading under load"):
        Interlocks(spool.rig).check({"hoop": np.array([np.nan])}, under_load=True)


# -- load that nobody ordered -------------------------------------------------------------------------------------


def test_load_on_the_part_at_the_start_is_let_off_before_any_step(
    accept: Acceptance, planned: Callable[..., Plan], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened = PressureSource.open

    def under_pressure(self: PressureSource) -> Any:
        identity = opened(self)
        self.rise_to(20e5, 5e5)
        self.connection.clock.wait(120.0)
        return identity

    monkeypatch.setattr(PressureSource, "open", under_pressure)
    plan = planned("  - balance: {channels: all strain, settle: 5 s}\n")
    verdict = accept(plan, tmp_path)
    entries = journal(tmp_path)
    at_start = next(i for i, entry in enumerate(entries) if entry["kind"] == "safe at the start")
    assert entries[at_start]["confirmed"]
    assert entries[at_start]["t"] > 120.0  # the pressure really was there and took its time to fall
    assert at_start < next(i for i, entry in enumerate(entries) if entry["kind"] == "step")
    assert {check.finding for check in verdict.checks} == {"accept"}


def test_load_that_cannot_be_let_off_at_the_start_stops_the_run_before_any_step(
    accept: Acceptance, short: Plan, tmp_path: Path, ordered: list[float], transmitter: Callable[[object], None]
) -> None:
    transmitter(lambda readings: readings + 20e5)
    verdict = accept(short, tmp_path)
    assert verdict.verdict == "void"
    assert "not confirmed without load at the start (pump: source reports its safe state; pressure 2" in verdict.end
    assert not of_kind(tmp_path, "step")
    assert not ordered


@pytest.mark.parametrize("step", ["  - balance: {channels: all strain, settle: 5 s}\n", CYCLES])
def test_no_zero_is_taken_under_load(
    accept: Acceptance,
    planned: Callable[..., Plan],
    tmp_path: Path,
    ordered: list[float],
    transmitter: Callable[[object], None],
    step: str,
) -> None:
    """Load that comes after the start: a zero under it would hide it from every strain interlock."""
    change = At("pump safe", lambda: transmitter(lambda readings: readings + 3e5))
    verdict = accept(planned(step), tmp_path, progress=change)
    assert verdict.verdict == "void"
    assert "pressure is 2.9" in verdict.end
    assert "a zero is only taken without load" in verdict.end
    assert not ordered


@pytest.mark.parametrize(
    "step",
    [
        "cycles: {source: pump, to: -400 bar}",
        "proof: {source: pump, to: -4000 bar}",
        "cycles: {source: pump, to: 20 bar, rate: 100 bar/s}",
        "cycles: {source: pump, to: 20 bar, rate: -0.1 bar/s}",
        "proof: {source: pump, to: 35 bar, hold: -5 s}",
        "proof: {source: pump, to: 35 bar, margin: -90 %}",
        "proof: {source: pump, to: 35 bar, at most: 900 %}",
        "proof: {source: pump, to: 39.9 bar}",  # with its margin above the source's limit
        "insulation: {at least: -1 GΩ}",
        "insulation: {at least: 0 Ω}",
    ],
)
def test_a_step_that_would_load_backwards_or_show_nothing_is_refused(planned: Callable[..., Plan], step: str) -> None:
    with pytest.raises(DocumentError):
        planned(f"  - {step}\n")


def test_a_load_channel_with_a_reduction_is_refused(spool: Plan) -> None:
    """The safe end and the interlocks compare raw readings of the load: they must be the load."""
    channels = dict(spool.rig.channels)
    reduction = channels["wall temperature"].reduction
    channels["pressure"] = channels["pressure"].model_copy(update={"reduction": reduction})
    to = spool.rig.sources["pump"].limit
    found = source_problems(replace(spool.rig, channels=channels), "pump", to, to.value, None)
    assert any("has a reduction" in what for _, what, _ in found)


# -- commands after a stop ----------------------------------------------------------------------------------------


def test_no_load_is_ordered_once_a_stop_was_asked_for(
    accept: Acceptance, short: Plan, tmp_path: Path, ordered: list[float]
) -> None:
    """The stop comes while the run tells what it does next: between two commands, and before the second."""
    verdict = accept(short, tmp_path, progress=At(UNDER_PRESSURE, lambda: os.kill(os.getpid(), signal.SIGTERM)))
    assert "SIGTERM" in verdict.end
    assert ordered == [10.0]


def test_a_shunt_is_open_after_a_stop(
    accept: Acceptance, planned: Callable[..., Plan], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    switched: list[bool] = []
    shunt = BridgeAmplifier.shunt

    def remember(self: BridgeAmplifier, channel_input: int, closed: bool) -> None:
        shunt(self, channel_input, closed)
        switched.append(closed)
        if closed:
            os.kill(os.getpid(), signal.SIGTERM)

    monkeypatch.setattr(BridgeAmplifier, "shunt", remember)
    verdict = accept(planned("  - shunt: {resistor: 174.8 kΩ ± 0.1 %}\n"), tmp_path)
    assert "SIGTERM" in verdict.end
    assert switched == [True, False]


# -- drivers and instruments --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "wrong",
    [
        lambda block: block[:1],
        lambda block: block[:, :1],
        lambda block: block.T,
        lambda block: block.ravel(),
        lambda block: block[None],
        lambda block: np.vstack([block, block]),
    ],
    ids=["one row", "one column", "transposed", "flat", "cubic", "twice"],
)
def test_readings_of_another_shape_than_asked_are_a_lost_instrument(
    accept: Acceptance,
    planned: Callable[..., Plan],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    wrong: Callable[[FloatArray], FloatArray],
) -> None:
    read = BridgeAmplifier.read
    monkeypatch.setattr(BridgeAmplifier, "read", lambda self, *args: wrong(read(self, *args)))
    verdict = accept(planned("  - balance: {channels: all strain, settle: 5 s}\n"), tmp_path)
    assert verdict.verdict == "void"
    assert verdict.end.startswith("instrument lost: bridge: gave readings of shape")
    assert not of_kind(tmp_path, "samples")


def test_a_simulated_instrument_is_not_taken_for_a_real_one(spool_folder: Path, short: Plan, tmp_path: Path) -> None:
    """Simulated instruments at the addresses of the rig, and a run that was not told so."""
    twin = simulation(short.rig, spool_folder, short.registry, 0, ())
    reach = reach_of(twin)
    try:
        verdict = run_and_judge(short, Reach(reach.clock, reach.visa_library), tmp_path, Silent())
    finally:
        twin.close()
    assert verdict.verdict == "void"
    assert not verdict.simulated
    assert "a simulated instrument answers at" in verdict.end
    assert not of_kind(tmp_path, "step")
