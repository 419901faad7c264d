"""Predicted strains, the distance of interlocks, and the cautions that follow from the documents alone."""

from __future__ import annotations

from collections.abc import Callable
from math import sqrt

import numpy as np
import pytest

from rigproof.errors import DocumentError, Fault
from rigproof.run.foresight import refuse_trips, standings, strain_at
from rigproof.run.plan import Plan

Planned = Callable[..., Plan]
PROOF = "  - proof: {source: pump, to: 35.75 bar}\n"  # 36.1075 bar with its margin


def about(plan: Plan, word: str) -> list[str]:
    return [caution for caution in plan.cautions if word in caution]


def test_predicted_strain_and_its_u_by_hand(planned: Planned) -> None:
    """Thick closed cylinder, outside: hoop (2 - nu), axial (1 - 2 nu) times p ri²/((ro² - ri²) E), as any text has it.

    With its derivatives by ro, t, E and nu; limits even within them, the wall normal, U at 99 % by a million draws.
    """
    bits = np.random.default_rng(3)
    plan = planned(PROOF, ("transverse sensitivity: 0.4 % ± 0.2 %", "transverse sensitivity: 0 %"))
    ro, t, nu = 0.2191 / 2, 4.52e-3, 0.29
    ri = ro - t
    spread = ro**2 - ri**2
    per_wall = -t * (2 / ri + 2 * ri / spread)  # d ln(ri²/(ro² - ri²)) / d ln t
    per_radius = ro * (2 / ri - 2 * (ro - ri) / spread)
    limits = (0.002 * per_radius, 0.02, 0.001, 0.005 / 30)  # radius, modulus, load of reading, its zero drift
    for name, of_nu, per_nu in (("hoop", 2 - nu, 1.0), ("axial", 1 - 2 * nu, 2.0)):
        strain, expanded = strain_at(plan.rig, name, "pressure", 30e5, plan.procedure.decision)
        assert strain == pytest.approx(30e5 * ri**2 / spread * of_nu / 206e9, rel=1e-6)
        draws = 0.03 / 4.52 * per_wall * bits.standard_normal(10**6)
        for limit in (*limits, per_nu * 0.01 / of_nu):
            draws += limit * bits.uniform(-1, 1, 10**6)
        assert expanded == pytest.approx(float(np.quantile(np.abs(draws), 0.99)) * strain, rel=3e-3)


def test_the_spool_stays_clear_of_its_interlocks(spool: Plan) -> None:
    found = {each.lock.name: each for each in standings(spool.rig, 36.1075e5, spool.procedure.decision, spool.course)}
    assert list(found) == [
        *("overpressure", "hoop strain", "pressure rate", "time at pressure", "hoop yield"),
        "limit of pump",
    ]
    assert not any(each.trips for each in found.values())
    wide, narrow = 36.1075 * 0.001, 0.02  # of reading 0.1 %, fixed 0.02 bar: their sum is a trapezoid
    expanded = wide + narrow - sqrt(8 * wide * narrow * 0.005)  # 0.5 % lie beyond: (w + n - x)²/(8 w n)
    assert found["overpressure"].distance == pytest.approx((38 - 36.1075 - expanded) * 1e5, rel=1e-4)
    assert about(spool, "interlock '") == []


def refused(plan: Plan) -> list[Fault]:
    with pytest.raises(DocumentError) as error:
        refuse_trips(plan.rig, plan.procedure, plan.course)
    return list(error.value.faults)


def test_an_interlock_below_the_highest_load_is_a_fault(planned: Planned) -> None:
    plan = planned(PROOF, ("above: 38 bar", "above: 36 bar"))
    (fault,) = refused(plan)
    assert fault.where == "steps[1].proof.to"
    assert fault.text[fault.column - 1 :].startswith("35.75 bar")
    assert "goes to 36.11 bar" in fault.message
    assert "foreseen at 36.108 ± 0.051 bar, and its limit is 36 bar" in fault.message
    assert fault.remedy.startswith("lower the load; move the limit in rig.yaml only where")


def test_an_interlock_within_u_of_the_highest_load_is_a_caution(planned: Planned) -> None:
    plan = planned(PROOF, ("above: 38 bar", "above: 36.15 bar"))
    refuse_trips(plan.rig, plan.procedure, plan.course)
    (caution,) = about(plan, "interlock 'overpressure' may trip")
    assert "Step 1 goes to 36.11 bar" in caution
    assert "its limit is 36.15 bar" in caution


