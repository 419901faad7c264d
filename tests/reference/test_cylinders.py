"""Pressure parts against textbook problems: thick walls by Lame, thin walls by p r/t, water shut in.

The models take internal pressure alone. A pressure outside as well is that inside less it, plus all-round pressure.
"""

from __future__ import annotations

from collections.abc import Callable
from math import cos, radians, sin
from typing import Any

import pytest

from rigproof_parts.cylinder import Cylinder
from rigproof_parts.sphere import Sphere

Case = Callable[[str], Any]

MATERIAL = {
    "name": "of the example",
    "elastic modulus": "200 GPa",
    "poisson ratio": "0.3",
    "expansion": "11.7 ppm/K",
    "yield strength": "235 MPa",
}
ROUND = {"outside diameter": "1 m", "wall": "10 mm", "filling": "water", "material": MATERIAL}
REST = (11.7e-6, 20.0)  # expansion, filling temperature: of no account for strain
THIN = (*REST, 1.0)  # and the factor of the thin-wall theory


def cylinder(surface: str = "outside", ends: str = "closed", theory: str = "thick") -> Cylinder:
    return Cylinder.model_validate(ROUND | {"ends": ends, "gauge surface": surface, "theory": theory})


def sphere(surface: str = "outside", theory: str = "thick") -> Sphere:
    return Sphere.model_validate(ROUND | {"gauge surface": surface, "theory": theory})


def stresses(surface: str, pressure: float, outside: float, wall: float, nu: float = 0.3) -> tuple[float, float, float]:
    """Hoop, axial, radial stress of a closed cylinder at a surface: Hooke's law on the model's strains, modulus 1."""
    hoop, axial = (float(e) for e in cylinder(surface).strain(pressure, "hoop", outside, wall, 1.0, nu, *REST))
    radial = -pressure if surface == "inside" else 0.0
    both = nu / (1 - nu) * radial
    return (hoop + nu * axial) / (1 - nu**2) + both, (axial + nu * hoop) / (1 - nu**2) + both, radial


def thin_stresses(pressure: float, inside: float, wall: float, ends: str = "closed") -> tuple[float, float]:
    """Hoop and axial stress by the thin-wall theory, from the inside radius."""
    nu, part = 0.3, cylinder(theory="thin", ends=ends)
    hoop, axial = (float(e) for e in part.strain(pressure, "hoop", 2 * (inside + wall), wall, 1.0, nu, *THIN))
    return (hoop + nu * axial) / (1 - nu**2), (axial + nu * hoop) / (1 - nu**2)


def thin_sphere_stress(pressure: float, inside: float, wall: float) -> float:
    strain, _ = sphere(theory="thin").strain(pressure, "surface", 2 * (inside + wall), wall, 1.0, 0.3, *THIN)
    return float(strain) / (1 - 0.3)


def between(radius: float, outside_radius: float, skin_hoop: float) -> tuple[float, float]:
    """Hoop and radial stress inside the wall: A ± B/r² with what the model says of the skin, A = B/b²."""
    half = skin_hoop / 2
    return half * (1 + (outside_radius / radius) ** 2), half * (1 - (outside_radius / radius) ** 2)


def test_thick_cylinder_under_two_pressures_Hearn_10_1(mechanics_case: Case) -> None:
    case = mechanics_case("CYL-01")
    inside, outside, p_in, p_out = (case.inputs[key] for key in ("d_i", "d_o", "p_i", "p_o"))
    wall = (outside - inside) / 2
    bore = [stress - p_out for stress in stresses("inside", p_in - p_out, outside, wall)]
    skin = [stress - p_out for stress in stresses("outside", p_in - p_out, outside, wall)]
    hoop, radial = between(125, outside / 2, skin[0] + p_out)
    case.check(
        hoop_inner=bore[0],
        hoop_outer=skin[0],
        hoop_at_125mm_radius=hoop - p_out,
        radial_at_125mm_radius=radial - p_out,
        longitudinal_closed_ends=bore[1],
        max_shear_inner=(bore[0] - bore[2]) / 2,
        max_shear_outer=(skin[0] - skin[2]) / 2,
    )


