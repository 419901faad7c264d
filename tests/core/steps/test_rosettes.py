"""The state of strain at a rosette, by other routes than the reduction's; planted faults; what a rig may not say."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.documents import load_procedure
from rigproof.errors import DocumentError
from rigproof.plugins import load_registry
from rigproof.run.accepting import run_and_judge
from rigproof.run.plan import Plan
from rigproof.run.progress import Silent
from rigproof.run.simulated import find_simulator, planted, reach_of, simulation
from rigproof.steps.checks import value_of
from rigproof.steps.rosettes import AtRosette
from rigproof.steps.terms import Term, reading_input, strain
from rigproof.uncertainty import Input
from rigproof.verdict.record import Check, Verdict
from rigproof_strain.rosette import RECTANGULAR
from rigproof_strain.rosette_budget import principal_budget

from .rosette_rig import BRANCH, TRANSVERSE, at_rosette, rig_with

PLAIN = rig_with((TRANSVERSE, "transverse sensitivity: 0 %"))
SHORT = """\
rigproof: procedure/1
name: Rosette alone
steps:
  - balance: {channels: all strain, settle: 2 s}
  - cycles: {source: pump, to: 30 bar, times: 2, levels: 2, exercise: 0, dwell: 1 s, rest: 5 s, readings: 20}
"""
PROOF = "  - proof: {source: pump, to: 40 bar, hold: 10 s, dwell: 2 s, rest: 5 s}\n"
components = st.floats(-1e-3, 1e-3)


def turned(tensor: np.ndarray, angle: float) -> np.ndarray:
    """The tensor in axes turned by an angle: Q E Qᵀ (any text on mechanics)."""
    q = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    return np.asarray(q @ tensor @ q.T)


def elements(tensor: np.ndarray, angle: float = 0.0, kt: float = 0.0) -> list[float]:
    """What gauges at 0°, 45° and 90° from axes turned by `angle` report (ASTM E251 for transverse sensitivity)."""
    seen = [turned(tensor, angle + at) for at in (0.0, math.pi / 4, math.pi / 2)]
    return [(e[0, 0] + kt * e[1, 1]) / (1 - 0.285 * kt) for e in seen]


def von_mises(tensor: np.ndarray, modulus: float, nu: float) -> float:
    """From Hooke's law in three dimensions, solved for a free surface, and the stress deviator."""
    compliance = (np.eye(3) * (1 + nu) - nu) / modulus
    e1, e2 = np.linalg.eigvalsh(tensor)
    stress = np.zeros(3)
    stress[:2] = np.linalg.solve(compliance[:2, :2], [e1, e2])
    deviator = stress - stress.mean()
    return float(math.sqrt(1.5 * deviator @ deviator))


@given(components, components, components, st.floats(-math.pi, math.pi))
def test_turning_the_rosette_changes_nothing_but_the_direction(ex: float, ey: float, exy: float, angle: float) -> None:
    """Principal strains and von Mises stress are those of the tensor, however the rosette lies."""
    tensor = np.array([[ex, exy], [exy, ey]])
    values = np.linalg.eigvalsh(tensor)
    point, still = at_rosette(PLAIN, elements(tensor, angle)), at_rosette(PLAIN, elements(tensor))
    close = pytest.approx
    assert value_of(point.measured.first) == close(values[1], rel=1e-9, abs=1e-15)
    assert value_of(point.measured.second) == close(values[0], rel=1e-9, abs=1e-15)
    assert value_of(point.of_yield()) * 235e6 == close(von_mises(tensor, 206e9, 0.29), rel=1e-9, abs=1e-3)
    if values[1] - values[0] > 1e-9:
        moved = value_of(still.measured.direction) - value_of(point.measured.direction) - angle
        assert math.remainder(moved, math.pi) == close(0.0, abs=1e-5)


def test_transverse_sensitivity_is_taken_out_of_all_elements_together() -> None:
    tensor = np.array([[4.4e-5, 1e-5], [1e-5, 1.8e-4]])
    values = np.linalg.eigvalsh(tensor)
    point = at_rosette(rig_with(), elements(tensor, 0.3, kt=0.006))
    assert value_of(point.measured.second) == pytest.approx(values[0], rel=1e-9)
    assert value_of(point.measured.first) == pytest.approx(values[1], rel=1e-9)


