"""What the plan can print of a part."""

from __future__ import annotations

from math import exp, pi, sqrt
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from scipy.integrate import quad

from rigproof.commands.plan_text import text_of
from rigproof.models import Fact, PartModel
from rigproof.plugins import Registry
from rigproof.quantities import KINDS, show
from rigproof.run.plan import make_plan
from rigproof.run.planned import planned
from rigproof_parts import codes
from rigproof_parts.column import Column
from rigproof_parts.cylinder import Cylinder
from rigproof_parts.sphere import Sphere

if TYPE_CHECKING:
    from collections.abc import Callable

    Pipe = Callable[..., Cylinder]
    Ball = Callable[..., Sphere]
    WallSolver = Callable[..., Any]


def named(facts: tuple[Fact, ...]) -> dict[str, Fact]:
    found = {fact.name: fact for fact in facts}
    assert len(found) == len(facts)
    for fact in facts:
        assert fact.kind in KINDS
        assert show(fact.value, fact.kind)
    return found


def test_every_part_says_how_near_yield_it_comes() -> None:
    part = Column.model_validate({"diameter": "30 mm", "loaded in": "tension", "material": "carbon steel"})
    load = -pi / 4 * 0.03**2 * 47e6  # a fifth of 235 MPa
    first, proof, share = part.facts(load)
    assert first == Fact("load at first yield", part.yield_load(), "force", "most stressed point, nominal values")
    assert proof == Fact("highest proof load", 0.9 * part.yield_load(), "force")
    assert (share.name, share.kind, share.note) == ("share of the load at first yield", "ratio", "")
    assert share.value == pytest.approx(0.2)


def test_water_without_a_volume_has_no_energy(pipe: Pipe) -> None:
    part = pipe()
    assert part.stored_energy(35e5) == ()
    assert list(named(part.facts(35e5))) == [
        *("load at first yield", "highest proof load", "share of the load at first yield"),
        *("gauges clear of ends, nozzles and welds by", "rise of the shut-in load per kelvin"),
    ]


def test_the_energy_of_water_and_shell_is_the_work_of_the_pump(pipe: Pipe, cylinder_wall: WallSolver) -> None:
    """The shell's: strain energy summed over its wall, per length; the water's: p dV of a column of bulk modulus K."""
    part, load = pipe(volume="40 l", wall="20 mm"), 35e5
    a, b = 0.2191 / 2 - 0.02, 0.2191 / 2
    solved = cylinder_wall(a, b, 206e9, 0.29, load, "closed")
    radial = np.gradient(solved.hoop * solved.r, solved.r, edge_order=2)
    density = (solved.stress_r * radial + solved.stress_t * solved.hoop + solved.stress_z * solved.axial) / 2
    per_length = float(np.trapezoid(density * 2 * np.pi * solved.r, solved.r))
    length = 0.04 / (np.pi * a**2)
    water, shell, air = part.stored_energy(load)
    assert shell.value == pytest.approx(per_length * length, rel=1e-3)
    # 0.459 1/GPa: compressibility of water at 20 °C (Kell 1975, from memory)
    assert water.value == pytest.approx(quad(lambda p: p * 0.04 * 0.459e-9, 0, load)[0], rel=2e-3)
    assert {fact.kind for fact in (water, shell, air)} == {"energy"}
    assert "PCC-2" in air.note
    assert [fact.name for fact in (water, shell, air)] == [
        *("energy stored in the water", "energy stored in the shell", "energy of 1 % of the volume as trapped air")
    ]
    last = 0.4e-3 * ((load + 101e3) / 101e3) ** (1 / 1.4)
    work, _ = quad(lambda v: (load + 101e3) * (0.4e-3 / v) ** 1.4, 0.4e-3, last)
    assert air.value == pytest.approx(work, rel=1e-6)


def test_gas_states_energy_and_both_distances(ball: Ball) -> None:
    part = ball(filling="helium", volume="30 m³", wall="20 mm")
    gas, shell, water, tnt, old, new, distance = part.stored_energy(100e5)
    last = 30 * (10.101e6 / 101e3) ** 0.6
    work, _ = quad(lambda v: 10.101e6 * (30 / v) ** (5 / 3), 30, last)
    assert (gas.name, gas.kind, tnt.name, tnt.kind) == (
        "energy stored in the helium",
        "energy",
        "TNT of equal energy",
        "mass",
    )
    assert gas.value == pytest.approx(work, rel=1e-6)
    assert tnt.value == pytest.approx(work / 4_266_920)
    assert old.value == pytest.approx(20 * (work / 4_266_920) ** (1 / 3))
    assert new.value == pytest.approx(20 * (2 * work / 4_266_920) ** (1 / 3))
    assert (distance.name, distance.value, distance.kind) == ("stand-off distance", new.value, "length")
    assert {fact.kind for fact in (shell, water)} == {"energy"}
    assert 0 < shell.value < water.value < gas.value / 100
    assert [fact.name for fact in (shell, water, old, new)] == [
        *("energy stored in the shell", "energy if filled with water"),
        *("scaled distance, 2008 print", "scaled distance, later prints"),
    ]
    assert all("PCC-2" in fact.note for fact in (gas, tnt, old, new, distance))
    assert named(part.facts(100e5)).keys() >= {gas.name, distance.name}


