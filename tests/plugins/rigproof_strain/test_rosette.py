from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.errors import NumberError
from rigproof_strain import transverse
from rigproof_strain.rosette import DELTA, PAIR, RECTANGULAR, Rosette, State

STRAINS = st.floats(-3e-3, 3e-3)
KTS = st.floats(-0.05, 0.05)
ANGLES = st.floats(-math.pi, math.pi)
THREE = [RECTANGULAR, DELTA, Rosette((0.0, 120.0, 240.0)), Rosette((-30.0, 22.0, 100.0)), Rosette((10.0, -75.0, 170.0))]


def tensor(ex: float, ey: float, gxy: float) -> npt.NDArray[np.float64]:
    return np.array([[ex, gxy / 2], [gxy / 2, ey]])


def along(strain: npt.NDArray[np.float64], angle: float) -> float:
    n = np.array([math.cos(angle), math.sin(angle)])
    return float(n @ strain @ n)


def read(rosette: Rosette, strain: npt.NDArray[np.float64], kts: tuple[float, ...], off: float = 0.0) -> list[float]:
    """What each leg reports: the tensor along and across its grid, by `transverse.reported`."""
    angles = [math.radians(angle) + off for angle in rosette.angles_deg]
    return [
        float(transverse.reported(along(strain, angle), along(strain, angle + math.pi / 2), kt))
        for angle, kt in zip(angles, kts, strict=True)
    ]


@given(STRAINS, STRAINS, STRAINS, st.sampled_from(THREE), st.tuples(KTS, KTS, KTS))
def test_three_legs_give_back_the_tensor(
    ex: float, ey: float, gxy: float, rosette: Rosette, kts: tuple[float, float, float]
) -> None:
    state = rosette.state(read(rosette, tensor(ex, ey, gxy), kts), kts)
    assert state.components() == pytest.approx((ex, ey, gxy), rel=1e-9, abs=1e-15)


@given(STRAINS, STRAINS, STRAINS)
def test_principal_strains_and_angle_are_those_of_the_eigenvectors(ex: float, ey: float, gxy: float) -> None:
    strain = tensor(ex, ey, gxy)
    values, vectors = np.linalg.eigh(strain)
    state = RECTANGULAR.state(read(RECTANGULAR, strain, (0.0, 0.0, 0.0)))
    assert state.principal() == pytest.approx((values[1], values[0]), rel=1e-9, abs=1e-15)
    if values[1] - values[0] > 1e-7:
        direction = math.atan2(vectors[1, 1], vectors[0, 1])
        assert math.cos(2 * (float(state.angle()) - direction)) == pytest.approx(1.0, abs=1e-9)
    assert -math.pi / 2 <= state.angle() <= math.pi / 2


@given(STRAINS, STRAINS, STRAINS, ANGLES, st.sampled_from(THREE))
def test_a_turned_rosette_finds_the_same_principal_strains(
    ex: float, ey: float, gxy: float, turn: float, rosette: Rosette
) -> None:
    strain = tensor(ex, ey, gxy)
    still, turned = (rosette.state(read(rosette, strain, (0.0,) * 3, off)) for off in (0.0, turn))
    assert turned.principal() == pytest.approx(still.principal(), rel=1e-9, abs=1e-15)
    assert turned == pytest.approx(still.turned(turn), rel=1e-9, abs=1e-15)
    assert turned.along(0.3 - turn) == pytest.approx(still.along(0.3), rel=1e-9, abs=1e-15)


@given(STRAINS, STRAINS, STRAINS, st.floats(-5.0, 5.0))
def test_the_state_is_linear_in_the_load(a: float, b: float, c: float, scale: float) -> None:
    kts = (0.01, 0.02, 0.01)
    once, scaled = DELTA.state((a, b, c), kts), DELTA.state((a * scale, b * scale, c * scale), kts)
    assert scaled == pytest.approx(tuple(scale * part for part in once), rel=1e-9, abs=1e-16)


@given(STRAINS, STRAINS, STRAINS)
def test_rectangular_and_delta_find_the_same_state(ex: float, ey: float, gxy: float) -> None:
    strain, kts = tensor(ex, ey, gxy), (0.02, 0.02, 0.02)
    first, second = (rosette.state(read(rosette, strain, kts), kts) for rosette in (RECTANGULAR, DELTA))
    assert first == pytest.approx(second, rel=1e-9, abs=1e-15)