def test_what_is_expected_is_the_part_model_in_its_principal_directions() -> None:
    """Element a lies along the pipe: the larger strain, the hoop's, is a quarter turn away; 30 bar, by hand."""
    rig = rig_with()
    point = at_rosette(rig, (44e-6, 112e-6, 179e-6), load_pa=3e6)
    bore, outside = 114.3 - 7.2, 114.3
    per = 3e6 * bore**2 / (outside**2 - bore**2) / 206e9  # Lamé, outside, closed: from memory
    assert value_of(point.expected.first) == pytest.approx(per * (2 - 0.29), rel=1e-9)
    assert value_of(point.expected.second) == pytest.approx(per * (1 - 0.58), rel=1e-9)
    assert abs(math.degrees(value_of(point.expected.direction))) == pytest.approx(90.0)
    assert point.directed
    assert abs(math.degrees(value_of(point.astray()))) < 1.0


@pytest.mark.parametrize("degrees", [-20.0, -3.0, 0.1, 7.0, 44.0])
def test_a_rosette_that_lies_askew_is_astray_by_its_angle(degrees: float) -> None:
    tensor = np.diag([44e-6, 179e-6])
    point = at_rosette(PLAIN, elements(tensor, math.radians(degrees)), load_pa=3e6)
    assert math.degrees(value_of(point.astray())) == pytest.approx(-degrees, abs=1e-6)


@pytest.mark.parametrize("degrees", [-10.0, 0.0, 25.0])
def test_a_rosette_between_the_axes_of_the_pipe(degrees: float) -> None:
    """Its middle element along the pipe, the others to either side: the hoop lies at 135° from the first."""
    rig = rig_with(
        (TRANSVERSE, "transverse sensitivity: 0 %"),
        ("at: 45°", "at: AXIAL"),
        ("    at: axial", "    at: 45°"),
        ("at: AXIAL", "at: axial"),
        ("  shell c:\n    at: hoop", "  shell c:\n    at: 45°"),
    )
    reads = elements(np.diag([44e-6, 179e-6]), math.radians(degrees) - math.pi / 4)
    point = at_rosette(rig, reads, load_pa=3e6)
    assert math.degrees(value_of(point.expected.direction)) == pytest.approx(-45.0)
    assert math.degrees(value_of(point.astray())) == pytest.approx(-degrees, abs=1e-6)


def read(outputs: tuple[float, ...], *changes: tuple[str, str], load_pa: float = 3e6) -> AtRosette:
    """The rosette with real bridges, at these outputs (V/V)."""
    rig = rig_with(*changes)
    names = rig.rosettes["shell"].channels
    terms = tuple(
        strain(
            rig,
            name,
            reading_input(f"{name} now", np.array([output]), "V/V"),
            reading_input(f"{name} zero", np.array([0.0]), "V/V"),
            "now",
        )
        for name, output in zip(names, outputs, strict=True)
    )
    return AtRosette(rig, rig.rosettes["shell"], terms, Term(lambda: load_pa, ()))


OUTPUTS = (23e-6, 58e-6, 93e-6)
ALONE = ("channels: [shell a, shell b, shell c]", "channels: [shell a, shell b, shell c]\n    shared: []")


def test_what_the_elements_share_counts_once() -> None:
    """One lot: a gauge factor wrong by 0.5 % makes every strain wrong by 0.5 % and turns nothing."""
    point = read(OUTPUTS)
    first, astray = point.measured.first.estimate(), point.astray().estimate()
    lines = {line.input: line for line in first.lines}
    assert lines["shell: gauge factor"].contribution == pytest.approx(first.value * 0.005 / math.sqrt(3), rel=1e-3)
    assert not any(name.endswith(" gauge factor") and name != "shell: gauge factor" for name in lines)
    assert {line.input: line for line in astray.lines}["shell: gauge factor"].contribution < 1e-6 * astray.u


