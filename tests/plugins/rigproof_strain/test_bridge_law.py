"""The pure functions below the models."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof_strain import bridge, leads, shunt, transverse

OUTPUTS = st.floats(-0.1, 0.1)
HALVES = st.sampled_from([1, 2])


@given(OUTPUTS, OUTPUTS, HALVES)
def test_output_undoes_arm_change(reading: float, zero: float, halves: int) -> None:
    change = bridge.arm_change(reading, zero, halves)
    assert bridge.output(change, zero, halves) == pytest.approx(reading, abs=1e-16, rel=1e-12)


@given(st.floats(0.5, 2.0), st.floats(0.5, 2.0), st.floats(0.5, 2.0), st.floats(0.5, 2.0))
def test_arm_change_is_the_change_of_the_ratio_of_the_arms(a: float, b: float, c: float, d: float) -> None:
    def output(r1: float, r2: float) -> float:
        return r1 / (r1 + r2) - 0.5

    assert bridge.arm_change(output(c, d), output(a, b)) == pytest.approx((c / d) / (a / b) - 1, rel=1e-9, abs=1e-14)


def test_small_changes_keep_their_digits() -> None:
    """1e-12 V/V on a start of 5 mV/V: q1/q0 - 1 from the quotients would keep four digits at best."""
    change = bridge.arm_change(5e-3 + 1e-12, 5e-3)
    step = (5e-3 + 1e-12) - 5e-3
    assert change == pytest.approx(step / (0.25 - 25e-6), rel=1e-10, abs=0)


@given(st.floats(-0.05, 0.05), st.floats(1.0, 4.0), st.sampled_from([0.0, 0.29, 1.0]))
def test_strain_of_undoes_change_of(strain: float, sensitivity: float, opposing: float) -> None:
    change = bridge.change_of(strain, -opposing * strain, sensitivity)
    assert bridge.strain_of(change, sensitivity, opposing) == pytest.approx(strain, rel=1e-12, abs=1e-16)


@given(st.floats(-0.05, 0.05), st.floats(-0.05, 0.05), st.floats(1.0, 4.0))
def test_changing_the_two_arms_over_turns_the_output(first: float, second: float, sensitivity: float) -> None:
    there = bridge.output(bridge.change_of(first, second, sensitivity), 0.0)
    back = bridge.output(bridge.change_of(second, first, sensitivity), 0.0)
    assert there == pytest.approx(-float(back), rel=1e-9, abs=1e-16)


@given(st.floats(100.0, 1000.0), st.floats(1.5, 4.0), st.floats(-0.01, -1e-6))
def test_resistor_for_undoes_equivalent_strain(gauge: float, factor: float, strain: float) -> None:
    resistor = shunt.resistor_for(gauge, factor, strain)
    assert shunt.equivalent_strain(gauge, factor, resistor) == pytest.approx(strain, rel=1e-9, abs=0)


@given(st.floats(100.0, 1000.0), st.floats(1.5, 4.0), st.floats(1e-6, 0.01))
def test_resistor_for_tension_lies_across_the_adjacent_arm(gauge: float, factor: float, strain: float) -> None:
    resistor = shunt.resistor_for(gauge, factor, strain)
    assert shunt.opposite_strain(gauge, factor, resistor) == pytest.approx(strain, rel=1e-9, abs=0)


def test_resistors_of_both_signs_in_one_array() -> None:
    found = shunt.resistor_for(350.0, 2.0, np.array([-1000e-6, 1000e-6]))
    assert found == pytest.approx(np.array([174650.0, 175000.0]), rel=1e-12)


def test_desensitisation_of_no_lead_is_none_and_grows_with_the_lead() -> None:
    found = leads.desensitisation(350.0, np.array([0.0, 0.8, 1.6, 350.0]))
    assert found == pytest.approx(np.array([1.0, 0.9977195, 0.9954494, 0.5]), abs=5e-8)


STRAINS = st.floats(-3e-3, 3e-3)


@given(STRAINS, STRAINS, STRAINS, st.floats(-0.03, 0.03))
def test_corrections_of_rosettes_undo_the_transverse_sensitivity(ex: float, ey: float, gxy: float, kt: float) -> None:
    """Forward by the strain tensor turned to each grid; back by the closed forms."""

    def along(angle: float) -> float:
        c, s = np.cos(angle), np.sin(angle)
        return float(ex * c**2 + ey * s**2 + gxy * s * c)

    def read(angle: float) -> float:
        return float(transverse.reported(along(angle), along(angle + np.pi / 2), kt))

    rosettes: tuple[tuple[Callable[..., object], tuple[float, ...]], ...] = (
        (transverse.true_pair, (0.0, np.pi / 2)),
        (transverse.true_rectangular, (0.0, np.pi / 4, np.pi / 2)),
        (transverse.true_delta, (0.0, np.pi / 3, 2 * np.pi / 3)),
    )
    for correct, angles in rosettes:
        found = correct(*(read(angle) for angle in angles), kt)
        assert found == pytest.approx(tuple(along(angle) for angle in angles), rel=1e-9, abs=1e-15)


@given(STRAINS, st.floats(-0.03, 0.03))
def test_the_field_of_the_calibration_is_reported_as_it_is(strain: float, kt: float) -> None:
    assert transverse.reported(strain, -0.285 * strain, kt) == pytest.approx(strain, rel=1e-12, abs=1e-18)
