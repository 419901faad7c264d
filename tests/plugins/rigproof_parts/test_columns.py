"""Round and rectangular columns, against sums over the section."""

from __future__ import annotations

from math import pi, sqrt
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from rigproof.errors import NumberError
from rigproof_parts.column import Column, RectangularColumn

STEEL = {
    "name": "spring steel",
    "elastic modulus": "206 GPa ± 1 %",
    "poisson ratio": "0.29 ± 0.01",
    "expansion": "11.7 ppm/K",
    "yield strength": "900 MPa",
}
BAR: dict[str, Any] = {"diameter": "30 mm ± 0.02 mm", "loaded in": "compression", "material": STEEL}
BLOCK: dict[str, Any] = {"width": "20 mm", "depth": "30 mm", "loaded in": "compression", "material": STEEL}


def bar(**changes: str) -> Column:
    return Column.model_validate(BAR | {key.replace("_", " "): value for key, value in changes.items()})


def block(**changes: str) -> RectangularColumn:
    return RectangularColumn.model_validate(BLOCK | {key.replace("_", " "): value for key, value in changes.items()})


Columns = Column | RectangularColumn


def nominal(part: Columns) -> list[float]:
    return [item.value for item in part.inputs()]


def summed(part: Columns, load: float, place_of_force: float) -> tuple[float, float]:
    """Stress on the loaded and on the opposite skin: a plane of strain that balances force and moment, cell by cell."""
    sizes = nominal(part)[:2]
    half = (sizes[0] if isinstance(part, Column) else sizes[1]) / 2
    y = (np.arange(2000) + 0.5) / 2000 * 2 * half - half
    if isinstance(part, Column):
        chord = 2 * np.sqrt(np.maximum(half**2 - y**2, 0)) - 2 * np.sqrt(np.maximum((sizes[1] / 2) ** 2 - y**2, 0))
    else:
        chord = np.full_like(y, sizes[0])
    area = chord * (y[1] - y[0])
    system = np.array([[area.sum(), (area * y).sum()], [(area * y).sum(), (area * y**2).sum()]])
    mean, slope = np.linalg.solve(system, [load, load * place_of_force])
    return float(mean + slope * half), float(mean - slope * half)


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


@pytest.mark.parametrize("part", [bar(), bar(bore="12 mm"), block()], ids=["solid", "hollow", "rectangle"])
@pytest.mark.parametrize("off_mm", [0.0, 1.5, 7.0])
def test_a_force_off_the_axis_bends(part: Columns, off_mm: float) -> None:
    numbers = nominal(part)
    numbers[2] = off_mm / 1000
    near, far = summed(part, -40e3, off_mm / 1000)
    for place, stress in (("loaded side", near), ("opposite side", far)):
        along, across = (float(e) for e in part.strain(40e3, place, *numbers))
        assert along * 206e9 == pytest.approx(stress, rel=1e-4)
        assert across == pytest.approx(-0.29 * along, rel=1e-12)
    both = [float(part.strain(40e3, place, *numbers)[0]) for place in ("loaded side", "opposite side")]
    assert sum(both) / 2 == pytest.approx(float(part.strain(40e3, "axial", *numbers)[0]), rel=1e-12)


@pytest.mark.parametrize("part", [bar(eccentricity="2 mm ± 0.5 mm", bore="12 mm"), block(eccentricity="2 mm ± 1 mm")])
def test_yield_starts_on_the_loaded_side(part: Columns) -> None:
    along, _ = part.strain(part.yield_load(), "loaded side", *nominal(part))
    assert abs(float(along)) * 206e9 == pytest.approx(900e6, rel=1e-12)


def test_a_column_gets_shorter_in_compression_and_longer_in_tension() -> None:
    for part, pulled in ((bar(), bar(loaded_in="tension")), (block(), block(loaded_in="tension"))):
        assert part.strain(1e3, "axial", *nominal(part))[0] < 0 < part.strain(1e3, "around", *nominal(part))[0]
        assert pulled.strain(1e3, "axial", *nominal(pulled))[0] > 0


def test_the_inputs_have_the_names_of_the_rig() -> None:
    rest = ["eccentricity", "elastic modulus", "poisson ratio"]
    assert [item.name for item in bar().inputs()] == ["diameter", "bore", *rest]
    assert [item.name for item in block().inputs()] == ["width", "depth", *rest]


@given(scale=st.floats(0.1, 10))
def test_a_model_of_the_bar_strains_alike(scale: float) -> None:
    """All lengths times s and the load times s²."""
    for part in (bar(bore="12 mm", eccentricity="2 mm"), block(eccentricity="2 mm")):
        *sizes, modulus, nu = nominal(part)
        small = part.strain(9e3, "loaded side", *sizes, modulus, nu)
        large = part.strain(9e3 * scale**2, "loaded side", *(scale * size for size in sizes), modulus, nu)
        assert large == pytest.approx(small, rel=1e-12)


def test_arrays_give_what_numbers_give() -> None:
    rng = np.random.default_rng(8)
    for part in (bar(bore="12 mm", eccentricity="1 mm"), block(eccentricity="1 mm")):
        inputs = [rng.uniform(0.98, 1.02, 20) * value for value in nominal(part)]
        rows = [[float(v) for v in row] for row in zip(*inputs, strict=True)]
        for place in part.places:
            strains = np.array([part.strain(2e3, place, *row) for row in rows]).T
            assert np.array(part.strain(2e3, place, *inputs)) == pytest.approx(strains, rel=1e-12)