def test_what_they_do_not_share_counts_for_each() -> None:
    """Deviations of their own turn the direction, and average out in the sum of the principal strains."""
    shared, alone = read(OUTPUTS), read(OUTPUTS, ALONE)
    assert alone.astray().estimate().u > 2 * shared.astray().estimate().u
    names = {line.input for line in alone.measured.first.estimate().lines}
    assert {f"shell {element} gauge factor" for element in "abc"} <= names
    common = read(OUTPUTS, (CHANNELS, ALL_SHARED)).measured.first.estimate()
    line = next(line for line in common.lines if line.input == "shell: accuracy of reading")
    assert line.contribution == pytest.approx(common.value * 0.0005 / math.sqrt(3), rel=1e-3)


def test_the_budget_is_that_of_correlated_readings() -> None:
    """Second route: each element's strain as one input, what they share as their correlation (GUM 5.2, F.1.2.3)."""
    point = read(OUTPUTS)
    estimates = [term.estimate() for term in point.strains]
    of_lot = [next(ln for ln in e.lines if ln.input.endswith(" gauge factor")).contribution for e in estimates]
    readings = [Input(f"leg {n}", e.value, e.u) for n, e in enumerate(estimates)]
    pairs = [
        (f"leg {a}", f"leg {b}", of_lot[a] * of_lot[b] / (estimates[a].u * estimates[b].u))
        for a, b in ((0, 1), (0, 2), (1, 2))
    ]
    kt = Input.limits("kt", 0.006, 0.002)
    modulus, nu = Input.limits("modulus", 206e9, 0.02 * 206e9), Input.limits("nu", 0.29, 0.01)
    found = principal_budget(RECTANGULAR, readings, modulus, nu, kt=kt, correlations=pairs)
    assert found.angle is not None
    for ours, theirs in (
        (point.measured.first.estimate(), found.e1),
        (point.measured.second.estimate(), found.e2),
        (point.measured.direction.estimate(), found.angle),
    ):
        assert (ours.value, ours.u) == pytest.approx((theirs.value, theirs.u), rel=2e-3)
    stress = point.of_yield().estimate()
    assert (stress.value * 235e6, stress.u * 235e6) == pytest.approx(
        (found.von_mises.value, found.von_mises.u), rel=2e-3
    )


@pytest.mark.parametrize(("radii", "stands_out"), [(1.9, False), (2.1, True)])
def test_a_direction_stands_out_from_two_u_of_the_circle_on(radii: float, stands_out: bool) -> None:
    """Hardly any load: u of the circle is that of the zeros alone, sqrt(u² + u²)/2 where it lies along the pipe."""
    per_pa = (value_of(read(OUTPUTS).expected.first) - value_of(read(OUTPUTS).expected.second)) / 2 / 3e6
    u = read((0.0, 0.0, 1e-12)).strains[0].estimate().u / math.sqrt(2)
    point = read((0.0, 0.5e-12, 1e-12), load_pa=radii * u / per_pa)
    assert point.directed is stands_out


SPHERE = (
    ("model: cylinder", "model: sphere"),
    ("  ends: closed\n", ""),
    ("at: hoop", "at: surface"),
    ("at: 45°", "at: surface"),
    ("at: axial", "at: surface"),
)


def test_where_all_directions_are_alike_none_is_judged() -> None:
    point = at_rosette(rig_with(*SPHERE), (1.2e-4, 1.2001e-4, 1.2e-4), load_pa=3e6)
    assert not point.directed
    assert math.isfinite(point.measured.first.estimate().u)


def acceptance(
    folder: Path,
    flaw: str = "",
    *,
    seen_as: tuple[tuple[str, str], ...] = (),
    procedure: str = SHORT,
    truth: tuple[tuple[str, str], ...] = (),
) -> tuple[Verdict, list[Check]]:
    """One simulated run; the rig is judged as its document says (`seen_as`) and stands as the other one says."""
    registry = load_registry()
    true, seen = rig_with(*truth), rig_with(*truth, *seen_as)
    plan = Plan(seen, load_procedure(text=procedure, registry=registry), registry)
    flaws = planted([flaw] if flaw else [], find_simulator(BRANCH, registry).flaws())
    simulated = simulation(true, BRANCH, registry, 1, flaws)
    try:
        verdict = run_and_judge(plan, reach_of(simulated), folder, Silent())
    finally:
        simulated.close()
    return verdict, [check for check in verdict.checks if check.subject == "shell"]