@pytest.mark.parametrize(("limit", "cautions"), [("349 µε", 1), ("360 µε", 0)])
def test_a_strain_interlock_is_held_against_the_predicted_strain(planned: Planned, limit: str, cautions: int) -> None:
    """342 ± 11 µε at the top."""
    plan = planned(PROOF, ("above: 700 µε", f"above: {limit}"))
    refuse_trips(plan.rig, plan.procedure, plan.course)
    found = about(plan, "interlock 'hoop strain' may trip")
    assert len(found) == cautions
    assert all("± 11 µε" in caution for caution in found)


@pytest.mark.parametrize("change", [("above: 700 µε", "above: 330 µε"), ("206 GPa", "206 MPa")])
def test_a_strain_that_trips_is_a_fault_of_every_step_that_goes_there(
    planned: Planned, change: tuple[str, str]
) -> None:
    cycles = "  - cycles: {source: pump, to: 36.1 bar}\n"
    faults = refused(planned(PROOF + cycles, change))
    assert [fault.where for fault in faults] == ["steps[1].proof.to", "steps[2].cycles.to"]
    assert all("correct what the strain is foreseen from" in fault.remedy for fault in faults)


def test_a_lower_limit_trips_without_load(planned: Planned) -> None:
    (fault,) = refused(planned(PROOF, ("above: 38 bar", "below: 0.01 bar")))
    assert "0.000 ± 0.020 bar" in fault.message  # fixed 0.02 bar: 99 % of it


def test_the_load_of_one_source_is_not_held_against_the_channel_of_another(planned: Planned) -> None:
    other = ("sources:\n", "sources:\n  hand pump: {instrument: pump, channel: pressure 2, rate: 1 bar/s, "
             "limit: 9 bar, safe below: 0.5 bar}\n")  # fmt: skip
    channel = ("  water:\n", "  pressure 2: {measures: gauge pressure, instrument: transmitter, input: 2, "
               "accuracy: {fixed: 0.02 bar}}\n  water:\n")  # fmt: skip
    plan = planned(PROOF, other, channel)
    refuse_trips(plan.rig, plan.procedure, plan.course)


def test_a_strain_that_no_gauge_bears_is_a_caution(planned: Planned, spool: Plan) -> None:
    """With 206 MPa for 206 GPa, and no interlock on the strain to find it: a thousand times 342 µε."""
    unlocked = ("  hoop strain: {channel: hoop, above: 700 µε}\n", "")
    hoop, axial = about(planned(PROOF, ("206 GPa", "206 MPa"), unlocked), "look at the modulus")
    assert hoop.startswith("hoop is foreseen at 342000 µε at 36.11 bar")
    assert axial.startswith("axial is foreseen at 85200 µε")
    assert about(spool, "look at the modulus") == []


def test_a_source_that_no_interlock_watches_is_a_caution(planned: Planned, spool: Plan) -> None:
    assert about(spool, "No interlock") == []
    (caution,) = about(planned(PROOF, ("  overpressure: {channel: pressure, above: 38 bar}\n", "")), "No interlock")
    assert "only its own limit of 40 bar" in caution
    assert "{channel: pressure, above: …}" in caution
    assert about(planned(PROOF, ("above: 38 bar", "below: -0.5 bar")), "No interlock")


def test_two_channels_on_one_input(planned: Planned) -> None:
    change = ("    input: 2\n    accuracy: {of reading: 0.05 %", "    input: 1\n    accuracy: {of reading: 0.05 %")
    assert about(planned(PROOF, change), "same input") == [
        "hoop, axial read the same input 1 of bridge: correct one of them."
    ]


def test_excitation_beyond_the_power_density_is_a_caution(planned: Planned, spool: Plan) -> None:
    """12 V on 350 Ω and 18 mm²: 144/(4 · 350 · 18e-6) = 5714 W/m²; 5000 W/m² allow 2 sqrt(350 · 18e-6 · 5000) V."""
    (caution,) = about(planned(PROOF, ("excitation: 2.5 V", "excitation: 12 V")), "12 V")
    assert caution.startswith("hoop, axial: 12 V leaves 5.7 kW/m² in the grid, above the 5 kW/m²")
    assert "11.22 V or less" in caution
    assert about(spool, "kW/m²") == []


UNSAID = (("    temperature: wall temperature ", "    # "), ("    compensated for: 11 ppm/K ± 0.5 ppm/K\n", ""))