@given(STRAINS, STRAINS, STRAINS)
def test_closed_forms_of_the_rectangular_rosette(a: float, b: float, c: float) -> None:
    """trade.md section 3."""
    state = RECTANGULAR.state((a, b, c))
    radius = math.hypot(a - b, b - c) / math.sqrt(2)
    assert state.principal() == pytest.approx(((a + c) / 2 + radius, (a + c) / 2 - radius), rel=1e-9, abs=1e-15)
    if radius > 1e-7:
        angle = 0.5 * math.atan2(2 * b - a - c, a - c)
        assert math.cos(2 * (float(state.angle()) - angle)) == pytest.approx(1.0, abs=1e-9)


@given(STRAINS, STRAINS, STRAINS)
def test_closed_forms_of_the_delta_rosette(a: float, b: float, c: float) -> None:
    """trade.md section 3; with the legs at 0/120/240 the last two change places and the angle its sign."""
    mean = (a + b + c) / 3
    radius = math.sqrt(2) / 3 * math.sqrt((a - b) ** 2 + (b - c) ** 2 + (c - a) ** 2)
    state, other = DELTA.state((a, b, c)), Rosette((0.0, 120.0, 240.0)).state((a, b, c))
    for found in (state, other):
        assert found.principal() == pytest.approx((mean + radius, mean - radius), rel=1e-9, abs=1e-15)
    if radius > 1e-7:
        angle = 0.5 * math.atan2(math.sqrt(3) * (b - c), 2 * a - b - c)
        assert math.cos(2 * (float(state.angle()) - angle)) == pytest.approx(1.0, abs=1e-9)
        assert math.cos(2 * (float(other.angle()) + angle)) == pytest.approx(1.0, abs=1e-9)


def test_the_angle_is_positive_from_leg_1_towards_leg_2() -> None:
    strain = tensor(1e-3, -0.3e-3, 0.0)
    for degrees in (-80.0, -30.0, 12.0, 45.0, 89.0):
        readings = read(RECTANGULAR, strain, (0.0,) * 3, math.radians(-degrees))
        assert math.degrees(RECTANGULAR.state(readings).angle()) == pytest.approx(degrees)
    assert math.degrees(RECTANGULAR.state((0.0, 1e-3, 0.0)).angle()) == pytest.approx(45.0)  # only leg 2 is stretched


def test_where_all_directions_are_alike_the_angle_is_nothing() -> None:
    assert State(1e-4, 0.0, 0.0).angle() == 0.0
    assert State(1e-4, 0.0, 0.0).principal() == (1e-4, 1e-4)


@given(STRAINS, STRAINS, KTS, KTS, st.sampled_from([0.0, 20.0, -50.0, 90.0]))
def test_a_pair_along_the_principal_directions(e1: float, e2: float, k1: float, k2: float, axis: float) -> None:
    rosette = Rosette((axis, axis + 90.0))
    a = math.radians(axis)
    n = np.array([[math.cos(a), -math.sin(a)], [math.sin(a), math.cos(a)]])
    strain = n @ np.diag([e1, e2]) @ n.T
    state = rosette.state(read(rosette, strain, (k1, k2)), (k1, k2))
    components = (strain[0, 0], strain[1, 1], 2 * strain[0, 1])
    assert state.components() == pytest.approx(components, rel=1e-9, abs=1e-15)
    assert state.principal() == pytest.approx((max(e1, e2), min(e1, e2)), rel=1e-9, abs=1e-15)


@given(STRAINS, STRAINS, STRAINS, KTS)
def test_the_known_corrections_for_one_sensitivity(a: float, b: float, c: float, kt: float) -> None:
    """Against the closed forms of `transverse` and a rosette without sensitivity."""
    assert PAIR.state((a, c), (kt, kt)) == pytest.approx(
        PAIR.state(transverse.true_pair(a, c, kt)), rel=1e-9, abs=1e-15
    )
    assert RECTANGULAR.state((a, b, c), (kt,) * 3) == pytest.approx(
        RECTANGULAR.state(transverse.true_rectangular(a, b, c, kt)), rel=1e-9, abs=1e-15
    )
    assert DELTA.state((a, b, c), (kt,) * 3) == pytest.approx(
        DELTA.state(transverse.true_delta(a, b, c, kt)), rel=1e-9, abs=1e-15
    )


