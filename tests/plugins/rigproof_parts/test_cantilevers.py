"""Strips of constant section and of constant stress, against fibres and integrated curvature."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from rigproof.errors import NumberError
from rigproof.uncertainty import Budget
from rigproof_parts.cantilever import Cantilever, ConstantStressCantilever

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
TAPER: dict[str, Any] = {
    "length": "200 mm ± 0.5 mm",
    "root width": "40 mm ± 0.05 mm",
    "thickness": "3 mm ± 0.02 mm",
    "material": STEEL,
}


def strip(**changes: str) -> Cantilever:
    return Cantilever.model_validate(STRIP | {key.replace("_", " "): value for key, value in changes.items()})


def taper(**changes: str) -> ConstantStressCantilever:
    written = TAPER | {key.replace("_", " "): value for key, value in changes.items()}
    return ConstantStressCantilever.model_validate(written)


Strips = Cantilever | ConstantStressCantilever
BOTH: list[Strips] = [strip(), taper()]


def nominal(part: Strips) -> list[float]:
    return [item.value for item in part.inputs()]


def skin_strain(moment: float, width: float, thickness: float, modulus: float) -> float:
    """Curvature that balances a moment, by summing 20 000 fibres; times the distance of the skin."""
    edges = np.linspace(-thickness / 2, thickness / 2, 20001)
    middle = (edges[1:] + edges[:-1]) / 2
    stiffness = float(np.sum(modulus * middle**2 * width * np.diff(edges)))
    return moment / stiffness * thickness / 2


def sag(load: float, length: float, thickness: float, modulus: float, root: float, *, tapered: bool) -> float:
    """End deflection by integrating curvature twice along the strip (to just short of the tip)."""
    x = np.linspace(0, length * (1 - 1e-9), 20001)
    width = root * (1 - x / length) if tapered else np.full_like(x, root)
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


@pytest.mark.parametrize("place_share", [0.1, 0.5, 0.9])
def test_constant_stress_is_constant(place_share: float) -> None:
    """At every place along the strip the fibres of the width there strain alike."""
    length, root, thickness, modulus, nu = nominal(taper())
    x = place_share * length
    expected = skin_strain(15.0 * (length - x), root * (1 - x / length), thickness, modulus)
    top, bottom = (taper().strain(15.0, place, *nominal(taper())) for place in ("top", "bottom"))
    assert top == pytest.approx((expected, -nu * expected), rel=1e-6)
    assert bottom == pytest.approx((-expected, nu * expected), rel=1e-6)


def test_the_end_sinks_as_its_curvature_says() -> None:
    length, _, width, thickness, modulus, _ = nominal(strip())
    assert strip().deflection_m(40.0) == pytest.approx(
        sag(40, length, thickness, modulus, width, tapered=False), rel=1e-6
    )
    length, width, thickness, modulus, _ = nominal(taper())
    assert taper().deflection_m(40.0) == pytest.approx(
        sag(40, length, thickness, modulus, width, tapered=True), rel=1e-6
    )


def test_yield_starts_at_the_clamp() -> None:
    part = strip()
    length, _, width, thickness, modulus, _ = nominal(part)
    strain = skin_strain(part.yield_load() * length, width, thickness, modulus)
    assert strain * modulus == pytest.approx(900e6, rel=1e-6)
    along = float(taper().strain(taper().yield_load(), "top", *nominal(taper()))[0])
    assert along * 206e9 == pytest.approx(900e6, rel=1e-12)


def test_thickness_and_modulus_rule_the_budget_of_a_cantilever() -> None:
    estimate = Budget(lambda *values: strip().strain(40.0, "top", *values)[0], strip().inputs()).evaluate()
    first, second = sorted(estimate.lines, key=lambda line: -line.share)[:2]
    assert (first.input, second.input) == ("elastic modulus", "thickness")


def test_the_inputs_have_the_names_of_the_rig() -> None:
    assert [item.name for item in strip().inputs()] == [
        *("length", "gauge distance", "width", "thickness"),
        *("elastic modulus", "poisson ratio"),
    ]
    assert [item.name for item in taper().inputs()] == [
        *("length", "root width", "thickness", "elastic modulus", "poisson ratio")
    ]


@given(load=st.floats(-1e3, 1e3), factor=st.floats(-3, 3), which=st.sampled_from([0, 1]))
def test_strain_is_proportional_to_load(load: float, factor: float, which: int) -> None:
    part = BOTH[which]
    once = np.array(part.strain(load, "top", *nominal(part)))
    assert np.array(part.strain(factor * load, "top", *nominal(part))) == pytest.approx(factor * once, rel=1e-12)


@given(scale=st.floats(0.1, 10), which=st.sampled_from([0, 1]))
def test_a_model_of_the_strip_strains_alike(scale: float, which: int) -> None:
    """All lengths times s and the load times s²: the same strain; in newton and millimetre as in pound and inch."""
    part = BOTH[which]
    *sizes, modulus, nu = nominal(part)
    small = part.strain(20.0, "top", *sizes, modulus, nu)
    large = part.strain(20.0 * scale**2, "top", *(scale * size for size in sizes), modulus, nu)
    assert large == pytest.approx(small, rel=1e-12)
    pound, inch = 4.4482216, 0.0254
    assert part.strain(20 / pound, "top", *(s / inch for s in sizes), modulus * inch**2 / pound, nu) == pytest.approx(
        small
    )


@given(modulus=st.floats(1e9, 1e12))
def test_the_modulus_cancels_between_strain_and_deflection(modulus: float) -> None:
    material = STEEL | {"elastic modulus": f"{modulus:.0f} Pa"}
    for part in (Cantilever.model_validate(STRIP | {"material": material}), taper()):
        force = 2e-3 / part.deflection_m(1.0)
        reference = type(part).model_validate((STRIP if isinstance(part, Cantilever) else TAPER) | {"material": STEEL})
        other = 2e-3 / reference.deflection_m(1.0)
        found = part.strain(force, "top", *nominal(part))[0]
        assert found == pytest.approx(reference.strain(other, "top", *nominal(reference))[0], rel=1e-9)


def test_arrays_give_what_numbers_give() -> None:
    rng = np.random.default_rng(8)
    for part in BOTH:
        inputs = [rng.uniform(0.98, 1.02, 20) * value for value in nominal(part)]
        rows = [[float(v) for v in row] for row in zip(*inputs, strict=True)]
        strains = np.array([part.strain(2e3, "bottom", *row) for row in rows]).T
        assert np.array(part.strain(2e3, "bottom", *inputs)) == pytest.approx(strains, rel=1e-12)


@pytest.mark.parametrize("part", BOTH)
def test_cautions_name_the_load_and_what_protects(part: Strips) -> None:
    text = " ".join(part.cautions(0.5 * part.yield_load()))
    assert " is 50 % of " in text
    for words in ("no protective device", "competent person", "keep hands and feet out", "Local law"):
        assert words in text
    assert part.cautions(1.1 * part.yield_load())[0].startswith("Do not go there")
    assert part.load_per_kelvin(1e3, *nominal(part)) == 0


def test_a_strip_that_sinks_far_says_that_the_theory_ends() -> None:
    soft = strip(thickness="1 mm")
    assert soft.cautions(1.0)[1] == "The end sinks by 12.1 mm, 4.9 % of the length."
    assert soft.cautions(5.0)[1] == (
        "The end sinks by 60.7 mm, 24.3 % of the length: beam theory for small deflections does not hold."
    )
    assert soft.cautions(-5.0)[1].startswith("The end sinks by -60.7 mm, 24.3 % of the length: beam")


def test_the_deflection_is_a_fact() -> None:
    *_, last = strip(thickness="1 mm").facts(-5.0)
    assert (last.name, last.kind, last.note) == ("deflection of the end", "length", "24.27 % of the length")
    assert last.value == pytest.approx(-0.060679, rel=1e-4)
    *_, last = taper().facts(10.0)
    assert last.note == "1.08 % of the length"


@pytest.mark.parametrize("part", BOTH)
def test_another_place_is_refused(part: Strips) -> None:
    with pytest.raises(NumberError, match=f"place = 'hoop': a {part.kind} has top and bottom; write one of them"):
        part.strain(1.0, "hoop", *nominal(part))


REFUSED: list[tuple[dict[str, str], str, str]] = [
    ({"gauge_distance": "250 mm"}, "gauge distance", "'250 mm' is not below the length of '250 mm ± 0.5 mm', limits i"),
    ({"gauge_distance": "249 mm ± 0.5 mm"}, "gauge distance", "is not below the length"),
    ({"gauge_distance": "5 mm"}, "gauge distance", "'5 mm' puts the grid less than one thickness of '5 mm ± 0.02 mm'"),
    ({"gauge_distance": "244.6 mm"}, "gauge distance", "from clamp or load, .*; bond the gauge farther from both"),
    ({"thickness": "0 mm"}, "thickness", "reaches down to 0"),
    (
        {"thickness": "25 mm"},
        "thickness",
        "gives length/thickness = 9.98, limits included, and beam theory holds from 10 ",
    ),
    ({"width": "25 kg"}, "width", "kg"),
]


@pytest.mark.parametrize(("changes", "place", "message"), REFUSED)
def test_a_strip_that_cannot_be_is_refused(changes: dict[str, str], place: str, message: str) -> None:
    with pytest.raises(ValidationError, match=message) as refused:
        strip(**changes)
    assert [error["loc"] for error in refused.value.errors()] == [(place,)]


def test_what_just_may_be_is_taken() -> None:
    assert strip(gauge_distance="5.02 mm").gauge_distance.value == pytest.approx(5.02e-3)
    assert strip(gauge_distance="244.479 mm").gauge_distance.value == pytest.approx(244.479e-3)
    assert strip(length="250 mm", thickness="25 mm").thickness.value == 25e-3
    with pytest.raises(ValidationError, match=r"length/thickness = 9\.98"):
        taper(length="199.6 mm", thickness="20 mm")


def test_one_wrong_length_hides_no_other_fault() -> None:
    with pytest.raises(ValidationError) as refused:
        strip(length="-1 mm", width="0 mm", thickness="300 mm", gauge_distance="1 mm")
    assert [error["loc"] for error in refused.value.errors()] == [("length",), ("width",)]
    assert strip(gauge_distance="60 mm").gauge_distance.text == "60 mm"
    with pytest.raises(ValidationError) as refused:
        taper(length="-1 mm", root_width="0 mm")
    assert [error["loc"] for error in refused.value.errors()] == [("length",), ("root width",)]
    with pytest.raises(ValidationError) as refused:
        strip(thickness="1 s", gauge_distance="250 mm")
    assert [error["loc"] for error in refused.value.errors()] == [("thickness",), ("gauge distance",)]
