from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from rigproof.errors import NumberError
from rigproof_parts import energy


@given(st.floats(1.02e5, 3e7), st.floats(1e-3, 100.0), st.sampled_from([1.4, 5 / 3]))
def test_gas_energy_is_the_work_along_the_isentrope(absolute_pa: float, volume: float, k: float) -> None:
    last = volume * (absolute_pa / energy.ATMOSPHERE_PA) ** (1 / k)
    work, _ = quad(lambda v: absolute_pa * (volume / v) ** k, volume, last)
    assert energy.gas_energy_j(absolute_pa, volume, k) == pytest.approx(work, rel=1e-6)


def test_at_the_atmosphere_nothing_is_stored() -> None:
    assert energy.gas_energy_j(energy.ATMOSPHERE_PA, 1.0) == 0


@pytest.mark.parametrize(
    ("absolute_pa", "volume"), [(1e4, 1.0), (1e6, 0.0), (1e6, -1.0), (float("nan"), 1.0), (1e6, float("nan"))]
)
def test_what_cannot_be_is_refused(absolute_pa: float, volume: float) -> None:
    with pytest.raises(
        NumberError, match=re.escape(f"absolute pressure = {absolute_pa:g} Pa, volume = {volume:g} m³: the")
    ):
        energy.gas_energy_j(absolute_pa, volume)


@given(st.floats(1e3, 4e8), st.floats(1.0, 3.0))
def test_more_energy_never_lets_people_nearer(joule: float, factor: float) -> None:
    assert energy.stand_off_m(joule * factor) >= energy.stand_off_m(joule) * (1 - 1e-15)


def test_the_fixed_distances_hold_until_the_scaled_one_is_longer() -> None:
    assert energy.stand_off_m(1e6) == 30
    assert energy.stand_off_m(7.1e6) == 30  # the two forms cross at 7.2 MJ (trade.md 5.4)
    assert energy.stand_off_m(7.3e6) > 30
    assert energy.stand_off_m(135.5e6) == pytest.approx(79.8, abs=0.05)  # beyond the fixed 60 m of the article
    assert [energy.fixed_m(joule) for joule in (1.0, 135.5e6, 135.500001e6)] == [30, 30, 60]


@given(st.floats(1e3, 4e8))
def test_the_greatest_of_the_three_distances_is_kept(joule: float) -> None:
    """The cubes of the scaled distances, over that of 20 m, are the TNT and twice the TNT."""
    tnt = joule / 4_266_920
    assert (energy.scaled_2008_m(joule) / 20) ** 3 == pytest.approx(tnt, rel=1e-9)
    assert (energy.scaled_m(joule) / 20) ** 3 == pytest.approx(2 * tnt, rel=1e-9)
    assert energy.stand_off_m(joule) == max(energy.fixed_m(joule), energy.scaled_m(joule))


def test_elastic_energy_is_the_area_under_the_line() -> None:
    area, _ = quad(lambda p: p * 0.1 * 4.6e-10, 0, 1e7)
    assert energy.elastic_energy_j(1e7, 0.1, 4.6e-10) == pytest.approx(area)
