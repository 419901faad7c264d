"""The procedure on paper: what it loads and how long it takes, and the same uncertainties as a run finds."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime
from math import sqrt
from pathlib import Path
from typing import ClassVar

import numpy as np
import pytest

from rigproof.commands.plan_text import text_of
from rigproof.documents.rig import Rig
from rigproof.plugins import Registry
from rigproof.run.live import LiveRig
from rigproof.run.paper import output_under
from rigproof.run.plan import Plan, make_plan
from rigproof.run.planned import hopeless_of
from rigproof.run.planned import planned as planned_record
from rigproof.run.rehearsal import Rehearsed, rehearse
from rigproof.run.unused import unforeseen
from rigproof.steps.balance import Balance
from rigproof.steps.base import Step
from rigproof.steps.checks import Subject, specified_check
from rigproof.steps.foresee import Foreseen
from rigproof.steps.record import StepRecord
from rigproof.steps.terms import nominal_strain
from rigproof.uncertainty import Estimate, Rule, Tolerance
from rigproof.verdict.record import Check, Verdict

Planned = Callable[..., Plan]
PROOF = (
    "  - proof: {source: pump, to: 30 bar, stages: [50 %, 100 %], margin: 2 %, hold: 20 min, dwell: 10 s, rest: 5 s}\n"
)


def checks(steps: Sequence[Rehearsed]) -> dict[tuple[str, str], list[Foreseen]]:
    found: dict[tuple[str, str], list[Foreseen]] = {}
    for step in steps:
        for each in step.checks:
            found.setdefault((each.check.name, each.check.subject), []).append(each)
    return found


@pytest.fixture(scope="module")
def rehearsed(spool: Plan) -> Sequence[Rehearsed]:
    return spool.rehearsed


def test_a_sound_spool_can_pass_every_check_of_its_procedure(rehearsed: Sequence[Rehearsed]) -> None:
    assert [step.trouble or step.stopped for step in rehearsed] == [""] * 7
    assert all(each.acceptable for step in rehearsed for each in step.checks)


def test_every_check_of_a_run_was_foreseen_with_its_uncertainty(
    spool: Plan, rehearsed: Sequence[Rehearsed], accept: Callable[..., Verdict], tmp_path: Path
) -> None:
    """The run's readings scatter and the paper's do not: computed tolerances hardly mind, the others a little."""
    foreseen = checks(rehearsed)
    verdict = accept(spool, tmp_path, seed=3)
    assert {(check.name, check.subject) for check in verdict.checks} == foreseen.keys()
    computed = [check for check in verdict.checks if check.tolerance.computed]
    assert len(computed) == 14
    for check in computed:
        assert check.tolerance.upper is not None
        assert check.expected is not None
        half = check.tolerance.upper - check.expected
        on_paper = [abs(each.expanded / half - 1) for each in foreseen[check.name, check.subject]]
        assert min(on_paper) < 0.02, check.name
    for name in ("drift", "zero return", "hysteresis", "repeatability", "linearity", "permanent set"):
        (check,) = [c for c in verdict.checks if (c.name, c.subject) == (name, "hoop")]
        # by the level at which it is worst
        assert check.u == pytest.approx(foreseen[name, "hoop"][0].check.u, rel=0.2), name


def test_loads_rates_and_times_are_those_of_the_documents(planned: Planned) -> None:
    (step,) = planned(PROOF).rehearsed
    assert [load for _, load in step.targets] == pytest.approx([15.3e5, 30.6e5])  # 2 % above half and whole
    assert step.rate_per_s == 0.5e5  # the source's own: 0.5 bar/s
    waits = 5 + 10 + 10 + 10 + 20 * 60 + 5  # rest, dwell at two stages and after shutting, hold, rest
    readings = 6 * 2 * 50 * 0.02 + 2 * 5 * 0.2  # six blocks of bridge, then transmitter; two of the temperature
    rises = 2 * 30.6 / 0.5
    assert step.duration_s == pytest.approx(waits + readings + rises, abs=0.5)
    assert step.shut_in_s == pytest.approx(
        10 + 20 * 60 + 2 * 2 + 2, abs=0.5
    )  # with the readings before and after the hold


def test_a_measured_resistance_takes_the_place_of_the_packet_in_later_steps(planned: Planned) -> None:
    """Shunt reading -(Rg/2 + 3 RL/2)/(2 Rs) on three wires, where u of Rg changes.

    By its packet it is 0.3 %/√3 of 350 Ω, when measured 0.01 % and 10 mΩ over √3.
    The lead's 0.08 Ω, gain and drift stay.
    """
    shunt = "  - shunt: {resistor: 174.8 kΩ}\n"
    by_packet = checks(planned(shunt).rehearsed)["shunt reading", "hoop"][0].check
    measured = checks(planned(f"  - resistance: {{}}\n{shunt}").rehearsed)["shunt reading", "hoop"][0].check
    others = [5.035e-4 * 5e-4, 0.05e-6, 5.035e-4 * 1.5 * 0.08 / 175]
    for check, shares in ((by_packet, [3e-3]), (measured, [1e-4, 0.01 / 350])):
        parts = [*others, *(5.035e-4 * share for share in shares)]
        assert check.u_difference == pytest.approx(sqrt(sum((part / sqrt(3)) ** 2 for part in parts)), rel=0.01)


def test_the_paper_bridge_reads_what_the_reduction_turns_back(spool: Plan) -> None:
    """Hoop strain outside a closed thick cylinder: p ri²(2 - nu)/((ro² - ri²) E) (Timoshenko, Strength of Materials).

    From memory. Transverse sensitivity of 0.4 % moves it by a few tenths of a per cent.
    """
    ro, ri = 0.21910 / 2, 0.21910 / 2 - 4.52e-3
    hoop = 30e5 * ri**2 / (ro**2 - ri**2) * (2 - 0.29) / 206e9
    output = output_under(spool.rig, "hoop", 30e5)
    (reduced,) = nominal_strain(spool.rig, "hoop", np.array([output]), 0.0)
    assert reduced == pytest.approx(hoop, rel=3e-3)
    assert output == pytest.approx(2.08 * 350 / 350.8 * hoop / 4, rel=4e-3)  # GF e/4, less the lead


def test_a_tolerance_within_its_guard_bands_cannot_be_accepted(planned: Planned) -> None:
    """Top strain 18.9 µε at 2 bar, zero drift 0.05 µV/V or 0.096 µε: u of a return is 0.3 % of the top."""
    steps = "  - cycles: {source: pump, to: 2 bar, zero return: within 0.4 %, hysteresis: within 2 %}\n"
    found = checks(planned(steps).rehearsed)
    (hopeless,), (fine,) = found["zero return", "hoop"], found["hysteresis", "hoop"]
    assert hopeless.check.u == pytest.approx(0.096e-6 / sqrt(3) / 18.9e-6, rel=0.2)
    assert not hopeless.acceptable
    assert hopeless.why == "the guard bands leave nothing of the tolerance"
    assert "zero drift" in hopeless.improve
    assert hopeless.capability is not None
    assert hopeless.capability < 1.645 / 2  # C_m = T/(4 u); acceptance needs T > 2 · 1.645 u at 5 % risk
    assert fine.acceptable


def test_a_load_without_margin_does_not_surely_reach_what_is_asked(planned: Planned) -> None:
    without = PROOF.replace("margin: 2 %", "margin: 0 %")
    (lowest,) = checks(planned(without).rehearsed)["lowest load of the hold", "pressure"]
    assert not lowest.acceptable
    assert lowest.why == "a sound rig would read outside the acceptance limits"
    assert checks(planned(PROOF).rehearsed)["lowest load of the hold", "pressure"][0].acceptable


def test_a_computed_tolerance_that_shows_nothing_stops_the_rise(planned: Planned) -> None:
    """A gauge factor of ± 50 % leaves the tolerance far wider than a fifth of the expected strain."""
    (step,) = planned(PROOF, ("gauge factor: 2.08 ± 0.5 %", "gauge factor: 2.08 ± 50 %")).rehearsed
    assert "strain under load of hoop" in step.stopped
    (first,) = checks([step])["strain under load", "hoop"]
    assert first.share is not None
    assert first.share > 0.2
    assert "wider than 20 % of the expected value" in first.why
    assert [load for _, load in step.targets] == pytest.approx([15.3e5])


def test_a_driver_without_the_ability_is_found_on_paper(
    planned: Planned, hoop_read_alone: tuple[tuple[str, str], ...]
) -> None:
    """The meter reads, and has no shunt relay."""
    steps = "  - shunt: {resistor: 174.8 kΩ, channels: hoop}\n  - balance: {}\n"
    shunt, after = planned(steps, *hoop_read_alone).rehearsed
    assert "its driver 'described meter' cannot switch a shunt resistor" in shunt.trouble
    assert after.trouble == ""


class Broken(Balance):
    """A plugin's step with a defect."""

    def acquire(self, live: LiveRig) -> None:
        raise ZeroDivisionError("by nothing")


