"""Independent routes to the strains of pressure parts: the equations of elasticity as boundary-value problems.

Written with the stiffness of the material (Lame's constants) and solved by collocation; the models use the compliance
and closed forms.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from scipy.integrate import solve_bvp  # type: ignore[attr-defined]

from rigproof_parts.branch_pipe import BranchPipe
from rigproof_parts.cylinder import Cylinder
from rigproof_parts.sphere import Sphere

FloatArray = npt.NDArray[np.float64]

SPOOL: dict[str, Any] = {  # rigs/spool
    "outside diameter": "219.1 mm ± 0.2 %",
    "wall": {"value": "4.52 mm", "U": "0.06 mm", "k": "2"},
    "ends": "closed",
    "gauge surface": "outside",
    "filling": "water",
    "material": {
        "name": "carbon steel",
        "elastic modulus": "206 GPa ± 2 %",
        "poisson ratio": "0.29 ± 0.01",
        "expansion": "11.7 ppm/K ± 0.3 ppm/K",
        "yield strength": "235 MPa",
    },
}


def pipe(**changes: object) -> Cylinder:
    """The cylinder of rigs/spool with some keys changed; `_` stands for the space in a key."""
    return Cylinder.model_validate(SPOOL | {key.replace("_", " "): value for key, value in changes.items()})


def ball(**changes: object) -> Sphere:
    """A sphere of the spool's wall and material."""
    written = {key: value for key, value in SPOOL.items() if key != "ends"}
    return Sphere.model_validate(written | {key.replace("_", " "): value for key, value in changes.items()})


def branch(
    factors: tuple[str, str], surface: str = "outside", more: dict[str, object] | None = None, **changes: object
) -> BranchPipe:
    """The same pipe with a branch and a point `flank`; factors without limits get some. `more` points follow it."""
    normal, tangential = (text if "±" in text else f"{text} ± 0.01" for text in factors)
    flank = {"normal": normal, "tangential": tangential, "surface": surface, "source": "report 7"}
    written = SPOOL | {"branch": {"flank": flank} | (more or {})}
    return BranchPipe.model_validate(written | {key.replace("_", " "): value for key, value in changes.items()})


@dataclass(frozen=True)
class Wall:
    """Strains and stresses through a wall, along `r` from bore to outside."""

    r: FloatArray
    hoop: FloatArray
    axial: float
    stress_r: FloatArray
    stress_t: FloatArray
    stress_z: FloatArray

    def von_mises(self) -> FloatArray:
        """Equivalent stress along the wall."""
        pairs = ((self.stress_r, self.stress_t), (self.stress_t, self.stress_z), (self.stress_z, self.stress_r))
        return np.asarray(np.sqrt(sum((a - b) ** 2 for a, b in pairs) / 2))


def cylinder_wall(a: float, b: float, modulus: float, nu: float, load: float, ends: str, growth: float = 0.0) -> Wall:
    """Solve for the displacement u, the radial stress s and the axial force f of a cylinder.

    `growth` is the free thermal strain. Stresses are scaled by `modulus`, radii by `a`.
    """
    lame, shear = nu / ((1 + nu) * (1 - 2 * nu)), 0.5 / (1 + nu)
    hot, k, p = (3 * lame + 2 * shear) * growth, b / a, load / modulus

    def state(r: FloatArray, y: FloatArray, axial: float) -> tuple[FloatArray, FloatArray, FloatArray]:
        hoop = y[0] / r
        radial = (y[1] - lame * (hoop + axial) + hot) / (lame + 2 * shear)
        trace = radial + hoop + axial
        return radial, lame * trace + 2 * shear * hoop - hot, lame * trace + 2 * shear * axial - hot

    def slopes(r: FloatArray, y: FloatArray, unknown: FloatArray) -> FloatArray:
        radial, stress_t, stress_z = state(r, y, float(unknown[0]))
        return np.vstack([radial, (stress_t - y[1]) / r, 2 * np.pi * r * stress_z])

    def bounds(inner: FloatArray, outer: FloatArray, unknown: FloatArray) -> FloatArray:
        thrust = np.pi * p if ends == "closed" else 0.0
        end = unknown[0] if ends == "fixed" else outer[2] - thrust
        return np.array([inner[1] + p, outer[1], inner[2], end])

    scale = max(abs(p), abs(growth))
    r = np.linspace(1.0, k, 60)
    found = solve_bvp(slopes, bounds, r, np.full((3, 60), scale), p=np.array([scale]), tol=1e-9, max_nodes=20000)
    assert found.success, found.message
    y = found.sol(r)
    axial = float(found.p[0])
    _, stress_t, stress_z = state(r, y, axial)
    return Wall(r * a, y[0] / r, axial, y[1] * modulus, stress_t * modulus, stress_z * modulus)


def sphere_wall(a: float, b: float, modulus: float, nu: float, load: float) -> Wall:
    """Solve for the displacement u and the radial stress s of a sphere."""
    lame, shear, p = nu / ((1 + nu) * (1 - 2 * nu)), 0.5 / (1 + nu), load / modulus

    def state(r: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        tangential = y[0] / r
        radial = (y[1] - 2 * lame * tangential) / (lame + 2 * shear)
        return radial, lame * (radial + 2 * tangential) + 2 * shear * tangential

    def slopes(r: FloatArray, y: FloatArray) -> FloatArray:
        radial, stress_t = state(r, y)
        return np.vstack([radial, 2 * (stress_t - y[1]) / r])

    def bounds(inner: FloatArray, outer: FloatArray) -> FloatArray:
        return np.array([inner[1] + p, outer[1]])

    r = np.linspace(1.0, b / a, 60)
    found = solve_bvp(slopes, bounds, r, np.full((2, 60), p), tol=1e-9, max_nodes=20000)
    assert found.success, found.message
    y = found.sol(r)
    _, stress_t = state(r, y)
    return Wall(r * a, y[0] / r, float("nan"), y[1] * modulus, stress_t * modulus, stress_t * modulus)


@pytest.fixture(scope="session", name="pipe")
def _pipe() -> Callable[..., Cylinder]:
    return pipe


@pytest.fixture(scope="session", name="branch")
def _branch() -> Callable[..., BranchPipe]:
    return branch


@pytest.fixture(scope="session", name="ball")
def _ball() -> Callable[..., Sphere]:
    return ball


@pytest.fixture(scope="session", name="cylinder_wall")
def _cylinder_wall() -> Callable[..., Wall]:
    return cylinder_wall


@pytest.fixture(scope="session", name="sphere_wall")
def _sphere_wall() -> Callable[..., Wall]:
    return sphere_wall
