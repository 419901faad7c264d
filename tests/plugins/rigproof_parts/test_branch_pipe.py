"""The pipe with a branch: local stresses by factors, against Hooke's law elsewhere, and the plain pipe as a limit."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.errors import NumberError
from rigproof.uncertainty import Input
from rigproof_parts.branch_pipe import DIRECTIONS, BranchPipe
from rigproof_parts.cylinder import Cylinder

Branch = Callable[..., BranchPipe]
Pipe = Callable[..., Cylinder]
FACTORS = st.floats(-5, 5).map(lambda factor: round(factor, 3))
PRESSURE = 30e5


def nominal(part: Cylinder) -> list[float]:
    return [item.value for item in part.inputs()]


def at(part: BranchPipe, direction: str, load: float = PRESSURE) -> tuple[float, float]:
    along, across = part.strain(load, f"flank {direction}", *nominal(part))
    return float(along), float(across)


def hoop_of_thick_wall(part: Cylinder, surface: str) -> float:
    """Lame (Timoshenko and Goodier, art. 28; from memory), per pressure, from the radii."""
    b = part.outside_diameter.value / 2
    a = b - part.wall.value
    r = b if surface == "outside" else a
    return a**2 / (b**2 - a**2) * (1 + (b / r) ** 2)


@pytest.mark.parametrize("ends", ["closed", "open", "fixed"])
@pytest.mark.parametrize("theory", ["thick", "thin"])
def test_factors_of_one_and_a_half_are_the_plain_closed_pipe(
    branch: Branch, pipe: Pipe, theory: str, ends: str
) -> None:
    part, plain = branch(("1.0", "0.5"), theory=theory, ends=ends), pipe(theory=theory, ends="closed")
    for direction, place in zip(DIRECTIONS, ("hoop", "45°", "axial"), strict=True):
        assert at(part, direction) == pytest.approx(plain.strain(PRESSURE, place, *nominal(plain)), rel=1e-14)


@pytest.mark.parametrize("place", ["hoop", "45°", "axial"])
def test_the_shell_beside_it_is_that_of_the_cylinder(branch: Branch, pipe: Pipe, place: str) -> None:
    part, plain = branch(("2.4", "1.9")), pipe()
    assert part.strain(PRESSURE, place, *nominal(part)) == plain.strain(PRESSURE, place, *nominal(plain))
    assert part.volume_strain(PRESSURE, *nominal(part)) == plain.volume_strain(PRESSURE, *nominal(plain))
    assert part.load_per_kelvin(PRESSURE, *nominal(part)) == plain.load_per_kelvin(PRESSURE, *nominal(plain))


def test_inside_the_axial_share_of_the_bore_is_the_plain_pipe(branch: Branch, pipe: Pipe) -> None:
    plain = pipe(gauge_surface="inside")
    b = plain.outside_diameter.value / 2
    share = 1 / (1 + (b / (b - plain.wall.value)) ** 2)  # axial over hoop stress at the bore of a closed end, Lame
    part = branch(("1.0", str(share)), surface="inside", gauge_surface="inside")
    assert at(part, "normal") == pytest.approx(plain.strain(PRESSURE, "hoop", *nominal(plain)), rel=1e-12)


def test_strains_are_those_printed_by_a_textbook(branch: Branch) -> None:
    """Hibbeler, Mechanics of Materials, 8th ed., example 10.9: 62.0 and 25.4 MPa with 272 and 33.8 µε in E = 200 GPa.

    Seen in a companion to the book (textbook-examples.json, T-ROS-02); stresses printed to 0.1 MPa.
    """
    material = {"name": "carbon steel", "elastic modulus": "200 GPa ± 2 %", "poisson ratio": "0.3 ± 0.01"}
    part = branch(("6.20", "2.54"), material=material)
    load = 10e6 / hoop_of_thick_wall(part, "outside")
    assert at(part, "normal", load) == pytest.approx((272e-6, 33.8e-6), abs=0.05e6 * 1.3 / 200e9 + 0.05e-6)


@given(normal=FACTORS, tangential=FACTORS)
def test_stresses_come_back_out_of_the_strains(branch: Branch, normal: float, tangential: float) -> None:
    """Plane stress solved by numpy: s = E/(1 - nu²) [[1, nu], [nu, 1]] e; the turned tensor gives the 45° strain."""
    part = branch((str(normal), str(tangential)))
    nu, modulus = part.material.poisson_ratio.value, part.material.elastic_modulus.value
    first, second = at(part, "normal")
    stiffness = modulus / (1 - nu**2) * np.array([[1, nu], [nu, 1]])
    hoop = PRESSURE * hoop_of_thick_wall(part, "outside")
    assert stiffness @ [first, second] == pytest.approx([normal * hoop, tangential * hoop], abs=1e-3)
    turn = np.array([[1, 1], [-1, 1]]) / np.sqrt(2)
    turned = turn @ np.diag([first, second]) @ turn.T
    assert at(part, "45°") == pytest.approx((turned[0, 0], turned[1, 1]), abs=1e-15)
    assert at(part, "tangential") == (second, first)


@given(normal=FACTORS, tangential=FACTORS, surface=st.sampled_from(["outside", "inside"]))
def test_yield_is_that_of_the_most_stressed_point(
    branch: Branch, pipe: Pipe, normal: float, tangential: float, surface: str
) -> None:
    """Von Mises as sqrt(3 J2) of the stress tensor, in the bore of the shell and at the point."""
    part = branch((str(normal), str(tangential)), surface=surface)
    hoop = hoop_of_thick_wall(part, surface)
    tensor = np.diag([normal * hoop, tangential * hoop, 0.0 if surface == "outside" else -1.0])
    deviator = tensor - np.trace(tensor) / 3 * np.eye(3)
    local = np.sqrt(1.5 * np.sum(deviator**2))
    shell = 235e6 / pipe().yield_load()
    assert part.yield_load() == pytest.approx(235e6 / max(local, shell), rel=1e-9)
    assert part.yield_load() <= pipe().yield_load()


def test_a_point_that_yields_first_limits_the_proof_and_the_yield_strain(branch: Branch, pipe: Pipe) -> None:
    part = branch(("1.9", "2.4"))
    assert part.proof_limit() == pytest.approx(0.9 * part.yield_load())
    assert part.yield_load() < 0.5 * pipe().yield_load()
    along, across = part.nominal_strain("flank tangential")
    modulus, nu = part.material.elastic_modulus.value, part.material.poisson_ratio.value
    s1, s2 = modulus / (1 - nu**2) * (along + nu * across), modulus / (1 - nu**2) * (across + nu * along)
    assert np.sqrt(s1**2 - s1 * s2 + s2**2) == pytest.approx(235e6, rel=1e-9)


def test_factors_are_inputs_with_their_place_and_source(branch: Branch) -> None:
    part = branch(("2.4 ± 15 %", "-0.2 ± 0.1"))
    normal, tangential = part.inputs()[-2:]
    assert (normal.name, tangential.name) == ("flank normal", "flank tangential")
    assert (normal.u, tangential.u) == pytest.approx((0.36 / np.sqrt(3), 0.1 / np.sqrt(3)))
    assert part.source_of("part", "flank normal") == "rig.yaml: part.branch.flank.normal (report 7)"
    assert part.source_of("part", "wall") == "rig.yaml: part.wall"
    assert part.source_of("part", "crotch normal") == ""


def test_each_point_uses_its_own_factors(branch: Branch) -> None:
    other = {"normal": "3.0 ± 10 %", "tangential": "0.5 ± 10 %", "source": "report 8"}
    part, alone = branch(("2.4", "1.9"), more={"crotch": other}), branch(("3.0", "0.5"))
    inputs: tuple[Input, ...] = part.inputs()
    assert [item.name for item in inputs[-4:]] == [
        "flank normal",
        "flank tangential",
        "crotch normal",
        "crotch tangential",
    ]
    assert part.strain(PRESSURE, "crotch normal", *nominal(part)) == at(alone, "normal")


def test_each_point_yields_by_its_own_factors(branch: Branch) -> None:
    crotch = {"normal": "3.0 ± 10 %", "tangential": "0.5 ± 10 %", "source": "report 8"}
    neck = {"normal": "0 ± 1", "tangential": "0 ± 1", "source": "report 9"}  # nominally without stress: it never yields
    part = branch(("1.2", "1.0"), more={"neck": neck, "crotch": crotch})
    facts = {fact.name: fact.value for fact in part.facts(PRESSURE)}
    assert facts["first yield at crotch"] == branch(("3.0", "0.5")).yield_load() == part.yield_load()
    assert facts["first yield at neck"] == np.inf
    highest = branch(("3.3", "0.45")).yield_load()
    assert f"At the branch {highest / 1e5:.4g} bar may be enough" in part.cautions(PRESSURE)[0]


def test_plan_prints_yield_of_each_point_and_what_a_membrane_stress_counts(branch: Branch) -> None:
    corner = {"normal": "2 ± 10 %", "tangential": "0 ± 0.1", "surface": "inside", "source": "report 8"}
    part = branch(("2.4 ± 15 %", "1.9 ± 15 %"), volume="20 l", more={"corner": corner})
    facts = {fact.name: fact for fact in part.facts(PRESSURE)}
    assert facts["first yield at flank"].value == pytest.approx(part.yield_load())
    assert facts["first yield at flank"].note == "nominal values; report 7"
    d, t = part.outside_diameter.value - part.wall.value, part.wall.value
    for side in ("outside", "inside"):
        membrane = d / (2 * t) / hoop_of_thick_wall(part, side)
        assert facts[f"p Dm/2t over the hoop stress {side}"].value == pytest.approx(membrane)
    assert facts["energy stored in the water"].value > 0
    said = part.cautions(PRESSURE)
    lowest = branch((str(2.4 * 1.15), str(1.9 * 0.85))).yield_load()  # apart, both stresses of one sign count most
    other = branch((str(2.4 * 1.15), str(1.9 * 1.15))).yield_load()
    assert f"At the branch {min(lowest, other) / 1e5:.4g} bar may be enough for first yield" in said[0]
    assert "inside, at the corner of the opening" in said[1]


@pytest.mark.parametrize("place", ["flank", "flank hoop", "crotch normal", "normal"])
def test_other_places_are_refused(branch: Branch, place: str) -> None:
    part = branch(("2.4", "1.9"))
    with pytest.raises(NumberError, match=r"place = '.*': a branch pipe has hoop, 45°, axial, flank normal"):
        part.strain(PRESSURE, place, *nominal(part))