class Blind(Balance):
    """A plugin's step that cannot judge what it took."""

    def judge(self, rig: Rig, rule: Rule, record: StepRecord) -> Sequence[Check]:
        raise KeyError("readings")


def test_a_plugins_defect_is_told_and_hides_no_other_step(spool: Plan) -> None:
    steps = (Broken(), Blind(), Balance())
    broken, blind, sound = replace(spool, procedure=replace(spool.procedure, steps=steps)).rehearsed
    assert broken.trouble == "cannot be taken: ZeroDivisionError: by nothing"
    place = f"{__file__}:{Blind.judge.__code__.co_firstlineno + 1}"
    assert blind.trouble == f"cannot be judged: KeyError: 'readings' ({place})"
    assert sound.trouble == ""
    assert len(sound.checks) == 6


def test_noise_and_insulation_are_looked_at_where_their_limit_is(planned: Planned) -> None:
    found = checks(planned("  - insulation: {at least: 1 GΩ}\n  - balance: {noise: within 2 µε}\n").rehearsed)
    (noise,), (insulation,) = found["noise", "hoop"], found["insulation", "hoop"]
    assert noise.check.u == pytest.approx(2e-6 / sqrt(2 * 99), rel=1e-4)  # s/sqrt(2 (n - 1)): GUM, E.4.3
    assert noise.check.acceptance_upper == pytest.approx(2e-6 - 1.6604 * 2e-6 / sqrt(198), rel=1e-4)  # t of 99 dof
    assert insulation.check.acceptance_lower == pytest.approx(1e9 * (1 + 0.9 * 0.05), rel=1e-5)  # 90 % of the limits
    assert noise.reads is None
    assert insulation.reads is None
    assert noise.acceptable
    assert insulation.acceptable