def test_thick_cylinder_pressure_and_growth_Hearn_10_2(mechanics_case: Case) -> None:
    case = mechanics_case("CYL-03")
    given = case.inputs
    wall = (given["d_o"] - given["d_i"]) / 2
    per_pressure = stresses("inside", 1.0, given["d_o"], wall)[0]
    p_in = (given["hoop_inner_limit"] + given["p_o"]) / per_pressure + given["p_o"]
    case.check(p_i=p_in)
    modulus, nu = given["E"] * 1e3, given["nu"]
    numbers = (given["d_o"], wall, modulus, nu, *REST)
    hoop, _ = cylinder("outside").strain(p_in - given["p_o"], "hoop", *numbers)
    squeezed = given["p_o"] * (1 - 2 * nu) / modulus
    case.check(delta_d_o=(hoop - squeezed) * given["d_o"] * 1e3)


def test_thick_cylinder_Boresi_11_1(mechanics_case: Case) -> None:
    case = mechanics_case("T-CYL-09")
    a, b, pressure = case.inputs["a"], case.inputs["b"], case.inputs["p"]
    bore, skin = (stresses(surface, pressure, 2 * b, b - a) for surface in ("inside", "outside"))
    hoop, radial = between(25, b, skin[0])
    case.check(sth_10=bore[0], srr_10=bore[2], sth_25=hoop, srr_25=radial, sth_50=skin[0], srr_50=skin[2])


def test_thick_cylinder_with_both_pressures_of_a_student(mechanics_case: Case) -> None:
    case = mechanics_case("T-CYL-12")
    given = case.inputs
    wall, difference = (given["d_o"] - given["d_i"]) / 2, given["p_i"] - given["p_o"]
    bore, skin = (stresses(surface, difference, given["d_o"], wall) for surface in ("inside", "outside"))
    case.check(
        lame_A=skin[0] / 2 - given["p_o"],
        sth_inner=bore[0] - given["p_o"],
        sth_outer=skin[0] - given["p_o"],
        srr_inner=bore[2] - given["p_o"],
        srr_outer=skin[2] - given["p_o"],
    )


@pytest.mark.parametrize("name", ["CYL-08", "CYL-09"])
def test_strains_of_the_outer_skin(mechanics_case: Case, name: str) -> None:
    case = mechanics_case(name)
    given = case.inputs
    numbers = (2 * given["r_o"], given["r_o"] - given["r_i"], given["E"] * 1e3, given["nu"], *REST)
    hoop, axial = cylinder("outside").strain(given["p"], "hoop", *numbers)
    case.check(eps_hoop_outer=hoop * 1e6, eps_axial_outer=axial * 1e6, ratio_axial_to_hoop=axial / hoop)
    case.check(hoop_inner_MPa=stresses("inside", given["p"], numbers[0], numbers[1])[0])


def test_the_ratio_of_hoop_to_axial_strain_Beer_Johnston(mechanics_case: Case) -> None:
    """255 and 60 µε: 4.25, (2 - nu)/(1 - 2 nu) at nu 0.3, whatever wall and pressure and theory."""
    given = mechanics_case("T-CYL-06").inputs
    for theory in ("thick", "thin"):
        hoop, axial = cylinder(theory=theory).strain(546.0, "hoop", 25.5, 0.75, 29.12e6, 0.3, *THIN)
        assert hoop / axial == pytest.approx(given["e_hoop"] / given["e_long"], rel=1e-9)


@pytest.mark.parametrize(
    ("name", "hoop_key", "long_key", "ksi"),
    [("T-CYL-06", "s1", "s2", 1e3), ("CYL-07", "sigma_1", "sigma_2", 1.0)],
)
def test_pressure_of_a_tank_from_its_strains_Beer_Johnston(
    mechanics_case: Case, name: str, hoop_key: str, long_key: str, ksi: float
) -> None:
    case = mechanics_case(name)
    given, nu = case.inputs, 0.3
    inside = given["r"] if name == "T-CYL-06" else given["d_i"] / 2
    measured = given["e_hoop" if name == "T-CYL-06" else "eps_hoop"] * 1e-6
    numbers = (2 * (inside + given["t"]), given["t"], 2 * given["G"] * (1 + nu), nu, *THIN)
    per_psi, _ = cylinder(theory="thin").strain(1.0, "hoop", *numbers)
    pressure = measured / per_psi
    hoop, axial = thin_stresses(pressure, inside, given["t"])
    case.check(**{"p": pressure, hoop_key: hoop / ksi, long_key: axial / ksi})


