"""What a bridge shows without load when its temperature changes, against the node equations of the warm circuit."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof_strain import leads
from rigproof_strain.full import FullBridge
from rigproof_strain.half import HalfBridge
from rigproof_strain.quarter import QuarterBridge

if TYPE_CHECKING:
    from collections.abc import Callable

    Resistors = list[tuple[str, str, float]]
    Solve = Callable[[Resistors, dict[str, float]], dict[str, float]]

GF, KT, RG = 2.08, 0.004, 350.0
COPPER = 0.0039
KT_FACTOR = (1 + KT) / (1 - 0.285 * KT)  # a grid stretched in all directions answers so (trade.md 2.6)


def quarter(wires: int) -> QuarterBridge:
    return QuarterBridge.model_validate({"wires": str(wires), "lead": "0.8 Ω"})


def circuit(wires: int, gauge: float, cold: float, warm: float) -> Resistors:
    """A quarter bridge balanced with leads `cold`, its leads now `warm`; the instrument's own parts stay."""
    completion = RG + (2 * cold if wires == 2 else 0.0)
    arms = [("top", "far", warm), ("far", "near", gauge), ("near", "signal", warm)]
    arms += [("near", "back", warm), ("back", "bottom", completion)] if wires == 3 else []
    arms += [("signal", "bottom", completion)] if wires == 2 else []
    return [*arms, ("top", "half", 1000.0), ("half", "bottom", 1000.0)]


@pytest.mark.parametrize("wires", [2, 3])
@pytest.mark.parametrize("lead", [0.1, 0.8, 10.0])
@pytest.mark.parametrize("rise", [-20.0, 0.5, 30.0])
@pytest.mark.parametrize("output", [0.0, 40e-6])
def test_a_quarter_bridge_shows_its_grid_and_what_its_leads_do(
    solve: Solve, wires: int, lead: float, rise: float, output: float
) -> None:
    volt = solve(circuit(wires, RG * (1 + GF * output), lead, lead * (1 + COPPER * rise)), {"top": 1.0, "bottom": 0.0})
    model = quarter(wires)
    shown = model.reduce(volt["half"] - volt["signal"], 0.0, RG, GF, KT, lead)
    assert model.thermal(output / rise / KT_FACTOR, 0.0, rise, RG, GF, KT, lead) == pytest.approx(
        shown, rel=1e-9, abs=1e-12
    )


def test_two_leads_read_their_own_warming_as_strain() -> None:
    shown = quarter(2).thermal(11e-6, 11e-6, 1.0, RG, GF, KT, 0.8)
    assert shown == pytest.approx(leads.false_strain_per_k(RG, GF, 0.8), rel=1e-9)
    assert shown == pytest.approx(8.57e-6, rel=1e-3)


@given(per_k=st.floats(-20e-6, 20e-6), rise=st.floats(-50, 50), lead=st.floats(0.0, 5.0))
def test_three_leads_cancel_to_second_order(per_k: float, rise: float, lead: float) -> None:
    shown = quarter(3).thermal(per_k, 0.0, rise, RG, GF, KT, lead)
    output = per_k * KT_FACTOR * rise
    grown = leads.COPPER_PER_K * rise * lead / (RG + lead)
    assert shown == pytest.approx(output, abs=1e-14 + 2 * abs(output * grown) + 2 * GF * output**2 * abs(grown))


@pytest.mark.parametrize("arrangement", ["bending", "along and across"])
def test_gauges_in_adjacent_arms_cancel_their_thermal_output(arrangement: str) -> None:
    poisson = {"poisson ratio": "0.29"} if arrangement == "along and across" else {}
    model = HalfBridge.model_validate({"arrangement": arrangement, "lead": "0.8 Ω", **poisson})
    values = (RG, GF, KT, 0.8, *((0.29,) if poisson else ()))
    assert model.thermal(16e-6, 11e-6, 20.0, *values) == pytest.approx(0.0, abs=1e-15)


def test_a_full_bridge_cancels_it_too() -> None:
    model = FullBridge.model_validate({"arrangement": "bending", "wires": "4", "lead": "0.8 Ω"})
    assert model.thermal(16e-6, 11e-6, 20.0, RG, GF, KT, 0.8) == pytest.approx(0.0, abs=1e-15)


def test_gauges_in_opposite_arms_do_not_cancel_it() -> None:
    model = HalfBridge.model_validate({"arrangement": "opposite arms", "lead": "0 Ω"})
    assert model.thermal(16e-6, 11e-6, 20.0, RG, GF, KT, 0.0) == pytest.approx(100e-6 * KT_FACTOR, rel=1e-9)


def test_arrays_give_what_numbers_give() -> None:
    part, rise = np.array([11e-6, 12e-6, 23e-6]), np.array([0.0, 5.0, -3.0])
    model = quarter(2)
    each = [float(model.thermal(float(a), 11e-6, float(r), RG, GF, KT, 0.8)) for a, r in zip(part, rise, strict=True)]
    assert np.allclose(model.thermal(part, 11e-6, rise, RG, GF, KT, 0.8), each, rtol=1e-12, atol=0)
