"""The bridge network against a tableau solved by scipy, and against textbook bridges in limiting cases."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import linalg, optimize

from rigproof_twin.physics.network import QuarterBridge, potentials

TINY = 1e-3  # Ω, a conductor that counts for next to nothing: 3e-6 of the gauge
GF = 2.08


def bridge(
    gauge: float = 350.0,
    lead: float = TINY,
    completion: float = 350.0,
    leak_s: float = 0.0,
    shunt_s: float = 0.0,
    two_wires: bool = False,
    half_ratio: float = 0.5,
) -> float:
    third_wire = 0.0 if two_wires else 1.0
    values = (gauge, lead, lead, lead, third_wire, completion, half_ratio, leak_s, shunt_s)
    return float(QuarterBridge(*map(np.array, values)).output())


def tableau_output(
    gauge: float, near: float, far: float, signal: float, completion: float, leak: float, shunt: float, steps: int
) -> float:
    """Signal potential by the tableau: unknown are all branch currents and all node potentials.

    The grid is cut into `steps` pieces with the leak spread evenly, which lumps nothing.
    """
    grid = list(range(1, steps + 2))  # nodes from the near end to the far end; 0 is earth
    far_end = grid[-1]
    terminal, sense, supply = far_end + 1, far_end + 2, far_end + 3
    branches = [(0, grid[0], near), (far_end, terminal, far), (far_end, sense, signal), (terminal, supply, completion)]
    branches += [(grid[i], grid[i + 1], gauge / steps) for i in range(steps)]
    for index, node in enumerate(grid):
        weight = (0.5 if index in {0, steps} else 1.0) / steps
        branches.append((node, 0, leak / weight))
    branches.append((sense, 0, shunt))
    rows = [[1.0 if node == i else -1.0 if node == j else 0.0 for i, j, _ in branches] for node in range(1, supply)]
    kirchhoff = np.array(rows)  # currents into free nodes, shape (nodes, branches)
    siemens = np.array([1.0 / ohm for _, _, ohm in branches])
    driven = np.array([siemens[k] if j == supply else 0.0 for k, (_, j, _) in enumerate(branches)])
    laws = np.hstack([np.eye(len(branches)), -siemens[:, None] * kirchhoff.T])  # i = G (v_i - v_j)
    system = np.vstack([laws, np.hstack([kirchhoff, np.zeros((len(rows), len(rows)))])])
    solved = linalg.solve(system, np.concatenate([-driven, np.zeros(len(rows))]))  # type: ignore[no-untyped-call]
    return float(solved[len(branches) + sense - 1])


@settings(max_examples=40)
@given(
    gauge=st.floats(100.0, 1000.0),
    near=st.floats(0.05, 20.0),
    far=st.floats(0.05, 20.0),
    signal=st.floats(0.05, 20.0),
    completion=st.floats(100.0, 1000.0),
    leak=st.floats(1e6, 1e9),
    shunt=st.floats(1e4, 1e6),
)
def test_agrees_with_a_sparse_tableau_of_a_leaking_grid(
    gauge: float, near: float, far: float, signal: float, completion: float, leak: float, shunt: float
) -> None:
    arrays = [np.array(x) for x in (gauge, near, far, signal, 1.0, completion, 0.0, 1.0 / leak, 1.0 / shunt)]
    mine = float(QuarterBridge(*arrays).output())
    expected = tableau_output(gauge, near, far, signal, completion, leak, shunt, steps=32)
    assert mine == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("strain", [-3000e-6, 0.0, 1000e-6, 5000e-6])
def test_quarter_bridge_without_leads(strain: float) -> None:
    """r = (k/4)/(1 + k/2), k = GF e (textbook quarter bridge, from memory)."""
    k = GF * strain
    assert bridge(350.0 * (1 + k)) == pytest.approx((k / 4) / (1 + k / 2), rel=5e-6, abs=1e-10)


def test_three_wires_lose_sensitivity_by_one_lead_and_need_no_balance() -> None:
    """Gain Rg/(Rg + RL), exactly; no offset from equal leads (textbook, from memory)."""
    assert bridge(lead=2.0) == pytest.approx(0.0, abs=1e-12)
    k = 2e-3 * 350 / 352
    assert bridge(350.0 * (1 + 2e-3), lead=2.0) == pytest.approx((k / 4) / (1 + k / 2), rel=1e-9)


def test_two_wires_lose_by_both_leads_and_start_off_balance() -> None:
    """Offset of 2 RL in the arm; gain Rg/(Rg + 2 RL) from there (textbook, from memory)."""
    arm = 350.0 + 4.0
    assert bridge(lead=2.0, two_wires=True) == pytest.approx(arm / (arm + 350.0) - 0.5, rel=1e-9)


def test_shunt_on_two_wires_lies_across_gauge_and_leads() -> None:
    """The instrument reads -Rt/(GF(Rt + Rc)), Rt = Rg + 2 RL, once balanced (textbook, from memory)."""
    arm, shunt = 352.0, 174800.0
    k = -arm / (arm + shunt)
    measured = bridge(lead=1.0, completion=arm, two_wires=True, shunt_s=1 / shunt)
    assert measured == pytest.approx((k / 4) / (1 + k / 2), rel=1e-9)


def test_shunt_without_leads_is_its_equivalent_strain() -> None:
    """350 Ω and 100 kΩ at GF 2 stand for -1744 µε (common practice, no source)."""
    measured = bridge(shunt_s=1e-5)
    strain = optimize.brentq(lambda e: bridge(350.0 * (1 + 2.0 * e)) - measured, -0.01, 0.0)  # type: ignore[no-untyped-call]
    assert strain == pytest.approx(-1744e-6, abs=0.5e-6)


@pytest.mark.parametrize("leak_ohm", [1e7, 1e8])
def test_a_leak_along_the_grid_reads_compression(leak_ohm: float) -> None:
    """-Rg/(3 GF Ri) for an even leak, one end of the grid at the part's potential (derived here; small leak)."""
    strain = 4 * bridge(leak_s=1 / leak_ohm) / GF
    assert strain == pytest.approx(-350.0 / (3 * GF * leak_ohm), rel=1e-3)


def test_half_bridge_only_shifts_the_output() -> None:
    assert bridge(351.0, half_ratio=0.4998) - bridge(351.0) == pytest.approx(2e-4, rel=1e-9)


def test_arrays_are_solved_as_one_batch() -> None:
    gauges = np.array([[349.0, 350.0], [351.0, 352.0], [353.0, 354.0]])
    ones = np.ones(2)
    lead, none = 0.8 * ones, 0.0 * ones
    batch = QuarterBridge(gauges, lead, lead, lead, ones, 350.0 * ones, 0.5 * ones, none, none)
    alone = [[bridge(g, lead=0.8) for g in row] for row in gauges]
    assert batch.output() == pytest.approx(np.array(alone), rel=1e-12)


def test_a_loose_node_is_told() -> None:
    with pytest.raises(np.linalg.LinAlgError):
        potentials([(0, 1, 1.0), (2, 3, 1.0)], {0: 0.0})