def test_below_the_atmosphere_gas_stores_nothing(pipe: Pipe) -> None:
    gas, *_, distance = pipe(filling="air", volume="40 l").stored_energy(-5e4)
    assert (gas.value, distance.value) == (0, 30)


def test_the_rise_per_kelvin_is_the_models(pipe: Pipe) -> None:
    part = pipe()
    rise = named(part.facts(35e5))["rise of the shut-in load per kelvin"]
    assert rise.value == part.load_per_kelvin(35e5, *(item.value for item in part.inputs()))
    assert (rise.kind, rise.note) == ("pressure difference", "no trapped air")


def test_edges_are_forgotten_at_the_stated_distance(pipe: Pipe) -> None:
    """sqrt(2) exp(-b x) = 1 % with b from the stiffness of strip and hoop: b⁴ = (E t/r²)/(4 D)."""
    part = pipe()
    radius, wall, modulus, nu = (0.2191 - 0.00452) / 2, 0.00452, 206e9, 0.29
    plate = modulus * wall**3 / (12 * (1 - nu**2))
    decay = (modulus * wall / radius**2 / (4 * plate)) ** 0.25
    assert sqrt(2) * exp(-decay * part.clear_of_ends_m()) == pytest.approx(0.01, rel=1e-9)
    edge = named(part.facts(0.0))["gauges clear of ends, nozzles and welds by"]
    assert (edge.value, edge.kind, edge.note) == (
        part.clear_of_ends_m(),
        "length",
        "nearer, an end disturbs the strain by over 1 %",
    )


def test_thin_walls_say_by_how_much_they_err(pipe: Pipe) -> None:
    fact = named(pipe(theory="thin").facts(1e6))["thin-wall theory overstates by up to"]
    assert (fact.kind, fact.note) == ("ratio", "outside")
    assert fact.value == pytest.approx(4.52 / 210.06)
    assert "thin-wall theory overstates by up to" not in named(pipe().facts(1e6))


def test_a_working_pressure_gives_the_test_pressures(pipe: Pipe) -> None:
    liquid = named(pipe(working_pressure="25 bar").facts(35.75e5))
    assert {name: fact.value for name, fact in liquid.items() if name.startswith("test")} == pytest.approx(
        {
            "test pressure by PED": 35.75e5,
            "test pressure by UG-99": 32.5e5,
            "test pressure by B31.3 with liquid": 37.5e5,
        }
    )
    assert "ratio 1" in liquid["test pressure by PED"].note
    part = pipe(working_pressure="25 bar", filling="air", volume="40 l")
    gas = named(part.facts(27.5e5))
    assert {name: fact.value for name, fact in gas.items() if name.startswith(("test", "highest by"))} == pytest.approx(
        {
            "test pressure by UG-100": 27.5e5,
            "test pressure by B31.3 with gas": 27.5e5,
            "test pressure by 46 CFR": 31.25e5,
            "highest by B31.3 with gas": 33.25e5,
        }
    )
    soft = named(pipe(working_pressure="90 bar", filling="air", volume="40 l").facts(27.5e5))
    assert soft["highest by B31.3 with gas"].value == pytest.approx(0.9 * part.yield_load())


@pytest.mark.parametrize(("working", "ratio"), [(0.0, 1.0), (-1e5, 1.0), (1e5, 0.99), (float("nan"), 1.0)])
def test_a_rule_refuses_what_cannot_be(working: float, ratio: float) -> None:
    message = f"working pressure = {working:g} Pa, stress ratio = {ratio:g}: the pressure must be positive"
    with pytest.raises(ValueError, match=message):
        codes.RULES[0].pressure_pa(working, ratio)


def test_every_rule_names_its_document() -> None:
    assert all(any(c.isdigit() for c in rule.source) for rule in codes.RULES)
    assert len({rule.name for rule in codes.RULES}) == len(codes.RULES)


@pytest.mark.parametrize(
    ("changes", "theory"),
    [
        (
            {},
            "thick wall (Lame), closed ends, outside surface (Timoshenko and Goodier, Theory of Elasticity, 3rd",
        ),
        ({"ends": "open", "gauge surface": "inside"}, "thick wall (Lame), open ends, inside surface (Timoshenko"),
        ({"theory": "thin"}, "thin wall, stress spread evenly, closed ends (Hibbeler"),
    ],
)
def test_a_pipe_says_by_which_theory(pipe: Pipe, changes: dict[str, str], theory: str) -> None:
    strain, yields = pipe(**changes).formulas()
    assert strain.startswith(f"Expected strain: {theory}")
    assert yields.startswith("First yield: von Mises at the bore")


def test_a_sphere_says_its_own_place_in_the_book(ball: Ball) -> None:
    assert "art. 136" in ball().formulas()[0]


def test_every_bundled_part_model_says_what_it_computes_by(registry: Registry) -> None:
    """And each of the bundled rigs has the sentences on its plan, whole."""
    assert [kind for kind, model in registry.parts.items() if model.formulas is PartModel.formulas] == []
    for rig in ("spool", "branch", "beam", "forcecell"):
        plan = make_plan(Path(__file__).parents[3] / "rigs" / rig, registry)
        formulas = plan.rig.part.formulas()
        assert all(
            text.startswith(("Expected", "First yield", "Safe load limit", "At the branch")) for text in formulas
        )
        assert " ".join(formulas) in " ".join(text_of(planned(plan)).split())