@pytest.mark.parametrize("part", [bar(), block()])
def test_cautions_name_the_load_and_what_protects(part: Columns) -> None:
    text = " ".join(part.cautions(0.5 * part.yield_load()))
    assert " is 50 % of " in text
    for words in ("no protective device", "competent person", "keep hands and feet out", "Local law"):
        assert words in text
    assert part.cautions(1.1 * part.yield_load())[0].startswith("Do not go there")
    assert part.load_per_kelvin(1e3, *nominal(part)) == 0


@pytest.mark.parametrize("part", [bar(), block()])
def test_another_place_is_refused(part: Columns) -> None:
    message = f"place = 'hoop': a {part.kind} has axial, around, loaded side, opposite side; write one of them"
    with pytest.raises(NumberError, match=message):
        part.strain(1.0, "hoop", *nominal(part))


ROUND: list[tuple[dict[str, str], str, str]] = [
    (
        {"bore": "30 mm"},
        "bore",
        "'30 mm' is not below the diameter of '30 mm ± 0.02 mm', limits included; write the ins",
    ),
    ({"bore": "29.98 mm"}, "bore", "is not below the diameter"),
    ({"bore": "0 mm ± 1 mm"}, "bore", "'0 mm ± 1 mm' reaches below 0; write the inside diameter, or leave it out"),
    ({"loaded_in": "bending"}, "loaded in", "'compression' or 'tension'"),
    ({"eccentricity": "-1 mm"}, "eccentricity", "at least 0 mm"),
    ({"eccentricity": "14 mm ± 1 mm"}, "eccentricity", "is more than half of '30 mm ± 0.02 mm', .*; write how far"),
    (
        {"length": "60 mm"},
        "length",
        "'60 mm' is less than twice the size of '30 mm ± 0.02 mm', .* both ends; take a long",
    ),
    (
        {"length": "400 mm"},
        "length",
        "slenderness of 53.33 .*, and above 47.29 the bar buckles .*; take a shorter or thick",
    ),
    ({"length": "0 mm"}, "length", "reaches down to 0"),
]
FLAT: list[tuple[dict[str, str], str, str]] = [
    ({"eccentricity": "15.1 mm"}, "eccentricity", "'15.1 mm' is more than half of '30 mm'"),
    ({"length": "59.9 mm"}, "length", "is less than twice the size of '30 mm'"),
    ({"length": "280 mm"}, "length", "slenderness of 48.5 "),
    ({"depth": "0 mm"}, "depth", "reaches down to 0"),
]


@pytest.mark.parametrize(("changes", "place", "message"), ROUND)
def test_a_round_bar_that_cannot_be_is_refused(changes: dict[str, str], place: str, message: str) -> None:
    with pytest.raises(ValidationError, match=message) as refused:
        bar(**changes)
    assert [error["loc"] for error in refused.value.errors()] == [(place,)]


@pytest.mark.parametrize(("changes", "place", "message"), FLAT)
def test_a_block_that_cannot_be_is_refused(changes: dict[str, str], place: str, message: str) -> None:
    with pytest.raises(ValidationError, match=message) as refused:
        block(**changes)
    assert [error["loc"] for error in refused.value.errors()] == [(place,)]


def test_the_slenderness_is_that_of_euler() -> None:
    """At the longest length allowed the load of Euler, pi² E I/L², is the one at which the bar yields."""
    stiff = 206e9 * 0.99  # the lower limit
    for part, inertia, area in (
        (bar(bore="12 mm"), pi / 64 * (0.03**4 - 0.012**4), pi / 4 * (0.03**2 - 0.012**2)),
        (block(), 0.03 * 0.02**3 / 12, 0.02 * 0.03),
    ):
        longest = sqrt(pi**2 * stiff * inertia / (900e6 * area))
        written = part.model_dump(by_alias=True, exclude={"length"}) | {"material": STEEL}
        assert type(part).model_validate(written | {"length": f"{longest * 1e3 * 0.9999:.4f} mm"}).length is not None
        with pytest.raises(ValidationError, match="buckles"):
            type(part).model_validate(written | {"length": f"{longest * 1e3 * 1.0001:.4f} mm"})


def test_what_just_may_be_is_taken() -> None:
    for part in (bar(length="60.04 mm"), bar(eccentricity="14.99 mm"), block(length="60 mm", eccentricity="15 mm")):
        assert part.length is None or part.length.value > 0.05
    assert bar(length="4 m", loaded_in="tension").length is not None  # nothing buckles in tension


def test_one_wrong_size_hides_no_other_fault() -> None:
    for written, places in (
        ({"diameter": "30 s", "bore": "40 mm", "eccentricity": "40 mm", "length": "1 mm"}, [("diameter",)]),
        ({"bore": "40 mm", "length": "40 mm", "eccentricity": "99 mm"}, [("bore",), ("eccentricity",)]),
        ({"material": "unknown", "length": "900 mm"}, [("material",)]),
        ({"loaded_in": "bending", "length": "900 mm"}, [("loaded in",)]),
    ):
        with pytest.raises(ValidationError) as refused:
            bar(**written)
        assert [error["loc"] for error in refused.value.errors()] == places
    for written, places in (
        ({"width": "0 mm", "length": "1 mm"}, [("width",)]),
        ({"depth": "0 mm", "length": "1 mm", "eccentricity": "90 mm"}, [("depth",)]),
    ):
        with pytest.raises(ValidationError) as refused:
            block(**written)
        assert [error["loc"] for error in refused.value.errors()] == places