def test_a_sound_rosette_is_accepted(tmp_path: Path) -> None:
    verdict, checks = acceptance(tmp_path, procedure=SHORT + PROOF)
    assert verdict.verdict == "accept", verdict.why
    assert [check.name for check in checks] == [
        "principal strain 1",
        "principal strain 2",
        "principal direction",
        *["von Mises stress over yield"] * 4,
    ]


@pytest.mark.parametrize("degrees", [-6, 4, 13])
def test_a_rosette_laid_askew_is_found_by_its_direction(tmp_path: Path, degrees: int) -> None:
    verdict, checks = acceptance(tmp_path, f"misaligned-gauges={degrees}°")
    assert verdict.verdict == "reject"
    direction = next(check for check in checks if check.name == "principal direction")
    assert direction.finding == "reject"
    assert math.degrees(direction.measured or 0.0) == pytest.approx(degrees, abs=1.5)


@pytest.mark.parametrize("pair", ["ab", "bc", "ac"])
def test_elements_that_are_swapped_are_found(tmp_path: Path, pair: str) -> None:
    """Their plugs at the amplifier: the document has the inputs one way, the bench the other."""
    inputs = {"a": 2, "b": 3, "c": 4}
    one, other = (
        f"    gauge: shell {e}\n    reduction: {{model: quarter bridge, wires: 3, lead: 0.8 Ω ± 10 %}}\n"
        "    instrument: bridge\n    input: "
        for e in pair
    )
    a, b = (inputs[e] for e in pair)
    swapped = ((f"{one}{a}\n", f"{one}{b}\n"), (f"{other}{b}\n", f"{other}{a}\n"))
    verdict, checks = acceptance(tmp_path, seen_as=swapped)
    assert verdict.verdict == "reject"
    assert "reject" in {check.finding for check in checks}
    assert "reject" in {c.finding for c in verdict.checks if c.name == "sensitivity"}


def test_a_sphere_is_accepted_without_a_direction(tmp_path: Path) -> None:
    verdict, checks = acceptance(tmp_path, truth=SPHERE)
    assert verdict.verdict == "accept", verdict.why
    assert [check.name for check in checks] == ["principal strain 1", "principal strain 2"]


def test_too_much_stress_stops_the_rise(tmp_path: Path) -> None:
    """At 40 bar some 21 % of the yield strength, at the second stage, 70 % of it, 15 %: more than 13 %."""
    verdict, checks = acceptance(tmp_path, procedure=SHORT + PROOF.replace("hold:", "stress: 13 %, hold:"))
    assert verdict.verdict == "reject"
    (stage,) = [check for check in checks if check.finding == "reject"]
    assert stage.tolerance.origin == "procedure: at most 13 % of the yield strength"
    assert stage.at.startswith("stage 2")
    assert "lowest load of the hold" in [c.name for c in verdict.checks if c.note == "the proof load was not held"]


@pytest.mark.parametrize(("channels", "count"), [("shell a, shell b", 0), ("shell c, shell b, shell a", 3)])
def test_a_rosette_is_judged_whole_or_not_at_all(tmp_path: Path, channels: str, count: int) -> None:
    some = SHORT.replace("to: 30 bar,", f"to: 30 bar, channels: [{channels}],")
    _, checks = acceptance(tmp_path, procedure=some)
    assert len(checks) == count


def test_cycles_that_were_broken_off_leave_it_undecided(tmp_path: Path) -> None:
    verdict, checks = acceptance(tmp_path, "dead-instrument=2 min")
    assert verdict.verdict == "void"
    assert [(check.name, check.finding) for check in checks] == [("principal strain 1", "undecided")]
    assert "the cycles were not finished" in checks[0].note


