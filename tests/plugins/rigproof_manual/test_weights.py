"""Which weights make a load, and in which order they are moved."""

from __future__ import annotations

from itertools import chain, combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.quantities import parse_uncertain
from rigproof_manual.weights import NEAR_ENOUGH, Weights, moves

MASSES = st.lists(st.sampled_from([0.1, 0.2, 0.5, 1.0, 2.0, 5.0]), min_size=1, max_size=7)


def made_of(masses: list[float], gravity: str = "9.80665 m/s²") -> Weights:
    named = {f"W{i}": parse_uncertain(f"{mass} kg ± 0.1 %", "mass") for i, mass in enumerate(masses)}
    return Weights(named, parse_uncertain(gravity, "acceleration"))


def test_ten_kilograms_in_standard_gravity_weigh_98_07_newtons() -> None:
    """98.0665 N by the definition of the kilogram-force (CGPM 1901), less 0.015 % that the air bears."""
    weights = made_of([5.0, 5.0])
    assert weights.force_n(frozenset(weights.masses)) == pytest.approx(98.0665 * (1 - 0.00015), rel=1e-9)


@given(MASSES, st.data())
def test_every_sum_of_weights_is_found_again(masses: list[float], data: st.DataObject) -> None:
    weights = made_of(masses)
    marks = sorted(weights.masses)
    wanted = frozenset(data.draw(st.sets(st.sampled_from(marks))))
    on = frozenset(data.draw(st.sets(st.sampled_from(marks))))
    found = weights.choose(weights.force_n(wanted), on)
    assert found is not None
    assert weights.force_n(found) == pytest.approx(weights.force_n(wanted), rel=NEAR_ENOUGH)
    # no other set is as near with fewer moves
    everything = map(frozenset, chain.from_iterable(combinations(marks, n) for n in range(len(marks) + 1)))
    alike = [s for s in everything if weights.force_n(s) == pytest.approx(weights.force_n(wanted), rel=1e-9)]
    if weights.force_n(found) == pytest.approx(weights.force_n(wanted), rel=1e-9):
        assert len(found ^ on) == min(len(s ^ on) for s in alike)


@given(MASSES, st.data())
def test_moves_lead_there_and_never_above_both_ends(masses: list[float], data: st.DataObject) -> None:
    weights = made_of(masses)
    marks = sorted(weights.masses)
    on = frozenset(data.draw(st.sets(st.sampled_from(marks))))
    wanted = frozenset(data.draw(st.sets(st.sampled_from(marks))))
    now, most = on, max(weights.force_n(on), weights.force_n(wanted))
    for put_on, mark in moves(on, wanted):
        assert (mark in now) != put_on
        now = now | {mark} if put_on else now - {mark}
        assert weights.force_n(now) <= most * (1 + 1e-12)
    assert now == wanted


def test_a_load_between_the_weights_has_none_and_its_neighbours_are_named() -> None:
    weights = made_of([2.0, 2.0])
    assert weights.choose(30.0, frozenset()) is None
    assert weights.nearest(30.0) == pytest.approx([19.61, 39.22], abs=0.01)
    assert weights.choose(0.0, frozenset(weights.masses)) == frozenset()


def test_the_accuracy_carries_masses_and_gravity() -> None:
    """Rectangular limits: u = a/√3 (JCGM 100, 4.3.7); 0.1 % and 0.3 % in quadrature."""
    spread = made_of([1.0, 2.0], "9.80665 m/s² ± 0.3 %").spread()
    assert spread.u_relative == pytest.approx((0.1**2 + 0.3**2) ** 0.5 / 100 / 3**0.5)