@pytest.mark.parametrize(("highest", "reaches"), [("1.04 GΩ", False), ("1.05 GΩ", True)])
def test_a_tester_must_reach_beyond_the_guard_band(planned: Planned, highest: str, reaches: bool) -> None:
    """1 GΩ with 5 % limits is surely there from 1.045 GΩ on."""
    steps = planned("  - insulation: {at least: 1 GΩ}\n", ("highest reading: 1 TΩ", f"highest reading: {highest}"))
    (found,) = checks(steps.rehearsed)["insulation", "hoop"]
    assert found.acceptable == reaches
    assert found.why == ("" if reaches else f"the tester's range ends at {highest}")


def test_capability_by_hand(planned: Planned) -> None:
    """C_m = T/(4 u) (JCGM 106:2012, 7.6.3, from memory) of a drift of ± 5 µε.

    Zero drift 0.05 µV/V as limits, two readings of 0.005 µV/V resolution; a strain per output of 4/(GF · Rg/(Rg + RL)).
    """
    (drift,) = checks(planned("  - balance: {drift: within 5 µε}\n").rehearsed)["drift", "hoop"]
    u_output = sqrt((0.05 / sqrt(3)) ** 2 + 2 * (0.005 / sqrt(12)) ** 2) * 1e-6
    assert drift.capability == pytest.approx(10e-6 / (4 * u_output * 4 / (2.08 * 350 / 350.8)), rel=1e-3)
    assert drift.expanded == pytest.approx(0.99 * sqrt(3) * drift.check.u, rel=2e-3)  # 99 % of one rectangle


