"""Old, frozen and rescaled readings are told by their scatter alone; honest readings of all kinds pass."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from rigproof.instruments import FloatArray
from rigproof.journal import Entry
from rigproof.run.plan import Plan
from rigproof.steps.record import StepRecord
from rigproof.steps.stale import stale


def record(*blocks: tuple[str, str, FloatArray]) -> StepRecord:
    """Blocks as (label, channel, readings)."""
    entries = [
        Entry(n, float(n), "samples", {"label": label, "tags": {}, "values": {name: values.tolist()}})
        for n, (label, name, values) in enumerate(blocks)
    ]
    return StepRecord(1, "x", tuple(entries))


def noise(seed: int, count: int = 20, size: float = 200.0, around: float = 2.5e6) -> FloatArray:
    return around + size * np.random.default_rng(seed).standard_normal(count)


@example(0, 1000.0, 50.0, 10)  # one block flips by the last digit and the others stand still
@given(
    st.integers(0, 10**6),
    st.sampled_from([0.0, 1.0, 100.0, 1e3, 1e4]),  # steps of the reading, from far below its noise to far above
    st.sampled_from([0.0, 50.0, 5e3]),  # Pa from one reading to the next
    st.integers(2, 60),
)
def test_honest_readings_pass(spool: Plan, seed: int, step: float, ramp: float, count: int) -> None:
    """Whatever an instrument's step is, stated or not, and however fast the load rises."""
    blocks = []
    for n in range(8):
        values = noise(seed + n, count, around=n * 4e5) + ramp * np.arange(count)
        blocks.append(("level", "pressure", np.round(values / step) * step if step else values))
    assert stale(spool.rig, record(*blocks)) == ""


def test_equal_steps_of_a_coarse_meter_are_no_other_scatter(spool: Plan) -> None:
    """A few readings on a grid of 5 nV/V may lie at equal steps; what subtracting them leaves is rounding alone."""
    regular = np.round((9e-4 + 5e-9 * np.array([0, 1, 2, 3, 5])) / 5e-9) * 5e-9
    others = 9e-4 + 5e-9 * np.array([0, 7, -4, 9, -6])
    steps = np.diff(regular)
    assert 0 < float(np.median(np.abs(steps - np.median(steps)))) < 1e-19  # 53 bits do not hold them quite
    assert stale(spool.rig, record(("level", "hoop", regular), ("level", "hoop", others))) == ""


def test_a_block_that_was_given_before(spool: Plan) -> None:
    old = noise(1)
    told = stale(spool.rig, record(("start", "hoop", old), ("end", "hoop", old)))
    assert told.startswith("hoop, 'end' repeats hoop, 'start' to the last bit")
    told = stale(spool.rig, record(("open", "hoop", old), ("open", "axial", old)))
    assert "axial, 'open' repeats hoop, 'open'" in told


@pytest.mark.parametrize("count", [1, 2, 5])
def test_few_readings_may_agree_by_chance(spool: Plan, count: int) -> None:
    same = noise(1, count)
    assert stale(spool.rig, record(("start", "hoop", same), ("end", "hoop", same))) == ""


def test_a_run_of_equal_readings_among_others(spool: Plan) -> None:
    looks = [("hold", "pressure", np.array([2.5e6])) for _ in range(12)]
    told = stale(spool.rig, record(("hold start", "pressure", noise(1)), *looks))
    assert told.startswith("pressure gave 12 equal readings in a row and scatters elsewhere")


def test_a_meter_that_never_scatters_may_stand_still(spool: Plan) -> None:
    """Typed by a person, or a coarse step: nothing tells it from a frozen one, and nothing is claimed."""
    still = np.full(30, 293.0)
    assert stale(spool.rig, record(("a", "water", still), ("b", "water", still))) == ""


def test_a_coarse_meter_may_stand_still_between_ramps(spool: Plan) -> None:
    """With the load it goes from step to step of 1000 Pa; that is no scatter."""
    ramp = np.round(np.linspace(0.0, 2.5e6, 40) / 1e3) * 1e3
    looks = [("hold", "pressure", np.array([2.5e6])) for _ in range(12)]
    assert stale(spool.rig, record(("rise", "pressure", ramp), *looks)) == ""


def test_an_open_circuit_is_told_elsewhere(spool: Plan) -> None:
    open_circuit = np.full(20, np.nan)
    assert stale(spool.rig, record(("start", "hoop", open_circuit), ("end", "hoop", open_circuit))) == ""


def test_two_channels_of_one_input_are_alike(planned: Callable[..., Plan]) -> None:
    """The same bridge once as strain and once as its plain output."""
    plain = "channels:\n  plain:\n    measures: bridge output\n    instrument: bridge\n    input: 1\n"
    plan = planned("  - balance: {}\n", ("channels:\n", plain))
    values = {"plain": noise(1).tolist(), "hoop": noise(1).tolist()}
    entry = Entry(1, 1.0, "samples", {"label": "start", "tags": {}, "values": values})
    assert stale(plan.rig, StepRecord(1, "x", (entry,))) == ""


@pytest.mark.parametrize("factor", [1e-5, 1e-3, 1 / 6894.757, 1e3])
def test_another_unit_in_the_middle_of_a_step(spool: Plan, factor: float) -> None:
    """At no load the values say little; their scatter is that of another unit (1 psi = 6894.757 Pa, NIST SP 811)."""
    told = stale(spool.rig, record(("zero", "pressure", noise(1, around=0.0)), ("zero", "pressure", factor * noise(2))))
    assert "see that the instrument keeps its unit" in told