def test_legs_off_their_angles_are_taken_where_they_are() -> None:
    strain, off = tensor(8e-4, -1e-4, 5e-4), (0.03, -0.02, 0.05)
    there = Rosette(tuple(a + math.degrees(o) for a, o in zip((0.0, 45.0, 90.0), off, strict=True)))
    readings = read(there, strain, (0.01,) * 3)
    assert RECTANGULAR.state(readings, (0.01,) * 3, off).components() == pytest.approx((8e-4, -1e-4, 5e-4), rel=1e-12)


def test_a_pair_off_its_angles() -> None:
    off = (0.02, -0.03)
    readings = [along(tensor(1e-3, -3e-4, 0.0), angle) for angle in (0.02, math.pi / 2 - 0.03)]
    assert PAIR.state(readings, (), off).components() == pytest.approx((1e-3, -3e-4, 0.0), rel=1e-12)


def test_arrays_give_what_numbers_give_and_nan_stays() -> None:
    rng = np.random.default_rng(2)
    readings, kts = rng.normal(0, 1e-3, (3, 20)), rng.uniform(-0.02, 0.02, (3, 20))
    off = rng.normal(0, 0.02, (3, 20))
    state = DELTA.state(list(readings), list(kts), list(off))
    one_by_one = [DELTA.state(*([float(row[n]) for row in given] for given in (readings, kts, off))) for n in range(20)]
    assert np.array(state) == pytest.approx(np.array(one_by_one).T, rel=1e-12, abs=1e-18)
    assert np.array(state.principal()) == pytest.approx(np.array([s.principal() for s in one_by_one]).T, rel=1e-12)
    assert all(np.isnan(strain) for strain in RECTANGULAR.state((1e-3, np.nan, 0.0)).principal())


@pytest.mark.parametrize(
    ("angles", "message"),
    [
        ((0.0,), r"angles_deg=\(0.0,\): a rosette has two or three legs; give an angle for each"),
        ((0.0, 30.0, 60.0, 90.0), "a rosette has two or three legs"),
        ((0.0, 45.0, 400.0), "400 is beyond ±360°; count from the axis, in degrees"),
        ((0.0, 45.0, -360.5), "-360.5 is beyond ±360°"),
        ((0.0, math.nan, 90.0), "nan is beyond ±360°"),
        ((0.0, 45.0, 180.0), r"0° and 180° are not independent; legs must point at least 5° apart"),
        ((0.0, 4.0, 90.0), "0° and 4° are not independent"),
        ((1.0, 90.0, 357.5), "1° and 357.5° are not independent"),
        ((0.0, 60.0), "two legs 60° apart do not tell the state; a pair must be at right angles"),
        ((0.0, 180.0), "two legs 0° apart"),
    ],
)
def test_angles_that_do_not_tell_the_state_are_refused(angles: tuple[float, ...], message: str) -> None:
    with pytest.raises(NumberError, match=message):
        Rosette(angles)


@pytest.mark.parametrize("angles", [(0.0, 5.0, 90.0), (360.0, -360.0 + 45.0, 90.0), (0.0, 270.0), (-30.0, 60.0)])
def test_angles_at_the_limits_are_taken(angles: tuple[float, ...]) -> None:
    assert Rosette(angles).angles_deg == angles


def test_wrong_counts_and_sensitivities_are_refused() -> None:
    with pytest.raises(NumberError, match=r"readings=2: \(0.0, 45.0, 90.0\) takes one reading a leg"):
        RECTANGULAR.state((1e-3, 0.0))
    with pytest.raises(NumberError, match=r"kts=1: \(0.0, 45.0, 90.0\) takes one for each leg, or none"):
        RECTANGULAR.state((1e-3, 0.0, 0.0), (0.01,))
    with pytest.raises(NumberError, match=r"off_rad=2: .* takes one for each leg, or none"):
        RECTANGULAR.weights((), (0.01, 0.0))
    with pytest.raises(NumberError, match=r"kt=0\.2: must lie within ±0.1"):
        RECTANGULAR.state((1e-3, 0.0, 0.0), (0.0, 0.2, 0.0))
