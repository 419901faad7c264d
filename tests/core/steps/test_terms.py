"""What a channel's accuracy puts into a budget, and figures that are taken at equal load and at their worst place."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from math import hypot, sqrt

import numpy as np
import pytest

from rigproof.documents.rig import Channel
from rigproof.instruments import FloatArray
from rigproof.journal import Entry
from rigproof.run.plan import Plan
from rigproof.steps.strains import strain_between
from rigproof.steps.terms import absolute, change, drift_input, fixed_input, reading_input
from rigproof.verdict.record import BudgetLine, Check, Verdict

Entries = Sequence[Entry]
Judged = Callable[[Iterable[Entry]], Verdict]

PRESSURE = "accuracy: {of reading: 0.1 %, fixed: 0.02 bar, zero drift: 0.005 bar}"
NO_STEP = "  - resistance: {}\n"


@pytest.fixture
def pressure(planned: Callable[..., Plan]) -> Callable[[str], Channel]:
    """A function: the accuracy of the transmitter as written -> its channel."""
    return lambda accuracy: planned(NO_STEP, (PRESSURE, accuracy)).rig.channels["pressure"]


# -- one channel --------------------------------------------------------------------------------------------------


def test_a_coarse_channel_drifts_by_its_resolution_where_no_zero_drift_is_stated(
    pressure: Callable[[str], Channel],
) -> None:
    """Two readings, each rounded: 2 (δ²/12) (JCGM 100, F.2.2.1)."""
    drift = drift_input(pressure("accuracy: {resolution: 1 bar}"), "end", "Pa")
    assert drift.u == pytest.approx(1e5 / sqrt(6), rel=1e-12)
    both = drift_input(pressure("accuracy: {zero drift: 0.6 bar, resolution: 1 bar}"), "end", "Pa")
    assert both.u == pytest.approx(hypot(0.6e5 / sqrt(3), 1e5 / sqrt(6)), rel=1e-12)


def test_a_coarse_reading_carries_its_resolution(pressure: Callable[[str], Channel]) -> None:
    reading = np.array([35.8e5])
    coarse = absolute(pressure("accuracy: {resolution: 1 bar}"), reading, "load", "Pa").estimate()
    assert coarse.u == pytest.approx(1e5 / sqrt(12), rel=1e-6)
    with_fixed = pressure("accuracy: {fixed: 0.3 bar, resolution: 1 bar}")
    assert fixed_input(with_fixed, "Pa").u == pytest.approx(hypot(0.3e5 / sqrt(3), 1e5 / sqrt(12)), rel=1e-12)


def test_a_change_is_blind_to_a_fixed_error_and_sees_the_resolution(pressure: Callable[[str], Channel]) -> None:
    now, then = np.array([35e5]), np.array([10e5])
    fixed = change(pressure("accuracy: {fixed: 5 bar}"), now, then, "end", "Pa").estimate()
    assert (fixed.value, fixed.u) == (25e5, 0.0)
    coarse = change(pressure("accuracy: {resolution: 1 bar}"), now, then, "end", "Pa").estimate()
    assert coarse.u == pytest.approx(1e5 / sqrt(6), rel=1e-6)


def test_the_resolution_of_a_bridge_stands_in_its_strain(planned: Callable[..., Plan]) -> None:
    """Quiet readings of a coarse amplifier: without its resolution the strain would count as exact."""
    accuracy = "accuracy: {of reading: 0.05 %, zero drift: 0.05 µV/V, resolution: 0.005 µV/V}"
    rig = planned(NO_STEP, (accuracy, "accuracy: {resolution: 1 µV/V}")).rig
    ohm = np.full(1, 107.8)
    now = {"hoop": np.full(20, 100e-6), "wall temperature": ohm}
    then = {"hoop": np.zeros(20), "wall temperature": ohm}
    lines = {line.input: line for line in strain_between(rig, "hoop", now, then, "end").estimate().lines}
    step = lines["hoop: accuracy zero drift, end"]
    assert step.u == pytest.approx(1e-6 / sqrt(6), rel=1e-12)
    assert step.contribution == pytest.approx(4 / 2.08 * step.u, rel=0.02)  # a quarter bridge: ε = 4 r / F


def test_a_channel_of_which_nothing_is_stated_is_named_before_the_run(planned: Callable[..., Plan]) -> None:
    """Its budget would take it as perfect: only the scatter of the readings is left."""
    plan = planned(NO_STEP, (f"    {PRESSURE}\n", ""))
    channel = plan.rig.channels["pressure"]
    assert absolute(channel, np.array([35.8e5]), "load", "Pa").estimate().u == 0.0
    assert any("are taken as free of error: pressure." in caution for caution in plan.cautions)
    assert not any("free of error" in caution for caution in planned(NO_STEP).cautions)


def test_one_reading_has_no_scatter_and_many_have_theirs() -> None:
    alone = reading_input("r", np.array([3.0]), "Pa")
    assert (alone.value, alone.u) == (3.0, 0.0)
    samples = np.random.default_rng(5).normal(3.0, 0.1, 50)
    many = reading_input("r", samples, "Pa")
    assert many.value == pytest.approx(float(np.mean(samples)), rel=1e-12)
    assert many.u == pytest.approx(float(np.std(samples, ddof=1)) / sqrt(50), rel=0.5)


# -- a thermometer with a reduction -------------------------------------------------------------------------------

PT100_OHM = 107.794  # at 20 °C (IEC 60751, from memory)
OHM_PER_KELVIN = 0.3897  # 100 Ω (A + 2 B t) at 20 °C


def line_of(check: Check, name: str) -> BudgetLine:
    (found,) = [line for line in check.budget if line.input == name]
    return found


def decay_of(verdict: Verdict) -> Check:
    (found,) = [check for check in verdict.checks if check.name == "decay over the hold"]
    return found


def test_the_drift_of_a_pt100_channel_is_one_in_ohms(
    sound: Entries, judged: Judged, told: Callable[..., Entries]
) -> None:
    """Its zero drift and resolution are stated in what the ohmmeter reads; taken for kelvins they would count 2.6 less.

    The same journal, once with its thermometer in the water and once as if the wall's Pt100 had been read.
    """

    def through_pt100(entry: Entry) -> Entry:
        if entry.kind != "samples" or "water" not in entry.data["values"]:
            return entry
        ohms = [PT100_OHM + OHM_PER_KELVIN * (c - 20) for c in entry.data["values"]["water"]]
        values = {name: column for name, column in entry.data["values"].items() if name != "water"}
        return replace(entry, data={**entry.data, "values": {**values, "wall temperature": ohms}})

    text = sound[0].data["procedure"]["text"].partition("steps:\n")[2]
    steps = text.replace("hold: 1 min", "hold: 1 min, temperature: wall temperature")
    stated = (
        "input: 3\n    accuracy: {of reading: 0.01 %, fixed: 10 mΩ}",
        "input: 3\n    accuracy: {zero drift: 10 mΩ, resolution: 20 mΩ}",
    )
    in_water, in_wall = decay_of(judged(sound)), decay_of(judged(map(through_pt100, told(sound, stated, steps=steps))))
    ohms, kelvins = (
        line_of(in_wall, "wall temperature: accuracy zero drift, end of hold"),
        line_of(in_water, "water: accuracy zero drift, end of hold"),
    )
    assert ohms.unit == "Ω"
    assert ohms.u == pytest.approx(hypot(0.01 / sqrt(3), 0.02 / sqrt(6)), rel=1e-9)
    assert ohms.sensitivity / kelvins.sensitivity == pytest.approx(1 / OHM_PER_KELVIN, rel=0.01)
    assert ohms.contribution == pytest.approx(abs(kelvins.sensitivity) * ohms.u / OHM_PER_KELVIN, rel=0.01)
    assert in_wall.measured == pytest.approx(in_water.measured, abs=1e-4)


# -- figures at equal load ----------------------------------------------------------------------------------------


def block(entries: Entries, label: str, position: int) -> Entry:
    return [e for e in entries if e.kind == "samples" and e.data["label"] == label][position]


def mean(entry: Entry, channel: str) -> float:
    return float(np.mean(entry.data["values"][channel]))


def shifted(entries: Entries, at: Entry, **by: float | FloatArray) -> list[Entry]:
    """The entries with the readings of some channels of one block moved."""
    values = {name: (np.array(at.data["values"][name]) + move).tolist() for name, move in by.items()}
    moved = replace(at, data={**at.data, "values": {**at.data["values"], **values}})
    return [moved if entry is at else entry for entry in entries]


def one(verdict: Verdict, name: str, subject: str) -> Check:
    (found,) = [check for check in verdict.checks if (check.name, check.subject) == (name, subject)]
    return found


LEFT_PA = 0.6e5


@pytest.mark.parametrize(
    ("figure", "zero", "top"),
    [("zero return", ("zero", 2), ("level", 1)), ("permanent set", ("zero after", 0), ("stage", 1))],
)
def test_strain_of_a_load_that_was_left_is_no_change_of_the_zero(
    sound: Entries, judged: Judged, figure: str, zero: tuple[str, int], top: tuple[str, int]
) -> None:
    """0.6 bar that did not go: the strain that belongs to it is no fault of the bond, strain without it is one."""
    start = block(sound, "zero" if figure == "zero return" else "zero before", 0)
    peak, after = block(sound, *top), block(sound, *zero)
    rise = mean(peak, "pressure") - mean(start, "pressure")
    share = LEFT_PA / rise
    moves = {name: share * (mean(peak, name) - mean(start, name)) for name in ("hoop", "axial")}
    before = judged(sound)
    with_load, without = (
        judged(shifted(sound, after, pressure=LEFT_PA, **moves)),
        judged(shifted(sound, after, **moves)),
    )
    for channel in ("hoop", "axial"):
        unmoved, held, stuck = (one(verdict, figure, channel) for verdict in (before, with_load, without))
        assert unmoved.measured is not None
        assert held.measured == pytest.approx(unmoved.measured, abs=5e-4)
        assert held.finding == "accept"
        assert stuck.measured == pytest.approx(unmoved.measured + share, abs=5e-4)
        assert share > 0.01
        assert stuck.finding == "reject"


def test_the_worst_place_of_a_figure_is_the_one_least_sure_to_conform(sound: Entries, judged: Judged) -> None:
    """0.8 % known well is inside 1 %; 0.7 % known poorly may not be, and must not hide behind the larger one."""
    start, peak = block(sound, "zero", 0), block(sound, "level", 1)
    whole = mean(peak, "hoop") - mean(start, "hoop")
    first, second = block(sound, "zero", 1), block(sound, "zero", 2)
    noise = np.random.default_rng(1).normal(0.0, 1.0, len(second.data["values"]["hoop"]))
    noise = (noise - noise.mean()) / noise.std(ddof=1) * 0.02 * whole
    larger = 0.008 * whole - (mean(first, "hoop") - mean(start, "hoop"))
    poorer = 0.007 * whole - (mean(second, "hoop") - mean(start, "hoop"))
    only_larger = shifted(sound, first, hoop=larger)
    assert one(judged(only_larger), "zero return", "hoop").finding == "accept"
    worst = one(judged(shifted(only_larger, second, hoop=poorer + noise)), "zero return", "hoop")
    assert worst.at == "after cycle 2"
    assert worst.measured == pytest.approx(0.007, abs=5e-4)
    assert worst.finding == "undecided"