CHANNELS = "channels: [shell a, shell b, shell c]"
SECOND = f"at: 45°\n    resistance: 350 Ω ± 0.3 %\n    gauge factor: 2.06 ± 0.5 %\n    {TRANSVERSE}\n"
ALL_SHARED = f"{CHANNELS}\n    shared: [gauge factor, transverse sensitivity, accuracy of reading]"
INPUT_2 = "    instrument: bridge\n    input: 2\n    accuracy: {of reading: "
# By what is wrong: the changes, the key, what is said of it, and how it ends.
FAULTS: dict[str, tuple[tuple[tuple[str, str], ...], str, str, str]] = {
    "too few": (
        ((CHANNELS, "channels: [shell a, shell b]"),),
        ".channels",
        "a rectangular rosette has 3 elements, each a channel of its own; here are 2",
        "name 3 different channels",
    ),
    "one twice": (
        ((CHANNELS, "channels: [shell a, shell b, shell a]"),),
        ".channels",
        "has 3 elements, each a channel of its own",
        "name 3 different channels",
    ),
    "too many": (
        ((CHANNELS, "channels: [shell a, shell b, shell c, shell a]"),),
        ".channels",
        "each a channel of its own; here are 4",
        "name 3 different channels",
    ),
    "no strain": (
        ((CHANNELS, "channels: [shell a, shell b, pressure]"),),
        ".channels[3]",
        "'pressure' measures gauge pressure",
        "name channels that measure strain",
    ),
    "another order": (
        ((CHANNELS, "channels: [shell a, shell c, shell b]"),),
        ".channels",
        "gauges at 'axial', 'hoop', '45°' do not lie to each other as the elements of a rectangular rosette",
        "name the channels in the order of the layout, or correct `at` of their gauges",
    ),
    "not the elements' places": (
        ((CHANNELS, "channels: [shell c, shell b, hoop]"),),
        ".channels",
        "do not lie to each other",
        "correct `at` of their gauges",
    ),
    "another packet": (
        ((CHANNELS, "channels: [shell a, shell b, hoop]"),),
        "",
        "the elements share gauge factor, and their channels state different ones",
        "state it alike for all, or write `shared` without 'gauge factor'",
    ),
    "another transverse sensitivity": (
        ((SECOND, SECOND.replace("0.6 % ± 0.2 %", "0.5 % ± 0.2 %")),),
        "",
        "the elements share transverse sensitivity",
        "write `shared` without 'transverse sensitivity'",
    ),
    "another accuracy": (
        ((CHANNELS, ALL_SHARED), (f"{INPUT_2}0.05 %", f"{INPUT_2}0.1 %")),
        ".shared",
        "the elements share accuracy of reading, and their channels state different ones",
        "state it alike for all, or write `shared` without 'accuracy of reading'",
    ),
    "a wrong word": (((CHANNELS, f"{CHANNELS}\n    shared: [gauge]"),), ".shared[1]", "gauge", ""),
    "no such channel": (
        ((CHANNELS, "channels: [shell a, shell b, shell x]"),),
        ".channels[3]",
        "'shell x' is no channel of the rig",
        "",
    ),
    "no such layout": (
        (("model: rectangular rosette", "model: rectangular"),),
        ".layout.model",
        "'rectangular' is no layout of a rosette",
        "",
    ),
    "gauges inside": (
        (("gauge surface: outside", "gauge surface: inside"),),
        ".layout",
        "the part states no stress at a free surface for its cylinder",
        "take a part model with a material, and gauges outside",
    ),
}


@pytest.mark.parametrize("name", FAULTS)
def test_what_does_not_go_together_is_said_at_its_key(name: str) -> None:
    changes, key, said, remedy = FAULTS[name]
    with pytest.raises(DocumentError) as error:
        rig_with(*changes)
    (fault,) = error.value.faults
    assert fault.where == f"rosettes.shell{key}"
    assert said in fault.message
    assert fault.remedy.endswith(remedy)


def test_elements_of_one_amplifier_may_share_its_accuracy() -> None:
    assert rig_with((CHANNELS, ALL_SHARED)).rosettes["shell"].shared[-1] == "accuracy of reading"