def test_what_a_gauge_does_not_state_is_said_and_not_guessed(planned: Planned) -> None:
    bare = planned(PROOF, ("    power density: 5 kW/m²", ""), *UNSAID)
    assert about(bare, "for want of `power density:`")
    assert about(bare, "for want of `compensated for:`")


def with_lock(entry: str) -> tuple[str, str]:
    return "interlocks:\n", f"interlocks:\n  it: {entry}\n"


@pytest.mark.parametrize(
    ("entry", "key", "what"),
    [
        # the pump's own 0.5 bar/s, in stages of up to 17.9 bar
        ("{channel: pressure, rising faster than: 0.4 bar/s, over: 4 s}", "", "foreseen to change by 0.500 ± 0.025"),
        ("{channel: hoop, falling faster than: 200 µε/min, over: 4 s}", "", "foreseen to change by -284 ± 14 µε/min"),
        # the hold of 10 min and what stands before and after it
        ("{channel: pressure, above: 30 bar, for longer than: 10 min}", "hold", "foreseen above 30 bar for"),
        ("{channel: hoop, above: 290 µε, for longer than: 10 min}", "hold", "hoop is foreseen above 290 µε for"),
        (
            "{channel: hoop, against: axial, apart by more than: 200 µε}",
            "to",
            "hoop and axial are foreseen to differ by",
        ),
        ("{channel: hoop, above share of yield: 30 %}", "to", "30 % of 1037 µε at first yield by part model"),
    ],
)
def test_a_trip_that_is_sure_is_refused_for_every_kind(
    planned: Callable[..., Plan], entry: str, key: str, what: str
) -> None:
    plan = planned("  - proof: {source: pump, to: 35.75 bar, hold: 10 min}\n", with_lock(entry))
    with pytest.raises(DocumentError) as caught:
        refuse_trips(plan.rig, plan.procedure, plan.course)
    (fault,) = caught.value.faults
    assert fault.where == f"steps[1].proof.{key}".rstrip(".")  # at the step where nobody wrote a rate
    assert what in fault.message


@pytest.mark.parametrize(
    "entry",
    [
        "{channel: pressure, rising faster than: 0.53 bar/s, over: 4 s}",
        "{channel: pressure, rising faster than: 0.4 bar/s, over: 2 min}",  # no stage lasts so long
        "{channel: pressure, above: 30 bar, for longer than: 15 min}",
        "{channel: pressure, above: 36.5 bar, for longer than: 10 s}",
        "{channel: hoop, against: axial, apart by more than: 300 µε}",
        "{channel: hoop, above share of yield: 40 %}",
        "{channel: water, silent for longer than: 6 s}",
        "{channel: water, rising faster than: 1 K/min, over: 1 min}",
    ],
)
def test_what_stays_clear_is_not_refused(planned: Callable[..., Plan], entry: str) -> None:
    plan = planned("  - proof: {source: pump, to: 35.75 bar, hold: 10 min}\n", with_lock(entry))
    refuse_trips(plan.rig, plan.procedure, plan.course)
    assert not [text for text in plan.cautions if "'it'" in text]


def test_a_limit_that_the_sources_own_rate_may_pass_is_a_caution(planned: Callable[..., Plan]) -> None:
    entry = "{channel: pressure, rising faster than: 0.51 bar/s, over: 4 s}"
    plan = planned("  - proof: {source: pump, to: 35.75 bar, hold: 10 min}\n", with_lock(entry))
    assert any("interlock 'it' may trip on the way: pressure is foreseen to change by" in t for t in plan.cautions)


def test_the_time_beyond_a_limit_adds_up_over_the_steps(planned: Callable[..., Plan]) -> None:
    """Each step alone stays below; by hand: three times 60 s dwell and 2 · 2 bar/0.5 bar/s above 18 bar, two steps."""
    cycles = "  - cycles: {source: pump, to: 20 bar, times: 2, levels: 2, exercise: 1, dwell: 60 s, rest: 1 s}\n"
    limit = "{channel: pressure, above: 18 bar, for longer than: %s}"
    one = planned(cycles, with_lock(limit % "6 min"))
    assert sum(move.seconds_above(18e5) for move in one.course) == pytest.approx(3 * (60 + 8), abs=2.0)
    refuse_trips(one.rig, one.procedure, one.course)
    two = planned(cycles + cycles, with_lock(limit % "6 min"))
    with pytest.raises(DocumentError) as caught:
        refuse_trips(two.rig, two.procedure, two.course)
    (fault,) = caught.value.faults
    assert fault.where.startswith("steps[2].cycles")