def test_thin_cylinder_Popov_3_3(mechanics_case: Case) -> None:
    case = mechanics_case("T-CYL-01")
    given = case.inputs
    numbers = (2 * (given["r"] + given["t"]), given["t"], given["E"] * 1e3, given["nu"], *THIN)
    hoop, _ = cylinder(theory="thin").strain(given["p"], "hoop", *numbers)
    stress = thin_stresses(given["p"], given["r"], given["t"])
    case.check(hoop=stress[0], long=stress[1], dr=hoop * given["r"])


def test_thin_cylinder_with_a_helical_weld_Gere_8_2(mechanics_case: Case) -> None:
    case = mechanics_case("T-CYL-04")
    given, radius = case.inputs, case.inputs["r"] * 1e3
    pressure = given["p"] * 1e-3
    numbers = (2 * (radius + given["t"]), given["t"], given["E"] * 1e3, given["nu"], *THIN)
    hoop, axial = cylinder(theory="thin").strain(pressure, "hoop", *numbers)
    stress = thin_stresses(pressure, radius, given["t"])
    middle, half = (stress[0] + stress[1]) / 2, (stress[0] - stress[1]) / 2
    turned = half * cos(radians(2 * (90 - given["helix_angle"])))
    case.check(hoop=stress[0], long=stress[1], e_hoop=hoop * 1e6, e_long=axial * 1e6)
    case.check(s_perp_weld=middle - turned, s_par_weld=middle + turned)


def test_thin_cylinder_with_a_piston_Hibbeler_8_3(mechanics_case: Case) -> None:
    case = mechanics_case("CYL-05")
    hoop, axial = thin_stresses(case.inputs["p"], case.inputs["d_i"] / 2, case.inputs["t"], ends="open")
    case.check(hoop=hoop)
    assert axial == pytest.approx(0, abs=1e-9)


def test_wall_of_a_spherical_tank_Hibbeler_8_1(mechanics_case: Case) -> None:
    case = mechanics_case("CYL-04")
    radius, pressure, allowed = case.inputs["r"], case.inputs["p"] * 1e3, case.inputs["sigma_allow"] * 1e6
    wall = thin_sphere_stress(pressure, radius, 1.0) / allowed * 1e3  # the stress goes with 1/t
    assert wall == pytest.approx(18.75, rel=1e-12)
    case.check(t=wall + 1e-9)  # printed 18.8: half a step off to the last bit


def test_thin_sphere_Gere_8_1(mechanics_case: Case) -> None:
    case = mechanics_case("T-CYL-03")
    given = case.inputs
    radius, wall = given["d_i"] / 2, given["t"]
    per_psi = thin_sphere_stress(1.0, radius, wall)
    strain, _ = sphere(theory="thin").strain(1.0, "surface", 2 * (radius + wall), wall, given["E"], given["nu"], *THIN)
    case.check(
        p_a=given["s_allow"] / per_psi,
        p_b=given["tau_allow"] / (per_psi / 2),
        p_c=given["e_allow_outer"] * 1e-6 / strain,
        p_d=given["weld_load"] / (per_psi * wall) / given["n"],
    )


def helix(pressure: float, inside: float, wall: float, angle_deg: float) -> tuple[float, float]:
    """Stress across the weld and shear along it."""
    hoop, axial = thin_stresses(pressure, inside, wall)
    middle, half, twice = (hoop + axial) / 2, (hoop - axial) / 2, radians(2 * angle_deg)
    return middle - half * cos(twice), half * sin(twice)


def test_tanks_Hibbeler_8_1_in_inches(mechanics_case: Case) -> None:
    case = mechanics_case("E-HIB-8.1")
    inside, wall, allowed = case.inputs["d_i_in"] / 2, case.inputs["t_in"], case.inputs["allowed_psi"]
    case.check(cylinder_psi=allowed / thin_stresses(1.0, inside, wall)[0])
    case.check(sphere_psi=allowed / thin_sphere_stress(1.0, inside, wall))


