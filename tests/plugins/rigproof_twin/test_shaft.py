"""The twin's shaft: its section against the textbook formula, its bridge against the exact law, what it refuses."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from rigproof.errors import UsageError
from rigproof_twin.as_built import Gauge, Shaft
from rigproof_twin.four_gauges import on_shaft
from rigproof_twin.physics.cylinder import TANGENT_RATIO
from rigproof_twin.physics.history import Strained
from rigproof_twin.physics.shaft import TorsionShaft

from .conftest import Builder
from .planted import flaw

SOLID = TorsionShaft(40e-3, 0.0, 206e9, 0.29, 11.7e-6, 235e6)
HOLLOW = replace(SOLID, bore_m=28e-3)
BUILT = Shaft(40e-3, 0.0, 206e9, 0.29, 11.7e-6, 235e6)
GAUGE = Gauge(
    place="+45°",
    packet_ohm=350.0,
    gauge_factor=2.0,
    transverse_sensitivity=0.0,
    compensated_for_per_k=None,
    bonding_strain=0.0,
    transfer=1.0,
    give=0.0,
    insulation_ohm=math.inf,
    near_ohm=0.3,
    far_ohm=0.3,
    signal_ohm=0.3,
    lead_per_k=0.0039,
    two_wires=False,
    sensed=True,
    others=(0.0, 0.0, 0.0),
)
NM = 500.0


def skin_stress_pa(shaft: TorsionShaft, torque_nm: float) -> float:
    """16 T D/(pi (D⁴ - d⁴)) (any text on strength of materials, such as Gere and Goodno, 3.3; from memory)."""
    return 16 * torque_nm * shaft.diameter_m / (math.pi * (shaft.diameter_m**4 - shaft.bore_m**4))


def under(torque_nm: float, shaft: Shaft = BUILT) -> Strained:
    """A load that stands for the first time, at time 0."""
    load, still = np.array([torque_nm]), np.zeros(1)
    plastic = shaft.build().plastic_strain(load)
    return Strained(still, load, load, plastic, still, still, still)


def output(gauge: Gauge, torque_nm: float, shaft: Shaft = BUILT, celsius: float = 20.0, shunt_s: float = 0.0) -> float:
    state, still = under(torque_nm, shaft), np.zeros(1)
    return float(on_shaft(shaft, gauge).bridge_output(state, still + celsius, still, shunt_s)[0])


@pytest.mark.parametrize("shaft", [SOLID, HOLLOW])
def test_strains_are_those_of_the_textbook(shaft: TorsionShaft) -> None:
    """±tau (1 + nu)/E at ±45°, nothing along and round the shaft (pure shear; any text)."""
    strain = skin_stress_pa(shaft, NM) * 1.29 / 206e9
    for place, sign in (("+45°", 1.0), ("-45°", -1.0)):
        seen = shaft.response(place)
        assert seen.along_per_load * NM == pytest.approx(sign * strain, rel=1e-12)
        assert seen.across_per_load * NM == pytest.approx(-sign * strain, rel=1e-12)
        along = seen.turned(-sign * math.pi / 4)
        assert along.along_per_load == pytest.approx(0.0, abs=1e-12 * abs(seen.along_per_load))


def test_a_thin_tube_is_bredts() -> None:
    """tau = T/(2 A t), A the area within the middle line (Bredt; any text), to the share t/D."""
    tube = replace(SOLID, bore_m=39.6e-3)
    area, wall = math.pi / 4 * 39.8e-3**2, 0.2e-3
    tau = NM / (2 * area * wall)
    assert tube.response("+45°").along_per_load * NM == pytest.approx(tau * 1.29 / 206e9, rel=0.01)


def test_it_yields_by_von_mises() -> None:
    """tau = s/sqrt(3); beyond, a tenth of the slope."""
    start = 235e6 / math.sqrt(3) / skin_stress_pa(SOLID, 1.0)
    excess = 0.01 * 235e6
    found = SOLID.plastic_strain(np.array([0.99, 1.0, 1.01]) * start)
    assert found == pytest.approx([0.0, 0.0, excess / 206e9 * (1 / TANGENT_RATIO - 1)], abs=1e-12)
    seen = SOLID.response("+45°")
    tensor = np.array([seen.plastic_along, seen.plastic_across, 0.0])
    assert math.sqrt(2 / 3 * tensor @ tensor) == pytest.approx(1.0)  # equivalent strain of its flow
    assert tensor.sum() == pytest.approx(0.0, abs=1e-12)  # which keeps the volume


@pytest.mark.parametrize("torque", [NM, -NM, 50.0])
def test_the_bridge_of_torsion_is_exactly_linear(torque: float) -> None:
    """r = k, k = GF e, the arms being +e, -e, +e, -e (trade.md 2.1, against a nodal solution there)."""
    k = 2.0 * skin_stress_pa(SOLID, torque) * 1.29 / 206e9
    assert output(GAUGE, torque) == pytest.approx(k, rel=1e-9)
    assert output(replace(GAUGE, place="-45°"), torque) == pytest.approx(-k, rel=1e-9)


def test_gauges_laid_askew_lose_the_cosine_of_twice_their_angle() -> None:
    """Mohr's circle of pure shear: e cos 2t."""
    askew = replace(GAUGE, angle_rad=math.radians(13))
    assert output(askew, NM) == pytest.approx(math.cos(math.radians(26)) * output(GAUGE, NM), rel=1e-9)


def test_warmth_shows_in_no_arm_alone() -> None:
    other = replace(GAUGE, compensated_for_per_k=23e-6)
    assert output(other, 0.0, celsius=60.0) == pytest.approx(0.0, abs=1e-12)


def test_every_arm_was_bonded_by_itself() -> None:
    """(x1 - x2 + x3 - x4)/4 of small changes (any text on bridges)."""
    bonded = replace(GAUGE, bonding_strain=100e-6, others=(-50e-6, 30e-6, 70e-6))
    assert output(bonded, 0.0) == pytest.approx(2.0 / 4 * (100 + 50 + 30 - 70) * 1e-6, rel=1e-3)


def test_swapped_arms_cancel() -> None:
    assert output(replace(GAUGE, arms_swapped=True), NM) == pytest.approx(0.0, abs=1e-6 * output(GAUGE, NM) + 1e-9)


def test_arms_can_be_swapped_in_a_full_bridge_alone(build: Builder) -> None:
    with pytest.raises(UsageError, match="flaw swapped-arms: the first strain channel has no full bridge"):
        build(0, flaw("swapped-arms"))
