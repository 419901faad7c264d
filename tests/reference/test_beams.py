"""Cantilevers and columns of textbooks and courses."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest

from rigproof_parts.cantilever import Cantilever
from rigproof_parts.column import Column

Case = Callable[[str], Any]

MATERIAL = {
    "name": "of the example",
    "elastic modulus": "207 GPa",
    "poisson ratio": "0.3",
    "expansion": "11.7 ppm/K",
    "yield strength": "235 MPa",
}


def cantilever(length_mm: float, width_mm: float, thickness_mm: float) -> Cantilever:
    sizes = {"length": f"{length_mm} mm", "width": f"{width_mm} mm", "thickness": f"{thickness_mm} mm"}
    return Cantilever.model_validate(sizes | {"gauge distance": "1 mm", "material": MATERIAL})


def test_cantilever_strip(mechanics_case: Case) -> None:
    case = mechanics_case("BEM-02")
    length, distance, width, thickness = (case.inputs[key] * 1e-3 for key in ("L", "x_gauge", "b", "h"))
    part = cantilever(300, 25, 6)
    found, _ = part.strain(case.inputs["P"], "top", length, distance, width, thickness, case.inputs["E"] * 1e9, 0.3)
    case.check(eps=found * 1e6)


def test_force_on_a_cantilever_from_its_strain(mechanics_case: Case) -> None:
    case = mechanics_case("BEM-01")
    length, width, thickness = (case.inputs[key] * 1e-3 for key in ("L", "b", "t"))
    per_newton, _ = cantilever(50, 10, 1).strain(1.0, "top", length, 0.0, width, thickness, case.inputs["E"] * 1e9, 0.3)
    case.check(P=case.inputs["out"] * 1e-3 / case.inputs["V"] / case.inputs["F"] / per_newton)


def test_gauge_factor_from_a_deflection_Sawhney_5_14(mechanics_case: Case) -> None:
    """The modulus cancels: the force of the deflection gives the strain 150 mm from the end."""
    case = mechanics_case("T-GF-01")
    given = case.inputs
    part = cantilever(given["L"], given["b"], given["h"])
    force = given["deflection"] * 1e-3 / part.deflection_m(1.0)
    length, arm, width, thickness = (given[key] * 1e-3 for key in ("L", "arm", "b", "h"))
    strain, _ = part.strain(force, "top", length, length - arm, width, thickness, 207e9, 0.3)
    case.check(strain=strain * 1e6, GF=given["dR"] / given["R"] / strain)


def test_column_in_compression(mechanics_case: Case) -> None:
    """The case has a rectangular section; only its area counts."""
    case = mechanics_case("BEM-04")
    given = case.inputs
    diameter = math.sqrt(4 * given["A"] / math.pi) * 1e-3
    part = Column.model_validate({"diameter": "30 mm", "loaded in": "compression", "material": MATERIAL})
    axial, around = part.strain(-given["P"] * 1e3, "axial", diameter, 0.0, given["E"] * 1e9, given["nu"])
    case.check(eps_axial=axial * 1e6)
    assert around == pytest.approx(-given["nu"] * axial)