def test_the_duration_is_a_range_where_a_step_waits_for_what_nobody_foresees(
    registry: Registry, accept: Callable[..., Verdict], tmp_path: Path
) -> None:
    """Water filled in cold comes to the temperature of the bay: a run lies between both ends, and past the nearer."""
    folder = Path(__file__).parents[3] / "rigs" / "spool"
    plan = make_plan(folder, registry)
    record = planned_record(plan)
    (waits,) = (step for step in record.steps if step.waits_for)
    assert (waits.kind, waits.waits_for) == ("thermal output", "the part to grow warmer or colder by 3 K")
    assert waits.longest.value == pytest.approx(4 * 3600, abs=20)  # with the readings
    gap_s = waits.longest.value - waits.duration.value
    assert record.longest.value - record.duration.value == pytest.approx(gap_s, abs=0.1)
    text = " ".join(text_of(record).split())
    assert "39 min to 4 h 37 min in all: step 3 thermal output waits for the part to grow warmer" in text
    assert "  3 thermal output: 2 min to 4 h 0 min\n" in text_of(record)
    verdict = accept(plan, tmp_path, rig_folder=folder)
    took_s = (datetime.fromisoformat(verdict.ended) - datetime.fromisoformat(verdict.started)).total_seconds()
    assert record.duration.value + 600 < took_s < record.longest.value


def test_a_patience_shorter_than_the_rest_adds_nothing(planned: Planned) -> None:
    record = planned_record(planned("  - thermal output: {patience: 1 min}\n"))
    assert record.longest == record.duration
    assert "At least " in text_of(record)
    assert " in all: the answers of" in " ".join(text_of(record).split())


class Deflection(Step):
    """A step of somebody's own: the travel between no load and load."""

    kind: ClassVar[str] = "deflection"

    def acquire(self, live: LiveRig) -> None:
        live.read("zero", ["water"], count=3, interval_s=1.0)
        live.rise_to("pump", 20e5, None, "to the load")
        live.read("loaded", ["water"], count=3, interval_s=1.0)
        live.rise_to("pump", 0.0, None, "back")

    def judge(self, rig: Rig, rule: Rule, record: StepRecord) -> Sequence[Check]:
        blocks = {event: record.block(event) for event in ("zero", "loaded")}
        zero, loaded = (float(block["water"].mean()) for block in blocks.values() if block is not None)
        travel = Estimate(loaded - zero, 1e-5, float("inf"))
        about, noise = (Subject(name, "water", "length") for name in ("deflection", "noise"))
        still = Estimate(0.0, 1e-6, float("inf"))
        return [
            specified_check(record, about, travel, Tolerance(1.9e-3, 2.1e-3), rule, "the drawing"),
            specified_check(record, noise, still, Tolerance(None, 1e-3), rule, "the drawing"),
        ]


def test_what_no_document_foresees_is_not_called_hopeless(spool: Plan) -> None:
    """A length stands at 0 on paper: that it does not move is no fault of the rig."""
    length = spool.rig.channels["water"].model_copy(update={"measures": "length"})
    rig = replace(spool.rig, channels={**spool.rig.channels, "water": length})
    (step,) = rehearse(rig, replace(spool.procedure, steps=(Deflection(),)))
    assert (step.trouble, step.unforeseen) == ("", ("water",))
    assert [each.check.name for each in step.checks] == ["noise"]
    (said,) = unforeseen([step])
    assert said.startswith("Step 1 deflection: what water reads under load no document says")
    assert not any("deflection of water" in text for text in hopeless_of(rig, [step]))
    assert not any(each.unforeseen for each in spool.rehearsed)
