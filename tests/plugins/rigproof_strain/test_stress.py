from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.errors import NumberError
from rigproof_strain import stress

E, NU = 206e9, 0.29
STRAINS = st.floats(-3e-3, 3e-3)
STRESSES = st.floats(-400e6, 400e6)


def compliance(modulus: float, nu: float) -> np.ndarray:
    """Strains of three stresses at right angles (Hooke, as it stands)."""
    return (np.eye(3) * (1 + nu) - nu) / modulus


@given(STRESSES, STRESSES, st.floats(0.01, 0.49))
def test_plane_stress_is_hookes_law_solved(s1: float, s2: float, nu: float) -> None:
    e1, e2, e3 = (float(e) for e in compliance(E, nu) @ [s1, s2, 0.0])
    assert stress.plane_stress_pa(e1, e2, E, nu) == pytest.approx((s1, s2), rel=1e-9, abs=1e-3)
    assert stress.out_of_plane_strain(e1, e2, nu) == pytest.approx(e3, rel=1e-9, abs=1e-15)


@given(STRESSES, STRESSES)
def test_equivalent_and_greatest_shear_stress_of_the_whole_tensor(s1: float, s2: float) -> None:
    """Von Mises by the deviator, shear by the differences of all three principal stresses."""
    tensor = np.diag([s1, s2, 0.0])
    deviator = tensor - np.trace(tensor) / 3 * np.eye(3)
    assert stress.von_mises_pa(s1, s2) == pytest.approx(np.sqrt(1.5 * np.sum(deviator**2)), rel=1e-12, abs=1e-3)
    sizes = np.linalg.eigvalsh(tensor)
    assert stress.greatest_shear_pa(s1, s2) == pytest.approx((sizes[2] - sizes[0]) / 2, rel=1e-12, abs=1e-3)


@given(STRAINS, STRAINS)
def test_greatest_shear_strain_is_the_shear_stress_over_the_modulus(e1: float, e2: float) -> None:
    s1, s2 = stress.plane_stress_pa(e1, e2, E, NU)
    expected = stress.greatest_shear_pa(s1, s2) / stress.shear_modulus_pa(E, NU)
    assert stress.greatest_shear_strain(e1, e2, NU) == pytest.approx(expected, rel=1e-9, abs=1e-15)


def test_known_equivalent_stresses() -> None:
    assert stress.von_mises_pa(200e6, 0.0) == pytest.approx(200e6)
    assert stress.von_mises_pa(200e6, 200e6) == pytest.approx(200e6)
    assert stress.von_mises_pa(100e6, -100e6) == pytest.approx(100e6 * 3**0.5)  # pure shear
    assert stress.shear_modulus_pa(200e9, 0.25) == pytest.approx(80e9)


def test_arrays() -> None:
    e1, e2 = np.array([1e-3, 2e-4]), np.array([-3e-4, 1e-4])
    s1, s2 = stress.plane_stress_pa(e1, e2, E, NU)
    one = stress.plane_stress_pa(1e-3, -3e-4, E, NU)
    assert (s1[0], s2[0]) == pytest.approx(one)  # type: ignore[index]
    assert stress.greatest_shear_strain(e1, e2, NU) == pytest.approx(
        np.array([stress.greatest_shear_strain(float(a), float(b), NU) for a, b in zip(e1, e2, strict=True)])
    )


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: stress.plane_stress_pa(1e-3, 0.0, -1.0, NU),
            "modulus_pa=-1: .*give the elastic modulus in Pa, such as",
        ),
        (lambda: stress.plane_stress_pa(1e-3, 0.0, E, 0.5), "poisson=0.5: must lie between 0 and 0.5"),
        (lambda: stress.plane_stress_pa(1e-3, 0.0, E, 0.0), "poisson=0: must lie between 0 and 0.5"),
        (lambda: stress.shear_modulus_pa(0.0, NU), "modulus_pa=0"),
        (lambda: stress.shear_modulus_pa(E, -0.3), "poisson=-0.3"),
        (lambda: stress.out_of_plane_strain(1e-3, 0.0, 1.0), "poisson=1"),
        (lambda: stress.greatest_shear_strain(1e-3, 0.0, np.nan), "poisson=nan"),
    ],
)
def test_a_material_that_cannot_be_is_refused(call: Callable[[], object], message: str) -> None:
    with pytest.raises(NumberError, match=message):
        call()
