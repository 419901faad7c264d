"""Cantilever and column."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from rigproof.errors import NumberError
from rigproof.uncertainty import Budget
from rigproof_parts.cantilever import Cantilever
from rigproof_parts.column import Column

STEEL = {
    "name": "spring steel",
    "elastic modulus": "206 GPa ± 1 %",
    "poisson ratio": "0.29 ± 0.01",
    "expansion": "11.7 ppm/K",
    "yield strength": "900 MPa",
}
STRIP: dict[str, Any] = {
    "length": "250 mm ± 0.5 mm",
    "gauge distance": "60 mm ± 0.5 mm",
    "width": "25 mm ± 0.05 mm",
    "thickness": "5 mm ± 0.02 mm",
    "material": STEEL,
}
BAR: dict[str, Any] = {"diameter": "30 mm ± 0.02 mm", "loaded in": "compression", "material": STEEL}


def strip(**changes: str) -> Cantilever:
    return Cantilever.model_validate(STRIP | {key.replace("_", " "): value for key, value in changes.items()})


def bar(**changes: str) -> Column:
    return Column.model_validate(BAR | {key.replace("_", " "): value for key, value in changes.items()})


def nominal(part: Cantilever | Column) -> list[float]:
    return [item.value for item in part.inputs()]


def skin_strain(moment: float, width: float, thickness: float, modulus: float) -> float:
    """Curvature that balances a moment, by summing 20 000 fibres; times the distance of the skin."""
    edges = np.linspace(-thickness / 2, thickness / 2, 20001)
    middle = (edges[1:] + edges[:-1]) / 2
    stiffness = float(np.sum(modulus * middle**2 * width * np.diff(edges)))
    return moment / stiffness * thickness / 2


def sag(load: float, length: float, width: float, thickness: float, modulus: float) -> float:
    """End deflection by integrating curvature twice along the strip."""
    x = np.linspace(0, length, 20001)
    curvature = load * (length - x) / (modulus * width * thickness**3 / 12)
    step = x[1]
    slope = np.concatenate([[0], np.cumsum((curvature[1:] + curvature[:-1]) / 2 * step)])
    return float(np.sum((slope[1:] + slope[:-1]) / 2 * step))


@pytest.mark.parametrize("load", [-30.0, 12.0, 80.0])
def test_cantilever_strain_is_that_of_the_fibres(load: float) -> None:
    length, distance, width, thickness, modulus, nu = nominal(strip())
    expected = skin_strain(load * (length - distance), width, thickness, modulus)
    top, bottom = (strip().strain(load, place, *nominal(strip())) for place in ("top", "bottom"))
    assert top == pytest.approx((expected, -nu * expected), rel=1e-6)
    assert bottom == pytest.approx((-expected, nu * expected), rel=1e-6)


def test_cantilever_sinks_as_its_curvature_says() -> None:
    length, _, width, thickness, modulus, _ = nominal(strip())
    assert strip().deflection_m(40.0) == pytest.approx(sag(40.0, length, width, thickness, modulus), rel=1e-6)


def test_cantilever_yields_at_the_clamp() -> None:
    part = strip()
    length, _, width, thickness, modulus, _ = nominal(part)
    strain = skin_strain(part.yield_load() * length, width, thickness, modulus)
    assert strain * modulus == pytest.approx(900e6, rel=1e-6)


def test_thickness_and_modulus_rule_the_budget_of_a_cantilever() -> None:
    estimate = Budget(lambda *values: strip().strain(40.0, "top", *values)[0], strip().inputs()).evaluate()
    first, second = sorted(estimate.lines, key=lambda line: -line.share)[:2]
    assert (first.input, second.input) == ("elastic modulus", "thickness")


@given(load=st.floats(-1e6, 1e6), factor=st.floats(-3, 3), hollow=st.booleans())
def test_column_strain_is_proportional_and_turns_with_the_place(load: float, factor: float, hollow: bool) -> None:
    part = bar(bore="12 mm") if hollow else bar()
    axial, around = part.strain(load, "axial", *nominal(part))
    assert part.strain(load, "around", *nominal(part)) == (around, axial)
    assert part.strain(load * factor, "axial", *nominal(part))[0] == pytest.approx(factor * axial, rel=1e-12, abs=1e-18)
    assert around == pytest.approx(-0.29 * axial, rel=1e-12, abs=1e-18)


def test_column_strain_is_that_of_summed_rings() -> None:
    """The force of uniform strain over 20 000 rings."""
    edges = np.linspace(6e-3, 15e-3, 20001)
    rings = np.pi * np.diff(edges**2)
    part = bar(bore="12 mm", loaded_in="tension")
    axial, _ = part.strain(50e3, "axial", *nominal(part))
    assert float(np.sum(axial * 206e9 * rings)) == pytest.approx(50e3, rel=1e-9)
    assert part.yield_load() == pytest.approx(float(900e6 * rings.sum()), rel=1e-9)


def test_a_column_gets_shorter_in_compression_and_longer_in_tension() -> None:
    assert bar().strain(1e3, "axial", *nominal(bar()))[0] < 0 < bar().strain(1e3, "around", *nominal(bar()))[0]
    assert bar(loaded_in="tension").strain(1e3, "axial", *nominal(bar()))[0] > 0


def test_arrays_give_what_numbers_give() -> None:
    rng = np.random.default_rng(8)
    for part, place in ((strip(), "bottom"), (bar(bore="12 mm"), "around")):
        inputs = [rng.uniform(0.98, 1.02, 20) * value for value in nominal(part)]
        rows = [[float(v) for v in row] for row in zip(*inputs, strict=True)]
        strains = np.array([part.strain(2e3, place, *row) for row in rows]).T
        assert np.array(part.strain(2e3, place, *inputs)) == pytest.approx(strains, rel=1e-12)


@pytest.mark.parametrize("part", [strip(), bar()])
def test_cautions_name_the_load_and_what_protects(part: Cantilever | Column) -> None:
    text = " ".join(part.cautions(0.5 * part.yield_load()))
    assert " is 50% of " in text
    for words in ("no protective device", "competent person", "keep hands and feet out", "Local law"):
        assert words in text
    assert part.cautions(1.1 * part.yield_load())[0].startswith("Do not go there")
    assert part.load_per_kelvin(1e3, *nominal(part)) == 0


def test_a_cantilever_that_sinks_far_says_that_the_theory_ends() -> None:
    soft = strip(thickness="1 mm")
    assert "does not hold" not in soft.cautions(1.0)[1]
    assert "The end sinks by 60.7 mm, 24.3% of the length: beam theory" in soft.cautions(5.0)[1]


@pytest.mark.parametrize("part", [strip(), bar()])
def test_another_place_is_refused(part: Cantilever | Column) -> None:
    with pytest.raises(NumberError, match=f"place = 'hoop': a {part.kind} has {part.places[0]} and {part.places[1]}"):
        part.strain(1.0, "hoop", *nominal(part))


@pytest.mark.parametrize(
    ("changes", "place", "message"),
    [
        ({"gauge_distance": "250 mm"}, "gauge distance", "is not below the length of '250 mm ± 0.5 mm'"),
        ({"thickness": "0 mm"}, "thickness", "reaches down to 0"),
        ({"width": "25 kg"}, "width", "kg"),
    ],
)
def test_a_strip_that_cannot_be_is_refused(changes: dict[str, str], place: str, message: str) -> None:
    with pytest.raises(ValidationError, match=message) as refused:
        strip(**changes)
    assert [error["loc"] for error in refused.value.errors()] == [(place,)]


@pytest.mark.parametrize(
    ("changes", "place", "message"),
    [
        ({"bore": "30 mm"}, "bore", "is not below the diameter of '30 mm ± 0.02 mm'"),
        ({"bore": "0 mm ± 1 mm"}, "bore", "reaches below 0; write the inside diameter"),
        ({"loaded_in": "bending"}, "loaded in", "'compression' or 'tension'"),
    ],
)
def test_a_column_that_cannot_be_is_refused(changes: dict[str, str], place: str, message: str) -> None:
    with pytest.raises(ValidationError, match=message) as refused:
        bar(**changes)
    assert [error["loc"] for error in refused.value.errors()] == [(place,)]
