"""Cantilevers, columns and force cells of textbooks and courses."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from rigproof_parts.cantilever import Cantilever, ConstantStressCantilever
from rigproof_parts.column import Column, RectangularColumn
from rigproof_parts.force_cell import ForceCell
from rigproof_twin.physics.cantilever import CantileverBeam

Case = Callable[[str], Any]

MATERIAL = {
    "name": "of the example",
    "elastic modulus": "207 GPa",
    "poisson ratio": "0.3",
    "expansion": "11.7 ppm/K",
    "yield strength": "235 MPa",
}


def cantilever(length_mm: float, width_mm: float, thickness_mm: float, strength: str = "235 MPa") -> Cantilever:
    sizes = {"length": f"{length_mm} mm", "width": f"{width_mm} mm", "thickness": f"{thickness_mm} mm"}
    material = MATERIAL | {"yield strength": strength}
    return Cantilever.model_validate(sizes | {"gauge distance": f"{length_mm / 3} mm", "material": material})


def rectangle(**changes: str) -> RectangularColumn:
    sizes = {"width": "20 mm", "depth": "30 mm", "loaded in": "compression", "material": MATERIAL}
    return RectangularColumn.model_validate(sizes | changes)


def rod() -> Column:
    return Column.model_validate({"diameter": "30 mm", "loaded in": "tension", "material": MATERIAL})


def test_cantilever_strip(mechanics_case: Case) -> None:
    case = mechanics_case("BEM-02")
    length, distance, width, thickness = (case.inputs[key] * 1e-3 for key in ("L", "x_gauge", "b", "h"))
    part = cantilever(300, 25, 6)
    found, _ = part.strain(case.inputs["P"], "top", length, distance, width, thickness, case.inputs["E"] * 1e9, 0.3)
    case.check(eps=found * 1e6)


def test_force_on_a_cantilever_from_its_strain(mechanics_case: Case) -> None:
    """Four active gauges: strain = output/factor."""
    case = mechanics_case("BEM-01")
    length, width, thickness = (case.inputs[key] * 1e-3 for key in ("L", "b", "t"))
    per_newton, _ = cantilever(50, 10, 1).strain(1.0, "top", length, 0.0, width, thickness, case.inputs["E"] * 1e9, 0.3)
    strain = case.inputs["out"] * 1e-3 / case.inputs["V"] / case.inputs["F"]
    case.check(P=strain / per_newton, eps=strain * 1e6)


def test_gauge_factor_from_a_deflection_Sawhney_5_14(mechanics_case: Case) -> None:
    """The modulus cancels: the force of the deflection gives the strain 150 mm from the end."""
    case = mechanics_case("T-GF-01")
    given = case.inputs
    part = cantilever(given["L"], given["b"], given["h"])
    force = given["deflection"] * 1e-3 / part.deflection_m(1.0)
    length, arm, width, thickness = (given[key] * 1e-3 for key in ("L", "arm", "b", "h"))
    strain, _ = part.strain(force, "top", length, length - arm, width, thickness, 207e9, 0.3)
    case.check(strain=strain * 1e6, GF=given["dR"] / given["R"] / strain, strain_from_3h_delta_x_over_2L3=strain * 1e6)


def test_the_twin_s_own_beam_bends_like_the_strip(mechanics_case: Case) -> None:
    """The twin solves for the deflection line; the printed strain is that of the flexure formula."""
    case = mechanics_case("BEM-02")
    length, distance, width, thickness = (case.inputs[key] * 1e-3 for key in ("L", "x_gauge", "b", "h"))
    strip = CantileverBeam(length, width, thickness, distance, case.inputs["E"] * 1e9, 0.3, 11.7e-6, 235e6)
    case.check(eps=strip.strain_per_n * case.inputs["P"] * 1e6)


def test_gauge_factor_from_the_deflection_of_the_twin_s_own_beam_Sawhney_5_14(mechanics_case: Case) -> None:
    case = mechanics_case("T-GF-01")
    given = case.inputs
    length, arm, width, thickness = (given[key] * 1e-3 for key in ("L", "arm", "b", "h"))
    beam = CantileverBeam(length, width, thickness, length - arm, 207e9, 0.3, 11.7e-6, 235e6)
    strain = beam.strain_per_n * given["deflection"] * 1e-3 / beam.deflection_per_n(length)
    case.check(strain=strain * 1e6, GF=given["dR"] / given["R"] / strain)


def test_moment_at_yield_of_a_bar_Beer_Johnston_4_1(mechanics_case: Case) -> None:
    case = mechanics_case("E-BEE-4.1")
    width, depth, strength = case.inputs.values()
    part = cantilever(1000, width * 25.4, depth * 25.4, f"{strength} ksi")
    inch_kip = 25.4e-3 * 4448.2216
    case.check(moment_kip_in=part.yield_load() * 1.0 / inch_kip)


def test_constant_stress_has_the_strain_of_its_deflection() -> None:
    """e = h d/L² (trade.md 3): 3 mm thick, 200 mm long, end down by 5 mm; E and width cancel."""
    sizes = {"length": "200 mm", "root width": "40 mm", "thickness": "3 mm"}
    part = ConstantStressCantilever.model_validate(sizes | {"material": MATERIAL})
    force = 5e-3 / part.deflection_m(1.0)
    strain, _ = part.strain(force, "top", *(item.value for item in part.inputs()))
    assert strain == pytest.approx(3e-3 * 5e-3 / 0.2**2, rel=1e-12)


def test_titanium_column_with_its_bridge(mechanics_case: Case) -> None:
    """Axial and transverse gauges in all arms: output = F (e - et)/(2 (2 + F (e + et)/...)), by dividers here."""
    case = mechanics_case("BEM-04")
    given = case.inputs
    sizes = (20e-3, 30e-3, 0.0, given["E"] * 1e9, given["nu"])
    assert given["A"] == pytest.approx(600)
    axial, around = rectangle().strain(-given["P"] * 1e3, "axial", *sizes)
    arms = [1 + given["F"] * strain for strain in (axial, around, axial, around)]
    output = arms[0] / (arms[0] + arms[1]) - arms[3] / (arms[2] + arms[3])
    case.check(eps_axial=axial * 1e6, out=output * 1e3)


def test_bending_beside_axial_strain_of_a_column(mechanics_case: Case) -> None:
    """Two opposite gauges: their mean is axial, their half difference bending; here the model gives both gauges."""
    case = mechanics_case("BEM-06")
    mean, half = 1000e-6, 180e-6
    depth = 0.03
    eccentricity = half / mean * depth / 6
    numbers = (0.02, depth, eccentricity, 200e9, 0.3)
    load = mean * 0.02 * depth * 200e9
    sides = [
        rectangle(**{"loaded in": "tension"}).strain(load, place, *numbers)[0] * 1e6
        for place in ("loaded side", "opposite side")
    ]
    assert sides == pytest.approx([case.inputs["e_top"], case.inputs["e_bottom"]])
    case.check(axial=sum(sides) / 2, bending=(sides[0] - sides[1]) / 2)


def test_open_link_of_a_chain_Beer_Johnston_4_7(mechanics_case: Case) -> None:
    case = mechanics_case("E-BEE-4.7")
    diameter, force, off_axis = case.inputs.values()
    numbers = (diameter, 0.0, off_axis, 1.0, 0.3)  # modulus 1: strain is stress
    centre, most, least = (
        float(rod().strain(force, place, *numbers)[0]) for place in rod().places if place != "around"
    )
    case.check(centre_psi=centre, bending_psi=most - centre, most_psi=most, least_psi=least)


def test_force_on_the_edge_of_a_block_Hibbeler_8_2(mechanics_case: Case) -> None:
    """Pressures count as positive."""
    case = mechanics_case("E-HIB-8.2")
    force, width, depth = case.inputs.values()
    numbers = (width * 1e-3, depth * 1e-3, depth / 2 * 1e-3, 1e6, 0.3)
    part = rectangle()
    axial, near, far = (-float(part.strain(force, place, *numbers)[0]) for place in part.places if place != "around")
    case.check(axial_mpa=axial, bending_mpa=near - axial, near_mpa=near, far_mpa=far)


def test_bar_under_tension_Megson_1_7(mechanics_case: Case) -> None:
    """The axial gauge of the bar under tension and torque: 1000 µε on 50 mm of 70 GPa is 137.4 kN."""
    case = mechanics_case("T-ROS-03")
    given = case.inputs
    per_newton, _ = rod().strain(1.0, "axial", given["d"] * 1e-3, 0.0, 0.0, given["E"] * 1e6, given["nu"])
    case.check(P=given["e_0deg"] * 1e-6 / per_newton / 1e3)


def test_creep_limits_of_a_class_c3_cell_hold_the_scale_of_its_output(mechanics_case: Case) -> None:
    """OIML R 60-1:2021, 5.5.1: 0.735 v of 3000 v at 2 mV/V; the cell's output gives the same share of its span."""
    case = mechanics_case("T-MET-01")
    creep_v = 0.7 * case.inputs["p_LC"] * case.inputs["mpe_factor"]
    last_ten_v = 0.15 * case.inputs["p_LC"] * case.inputs["mpe_factor"]
    case.check(creep_30min=creep_v, creep_20_to_30=last_ten_v)
    mechanics_case("MET-01").check(creep_30min=creep_v, creep_20_30=last_ten_v)
    cell = ForceCell.model_validate(
        {
            "rated load": "3 kN",
            "rated output": "2 mV/V",
            "combined error": "0.02 %",
            "safe load limit": "4.5 kN",
            "gauge factor": "2",
        }
    )
    one_v = cell.output(1.0, *(item.value for item in cell.inputs()))  # 3000 v over 3 kN
    assert one_v * creep_v / 2e-3 == pytest.approx(0.0245e-2, rel=1e-12)  # trade.md 4.2: 0.0245 % of range
