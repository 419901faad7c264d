"""The twin's beam and weights against textbook formulas."""

from __future__ import annotations

import numpy as np
import pytest

from rigproof_twin.clock import VirtualClock
from rigproof_twin.physics.cantilever import CantileverBeam
from rigproof_twin.physics.weights import PLACING_S, DeadWeights, weight_n

BEAM = CantileverBeam(0.4, 0.03, 0.006, 0.06, 206e9, 0.29, 11.7e-6, 235e6)


def test_strain_by_the_flexure_formula() -> None:
    """Hibbeler, Mechanics of Materials (from memory), flexure formula: sigma = M c/I, M = P (L - x), I = b h³/12."""
    moment, inertia = 1.0 * (0.4 - 0.06), 0.03 * 0.006**3 / 12
    assert BEAM.strain_per_n == pytest.approx(moment * 0.003 / inertia / 206e9, rel=1e-9)
    top, bottom = BEAM.response("top"), BEAM.response("bottom")
    assert top.along_per_load == -bottom.along_per_load > 0
    assert top.across_per_load == pytest.approx(-0.29 * top.along_per_load)


def test_deflection_of_the_end_by_the_table() -> None:
    """Gere and Goodno, Mechanics of Materials, table of deflections: P L³/(3 E I), slope P L²/(2 E I) (from memory)."""
    stiffness = 206e9 * 0.03 * 0.006**3 / 12
    assert BEAM.deflection_per_n(0.4) == pytest.approx(0.4**3 / (3 * stiffness), rel=1e-9)
    assert BEAM.deflection_per_n.deriv()(0.4) == pytest.approx(0.4**2 / (2 * stiffness), rel=1e-9)
    assert BEAM.deflection_per_n(0.0) == pytest.approx(0.0, abs=1e-18)


def test_it_yields_where_its_skin_reaches_the_strength() -> None:
    first = 235e6 / (206e9 * BEAM.strain_per_n)
    loads = np.array([0.0, 0.999 * first, 1.1 * first])
    assert (BEAM.plastic_strain(loads) > 0).tolist() == [False, False, True]


def test_weights_come_to_rest_and_stay_where_they_are() -> None:
    clock = VirtualClock()
    weights = DeadWeights(clock, {"A": 2.0, "B": 1.0}, 9.81)
    weights.move("A", True)
    weights.move("A", True)  # is there already
    clock.wait(60.0)
    weights.move("B", True)
    times = np.array([0.0, PLACING_S, 60.0, 60.0 + PLACING_S, 1e4])
    assert weights.on_part(times) == pytest.approx(np.array([0, 2, 2, 3, 3]) * weight_n(1.0, 9.81))
    assert weights.kinks(0.0, 100.0) == [PLACING_S, 60.0, 60.0 + PLACING_S]
    clock.wait(60.0)
    weights.move("A", False)
    assert weights.on_part(np.array([clock.now() + 10.0]))[0] == pytest.approx(weight_n(1.0, 9.81))


def test_air_bears_a_little_of_iron() -> None:
    """About 0.015 % for iron and steel in air (OIML R 111, from memory)."""
    assert weight_n(1.0, 9.81) / 9.81 == pytest.approx(1 - 0.00015, abs=1e-5)