def test_tank_welded_along_a_helix_Beer_Johnston_7_5(mechanics_case: Case) -> None:
    case = mechanics_case("E-BEE-7.5")
    outside, pressure, wall, cap = (case.inputs[key] for key in ("d_o_in", "p_psi", "t_in", "t_cap_in"))
    shell = (pressure, outside / 2 - wall, wall)
    hoop, axial = thin_stresses(*shell)
    across, shear = helix(*shell, case.inputs["helix_deg"])
    case.check(hoop_psi=hoop, axial_psi=axial, across_weld_psi=across, weld_shear_psi=shear)
    case.check(cap_psi=thin_sphere_stress(pressure, outside / 2 - cap, cap))


def test_thick_sphere(mechanics_case: Case) -> None:
    case = mechanics_case("CYL-12")
    given, nu = case.inputs, case.inputs["nu"]
    numbers = (2 * given["r_o"], given["r_o"] - given["r_i"], given["E"] * 1e3, nu, *REST)
    skin, _ = sphere("outside").strain(given["p"], "surface", *numbers)
    bore, _ = sphere("inside").strain(given["p"], "surface", *numbers)
    modulus = numbers[2]
    case.check(
        eps_outer=skin * 1e6,
        hoop_outer=skin * modulus / (1 - nu),
        hoop_inner=(bore * modulus - nu * given["p"]) / (1 - nu),
    )


@pytest.mark.parametrize(("radius_to_wall", "percent"), [(10, 5.0), (20, 2.5)])
def test_how_much_thin_walls_overstate_the_skin(radius_to_wall: float, percent: float) -> None:
    """Collected from the trade (trade.md 3): p r/t with r inside is (1 + t/2r) times the exact outer hoop stress."""
    exact = stresses("outside", 1.0, 2 * (radius_to_wall + 1), 1.0)[0]
    assert thin_stresses(1.0, radius_to_wall, 1.0)[0] / exact - 1 == pytest.approx(percent / 100, abs=1e-9)


def test_thin_walls_grow_as_the_trade_says() -> None:
    """dV/V = (p r/t E)(2.5 - 2 nu) (trade.md 3)."""
    numbers = (2 * (0.1 + 0.004), 0.004, 200e9, 0.3, *THIN)
    assert cylinder(theory="thin").volume_strain(1e6, *numbers) == pytest.approx(1e6 * 25 / 200e9 * (2.5 - 0.6))


def test_water_full_pipe_warms_up(mechanics_case: Case) -> None:
    """3.10 bar/K by thick-wall finite elements with water constants of 2.07e-4 1/K and 2.18 GPa; ours are Kell's."""
    case = mechanics_case("LIQ-01")
    given = case.inputs
    outside, wall = (given["d_i"] + 2 * given["t"]) * 1e-3, given["t"] * 1e-3
    numbers = (outside, wall, given["E"] * 1e9, 0.3, given["a"], 20.0)
    part = cylinder("outside")
    case.check(dp_dT=part.load_per_kelvin(35e5, *numbers) / 1e5)
    case.check(volume_compliance_1_per_GPa=part.volume_strain(1e9, *numbers))


@pytest.mark.parametrize(("diameter_to_wall", "bar_per_kelvin"), [(10, 3.4), (20, 3.1), (50, 2.5)])
def test_trade_figures_of_water_full_steel(diameter_to_wall: float, bar_per_kelvin: float) -> None:
    """Collected from the trade (trade-tables.md 4): mean diameter over wall, closed ends, 20 °C."""
    numbers = (0.2 + 0.2 / diameter_to_wall, 0.2 / diameter_to_wall, 207e9, 0.3, 11.7e-6, 20.0)
    assert cylinder("outside").load_per_kelvin(35e5, *numbers) / 1e5 == pytest.approx(bar_per_kelvin, abs=0.06)


@pytest.mark.parametrize(("radius_to_wall", "bar_per_kelvin"), [(1e-9, 3.7), (10, 3.1), (20, 2.6)])
def test_trade_figures_of_blocked_in_water(radius_to_wall: float, bar_per_kelvin: float) -> None:
    """Collected from the trade (trade.md 5.3): radius over wall; 3.7 bar/K for a rigid shell."""
    modulus = 1e20 if radius_to_wall < 1 else 206e9
    ratio = max(radius_to_wall, 10)
    numbers = (2 * (0.1 + 0.1 / ratio), 0.1 / ratio, modulus, 0.3, 11.7e-6, 20.0, 1.0)
    assert cylinder(theory="thin").load_per_kelvin(35e5, *numbers) / 1e5 == pytest.approx(bar_per_kelvin, abs=0.07)
