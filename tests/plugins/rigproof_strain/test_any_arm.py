"""Every arrangement and every place of a shunt, against the node equations of the circuit as it is wired."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pytest

from rigproof.errors import NumberError
from rigproof_strain import transverse
from rigproof_strain.full import FullBridge
from rigproof_strain.half import HalfBridge
from rigproof_strain.quarter import QuarterBridge

if TYPE_CHECKING:
    from collections.abc import Callable

    from rigproof_strain.strain_bridge import At, StrainBridge

    Resistors = list[tuple[str, str, float]]
    Solve = Callable[[Resistors, dict[str, float]], dict[str, float]]
    Arms = tuple[float, float, float, float]

GF, NU, RG, KT = 2.08, 0.29, 350.0, 0.004


def quarter(wires: int) -> QuarterBridge:
    return QuarterBridge.model_validate({"wires": str(wires), "lead": "1 Ω"})


def half(arrangement: str) -> HalfBridge:
    poisson = {"poisson ratio": "0.29"} if "across" in arrangement else {}
    return HalfBridge.model_validate({"arrangement": arrangement, "lead": "1 Ω"} | poisson)


def full(arrangement: str, wires: int) -> FullBridge:
    poisson = {"poisson ratio": "0.29"} if "across" in arrangement else {}
    return FullBridge.model_validate({"arrangement": arrangement, "wires": str(wires), "lead": "1 Ω"} | poisson)


class Wired(NamedTuple):
    """A circuit: excitation 1 V from `top` to `bottom`, output from `signal` to `other`, and where shunts go."""

    resistors: Resistors
    shunts: dict[tuple[int, str], tuple[str, str]]
    corners: tuple[str, str] = ("top", "bottom")

    def output(self, solve: Solve, *more: tuple[str, str, float]) -> float:
        same = self._joined()
        resistors = [(same.get(a, a), same.get(b, b), ohm) for a, b, ohm in [*self.resistors, *more] if ohm > 0]
        volt = solve(resistors, {"top": 1.0, "bottom": 0.0})
        first, second = (volt[same.get(node, node)] for node in self.corners)
        return (volt["other"] - volt["signal"]) / (first - second)

    def _joined(self) -> dict[str, str]:
        """Nodes that a conductor without resistance joins to a terminal."""
        terminals, same = ("top", "bottom", "signal", "other"), dict[str, str]()
        for a, b, ohm in sorted(self.resistors, key=lambda r: r[0] not in terminals and r[1] not in terminals):
            if ohm == 0:
                end, inner = (a, b) if same.get(a, a) in terminals else (b, a)
                same[inner] = same.get(end, end)
        return same


OWN_HALF = [("top", "other", 500.0), ("other", "bottom", 500.0)]


def two_wires(arms: Arms, lead: float) -> Wired:
    chain = [("top", "a", lead), ("a", "b", arms[0]), ("b", "signal", lead), ("signal", "bottom", arms[1])]
    places = {(1, "gauge"): ("a", "b"), (1, "instrument"): ("top", "signal"), (2, "instrument"): ("signal", "bottom")}
    return Wired(chain + OWN_HALF, places)


def three_wires(arms: Arms, lead: float) -> Wired:
    chain = [("top", "a", lead), ("a", "b", arms[0]), ("b", "signal", lead), ("b", "c", lead), ("c", "bottom", arms[1])]
    places = {(1, "gauge"): ("a", "b"), (1, "instrument"): ("top", "signal"), (2, "instrument"): ("c", "bottom")}
    return Wired(chain + OWN_HALF, places)


def three_leads(arms: Arms, lead: float) -> Wired:
    chain = [("top", "a", lead), ("a", "b", arms[0]), ("b", "c", arms[1]), ("c", "bottom", lead), ("b", "signal", lead)]
    places = {(1, "gauge"): ("a", "b"), (1, "instrument"): ("top", "signal")}
    places |= {(2, "gauge"): ("b", "c"), (2, "instrument"): ("signal", "bottom")}
    return Wired(chain + OWN_HALF, places)


def opposite(arms: Arms, lead: float) -> Wired:
    first = [("top", "a", lead), ("a", "b", arms[0]), ("b", "signal", lead), ("signal", "bottom", arms[1])]
    second = [("other", "c", lead), ("c", "d", arms[2]), ("d", "bottom", lead), ("top", "other", arms[3])]
    places = {(1, "gauge"): ("a", "b"), (1, "instrument"): ("top", "signal"), (2, "instrument"): ("signal", "bottom")}
    places |= {(3, "gauge"): ("c", "d"), (3, "instrument"): ("other", "bottom"), (4, "instrument"): ("top", "other")}
    return Wired(first + second, places)


def four_wires(arms: Arms, lead: float) -> Wired:
    ring = [("p", "s", arms[0]), ("s", "n", arms[1]), ("o", "n", arms[2]), ("p", "o", arms[3])]
    leads = [("top", "p", lead), ("n", "bottom", lead), ("s", "signal", lead), ("o", "other", lead)]
    places = {(1, "gauge"): ("p", "s"), (2, "gauge"): ("s", "n"), (3, "gauge"): ("o", "n"), (4, "gauge"): ("p", "o")}
    places |= {(1, "instrument"): ("top", "signal"), (2, "instrument"): ("signal", "bottom")}
    places |= {(3, "instrument"): ("other", "bottom"), (4, "instrument"): ("top", "other")}
    return Wired(ring + leads, places)


def six_wires(arms: Arms, lead: float) -> Wired:
    return four_wires(arms, lead)._replace(corners=("p", "n"))


CIRCUITS: list[tuple[StrainBridge, Callable[[Arms, float], Wired]]] = [
    (quarter(2), two_wires),
    (quarter(3), three_wires),
    (half("bending"), three_leads),
    (half("along and across"), three_leads),
    (half("opposite arms"), opposite),
    *((full(kind, 4), four_wires) for kind in ("bending", "along and across", "torsion")),
    (full("along and across in bending", 4), four_wires),
    *((full(kind, 6), six_wires) for kind in ("bending", "torsion", "along and across in bending")),
]
IDS = [f"{model.kind}, {getattr(model, 'arrangement', '')} {wired.__name__}" for model, wired in CIRCUITS]

# Strain of arms 1 to 4 over that of arm 1, written out again from trade.md 2.1.
STRAINS = {
    "quarter bridge": (1.0, 0.0, 0.0, 0.0),
    "half bridge bending": (1.0, -1.0, 0.0, 0.0),
    "half bridge along and across": (1.0, -NU, 0.0, 0.0),
    "half bridge opposite arms": (1.0, 0.0, 1.0, 0.0),
    "full bridge bending": (1.0, -1.0, 1.0, -1.0),
    "full bridge along and across": (1.0, -NU, 1.0, -NU),
    "full bridge torsion": (1.0, -1.0, 1.0, -1.0),
    "full bridge along and across in bending": (1.0, -NU, NU, -1.0),
}


def strains(model: StrainBridge) -> tuple[float, ...]:
    return STRAINS[f"{model.kind} {getattr(model, 'arrangement', '')}".strip()]


def values(model: StrainBridge, lead: float) -> list[float]:
    poisson = getattr(model, "poisson_ratio", None)
    return [RG, GF, KT, lead] + ([] if poisson is None else [NU])


def strained(model: StrainBridge, strain: float, start: Arms = (RG, RG, RG, RG)) -> Arms:
    a, b, c, d = (ohm * (1 + GF * share * strain) for ohm, share in zip(start, strains(model), strict=True))
    return a, b, c, d


@pytest.mark.parametrize(("model", "wired"), CIRCUITS, ids=IDS)
@pytest.mark.parametrize("strain", [-4000e-6, 1e-6, 1500e-6])
@pytest.mark.parametrize("lead", [0.1, 5.0])
def test_strain_is_exact_against_the_node_equations(
    solve: Solve, model: StrainBridge, wired: Callable[[Arms, float], Wired], strain: float, lead: float
) -> None:
    arms = strained(model, strain)
    if model.kind == "quarter bridge" or strains(model)[1] == strains(model)[3] == 0.0:
        arms = balanced(model, lead, arms)
    reading = wired(arms, lead).output(solve)
    mixed = model.layout.mixed and wired is four_wires  # its halves part, so that they do not draw alike
    within = 1.05 * (GF * strain * (1 - NU) / 2) ** 2 * 2 * lead / RG if mixed else 0.0
    found = model.reduce(reading, 0.0, *values(model, lead))
    assert found == pytest.approx(strain, rel=max(within, 1e-9), abs=3e-12)


def balanced(model: StrainBridge, lead: float, arms: Arms) -> Arms:
    """Completion as it must be for a bridge that starts balanced: it matches gauge and leads inside the arm."""
    outside = getattr(model, "wires", 2) != 3
    completion = RG + 2 * lead if outside else RG
    return arms[0], completion, arms[2], completion


@pytest.mark.parametrize(("model", "wired"), CIRCUITS, ids=IDS)
@pytest.mark.parametrize("strain", [-4000e-6, 900e-6])
@pytest.mark.parametrize("ratio", [0.99, 1.008])
def test_an_unbalance_alike_in_both_halves_drops_out(
    solve: Solve, model: StrainBridge, wired: Callable[[Arms, float], Wired], strain: float, ratio: float
) -> None:
    start = (RG, RG * ratio, RG, RG * ratio)
    zero = wired(start, 0.0).output(solve)
    reading = wired(strained(model, strain, start), 0.0).output(solve)
    assert abs(zero) > 1e-3
    assert model.reduce(reading, zero, *values(model, 0.0)) == pytest.approx(strain, rel=1e-8)


@pytest.mark.parametrize(("model", "wired"), CIRCUITS, ids=IDS)
@pytest.mark.parametrize("shunt", [2e3, 59880.0, 1e6])
@pytest.mark.parametrize("lead", [0.1, 5.0])
@pytest.mark.parametrize("ratio", [1.0, 0.993, 1.004])
def test_shunt_of_every_arm_at_every_place_against_the_node_equations(
    solve: Solve,
    model: StrainBridge,
    wired: Callable[[Arms, float], Wired],
    shunt: float,
    lead: float,
    ratio: float,
) -> None:
    """Exact where the bridge starts balanced; else wrong by the start output at most, as promised."""
    start = balanced(model, lead, (RG, RG, RG, RG)) if strains(model)[1] == 0 else (RG, RG, RG, RG)
    circuit = wired((start[0], start[1] * ratio, start[2], start[3] * ratio), lead)
    zero = circuit.output(solve)
    for (arm, at), nodes in circuit.shunts.items():
        place: At = "gauge" if at == "gauge" else "instrument"
        step = circuit.output(solve, (*nodes, shunt)) - zero
        found = model.shunt_step(arm, place, shunt, zero, *values(model, lead))
        assert found == pytest.approx(step, rel=max(abs(zero), 1e-9), abs=1e-12), (arm, at)
        assert (step < 0) == (arm in (1, 3))


@pytest.mark.parametrize(("model", "wired"), CIRCUITS, ids=IDS)
@pytest.mark.parametrize("ratio", [0.98, 1.03])
def test_a_shunt_at_the_gauge_is_exact_for_halves_alike(
    solve: Solve, model: StrainBridge, wired: Callable[[Arms, float], Wired], ratio: float
) -> None:
    """Start outputs of 5 to 8 mV/V, leads of 5 Ω where they lie with the known arm or outside the ring."""
    lead = 0.0 if wired is three_leads else 5.0
    circuit = wired((RG, RG * ratio, RG, RG * ratio), lead)
    zero = circuit.output(solve)
    nodes = circuit.shunts[1, "gauge"]
    step = circuit.output(solve, (*nodes, 2e4)) - zero
    assert model.shunt_step(1, "gauge", 2e4, zero, *values(model, lead)) == pytest.approx(step, rel=1e-7)


@pytest.mark.parametrize("ratio", [0.98, 1.03])
@pytest.mark.parametrize(
    ("arm", "at"),
    [(1, "gauge"), (3, "gauge"), *((arm, "instrument") for arm in (1, 2, 3, 4))],
)
def test_opposite_arms_are_exact_at_every_arm_for_halves_alike(solve: Solve, ratio: float, at: At, arm: int) -> None:
    circuit = opposite((RG, RG * ratio, RG, RG * ratio), 5.0)
    zero = circuit.output(solve)
    step = circuit.output(solve, (*circuit.shunts[arm, at], 2e4)) - zero
    found = half("opposite arms").shunt_step(arm, at, 2e4, zero, RG, GF, KT, 5.0)
    assert found == pytest.approx(step, rel=1e-9)


@pytest.mark.parametrize(("model", "wired"), [(quarter(2), two_wires), (half("opposite arms"), opposite)])
def test_without_leads_a_completion_resistor_has_none_beside_it(
    solve: Solve, model: StrainBridge, wired: Callable[[Arms, float], Wired]
) -> None:
    circuit = wired((RG, RG, RG, RG), 0.0)
    step = circuit.output(solve, ("signal", "bottom", 1e5)) - circuit.output(solve)
    assert model.shunt_step(2, "instrument", 1e5, 0.0, RG, GF, KT, 0.0) == pytest.approx(step, rel=1e-9)


def test_both_faces_in_bending_are_exact_for_a_bridge_far_out_of_balance(solve: Solve) -> None:
    """Start output 0.1 V/V, strain 2 %: where each term of the quadratic is felt."""
    model = full("along and across in bending", 6)
    for ratio, strain in ((0.8, 0.02), (1.3, -0.02), (1.3, 0.02)):
        start = (RG, RG * ratio, RG, RG * ratio)
        zero, reading = (six_wires(arms, 0.0).output(solve) for arms in (start, strained(model, strain, start)))
        assert model.reduce(reading, zero, *values(model, 0.0)) == pytest.approx(strain, rel=1e-10)


def test_a_completion_resistor_is_exact_whatever_the_start(solve: Solve) -> None:
    for model, wired in CIRCUITS[:2]:
        circuit = wired((RG, 362.0, RG, RG), 3.0)
        zero = circuit.output(solve)
        step = circuit.output(solve, (*circuit.shunts[2, "instrument"], 3e3)) - zero
        assert model.shunt_step(2, "instrument", 3e3, zero, *values(model, 3.0)) == pytest.approx(step, rel=1e-9)


def test_the_shunt_across_arm_1_at_the_instrument_is_the_reading_of_the_contract() -> None:
    for model, _ in CIRCUITS:
        inputs = values(model, 2.0)
        assert model.shunt_step(1, "instrument", 1e5, 1e-3, *inputs) == model.shunt_reading(1e5, 1e-3, *inputs)


@pytest.mark.parametrize(("model", "wired"), CIRCUITS, ids=IDS)
@pytest.mark.parametrize("kt", [-0.02, 0.0, 0.03])
def test_apparent_strain_is_what_the_circuit_reports(
    solve: Solve, model: StrainBridge, wired: Callable[[Arms, float], Wired], kt: float
) -> None:
    along, across = 900e-6, -400e-6
    fa = GF / (1 - 0.285 * kt)  # sensitivity along the grid alone, as the packet's gauge factor implies

    def ohm(sign: float, turned: bool) -> float:
        e, other = (across, along) if turned else (along, across)
        return RG * (1 + fa * sign * (e + kt * other))

    arrangement = getattr(model, "arrangement", "")
    own, turned, minus = ohm(1, False), ohm(1, True), ohm(-1, False)
    arms = {
        "": (own, RG, RG, RG),
        "bending": (own, minus, own, minus),
        "along and across": (own, turned, own, turned),
        "torsion": (own, turned, own, turned),
        "opposite arms": (own, RG, own, RG),
        "along and across in bending": (own, turned, ohm(-1, True), minus),
    }[arrangement]
    inputs = values(model, 0.0)
    inputs[2] = kt
    reading = wired(arms, 0.0).output(solve)
    assert model.apparent(along, across, *inputs) == pytest.approx(model.reduce(reading, 0.0, *inputs), rel=1e-8)


def test_torsion_takes_the_strain_across_from_shear_alone() -> None:
    """In pure shear a grid answers with (1 - Kt)/(1 - nu0 Kt), in both arms alike; a mean strain drops out."""
    model, inputs = full("torsion", 6), [RG, GF, 0.03, 0.0]
    expected = 1e-3 * (1 - 0.03) / (1 - transverse.CALIBRATION_POISSON * 0.03)
    assert model.apparent(1e-3, -1e-3, *inputs) == pytest.approx(expected, rel=1e-12)
    assert model.apparent(1.2e-3, -0.8e-3, *inputs) == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize(
    ("model", "factor"),
    [
        (quarter(3), 1.0),
        (half("bending"), 2.0),
        (half("along and across"), 1 + NU),
        (half("opposite arms"), 2.0),
        (full("bending", 4), 4.0),
        (full("torsion", 6), 4.0),
        (full("along and across", 4), 2 * (1 + NU)),
        (full("along and across in bending", 4), 2 * (1 + NU)),
    ],
)
def test_linear_form_is_the_tangent_of_the_exact_one(model: StrainBridge, factor: float) -> None:
    inputs = values(model, 0.0)
    assert model.linear(1e-3, 0.2e-3, *inputs) == pytest.approx(4 * 0.8e-3 / (factor * GF), rel=1e-12)
    assert model.linear(1e-9, 0.0, *inputs) == pytest.approx(model.reduce(1e-9, 0.0, *inputs), rel=1e-8)
    with_leads = model.linear(1e-3, 0.0, *values(model, 5.0)) / model.linear(1e-3, 0.0, *inputs)
    expected = {"quarter bridge": 355 / 350, "full bridge": 1.0 if getattr(model, "wires", 0) == 6 else 360 / 350}
    halves = 360 / 350 if getattr(model, "arrangement", "") == "opposite arms" else 355 / 350
    assert with_leads == pytest.approx(expected.get(model.kind, halves), rel=1e-12)


@pytest.mark.parametrize(
    ("model", "share"),
    [
        (quarter(3), lambda k: -k / 2),
        (half("opposite arms"), lambda k: -k / 2),
        (half("along and across"), lambda k: -k * (1 - NU) / 2),
        (full("along and across", 6), lambda k: -k * (1 - NU) / 2),
        (full("along and across in bending", 6), lambda k: (k * (1 - NU) / 2) ** 2),
        (half("bending"), lambda k: 0.0),
        (full("torsion", 6), lambda k: 0.0),
    ],
)
def test_difference_between_the_two_laws_is_the_stated_one(
    solve: Solve, model: StrainBridge, share: Callable[[float], float]
) -> None:
    true = 2000e-6
    circuit = {"quarter bridge": two_wires, "half bridge": three_leads, "full bridge": four_wires}[model.kind]
    circuit = opposite if getattr(model, "arrangement", "") == "opposite arms" else circuit
    reading = circuit(strained(model, true), 0.0).output(solve)
    difference = model.difference(reading, 0.0, *values(model, 0.0))
    assert difference / true == pytest.approx(share(GF * true), rel=6e-3, abs=1e-9)


def test_opposite_arms_read_the_mean_of_two_faces(solve: Solve) -> None:
    model, bend = half("opposite arms"), 300e-6
    reading = opposite((RG * (1 + GF * (1e-3 + bend)), RG, RG * (1 + GF * (1e-3 - bend)), RG), 0.0).output(solve)
    assert model.reduce(reading, 0.0, *values(model, 0.0)) == pytest.approx(1e-3, rel=1e-3)


@pytest.mark.parametrize("model", [full("bending", 6), full("torsion", 6), half("bending")])
def test_swapping_adjacent_arms_turns_the_sign_and_swapping_opposite_ones_does_nothing(
    solve: Solve, model: StrainBridge
) -> None:
    wired = three_leads if model.kind == "half bridge" else six_wires
    a, b, c, d = strained(model, 1e-3)

    def strain(*arms: float) -> float:
        reading = wired((arms[0], arms[1], arms[2], arms[3]), 0.0).output(solve)
        return float(model.reduce(reading, 0.0, *values(model, 0.0)))

    assert strain(b, a, d, c) == pytest.approx(-strain(a, b, c, d), rel=1e-8)
    if model.kind == "full bridge":
        assert strain(c, d, a, b) == pytest.approx(strain(a, b, c, d), rel=1e-8)


@pytest.mark.parametrize(
    ("model", "arm", "at", "message"),
    [
        (quarter(3), 3, "instrument", r"arm=3: a quarter bridge knows the resistance of its arms 1, 2; name one"),
        (half("bending"), 0, "gauge", r"arm=0: a half bridge knows the resistance of its arms 1, 2;"),
        (half("opposite arms"), 5, "gauge", r"arm=5: a half bridge knows the resistance of its arms 1, 2, 3, 4;"),
        (quarter(2), 2, "gauge", r"arm=2: at='gauge', but it holds no gauge; say 'instrument'"),
        (half("opposite arms"), 4, "gauge", r"arm=4: at='gauge', but it holds no gauge"),
    ],
)
def test_an_arm_that_is_not_there_is_refused(model: StrainBridge, arm: int, at: At, message: str) -> None:
    with pytest.raises(NumberError, match=message):
        model.shunt_step(arm, at, 1e5, 0.0, *values(model, 1.0))


@pytest.mark.parametrize("ohm", [0.0, -1e5, np.inf, np.nan])
def test_a_shunt_that_cannot_be_is_refused(ohm: float) -> None:
    with pytest.raises(NumberError, match=r"shunt_ohm=.*must be finite and above 0; give the resistor's value in Ω$"):
        quarter(3).shunt_step(1, "gauge", ohm, 0.0, RG, GF, KT, 1.0)


@pytest.mark.parametrize(("model", "wired"), CIRCUITS, ids=IDS)
def test_arrays_give_what_numbers_give(model: StrainBridge, wired: object) -> None:
    rng = np.random.default_rng(3)
    readings, zeros = rng.uniform(-4e-3, 4e-3, (2, 10))
    inputs = [rng.uniform(0.9, 1.1, 10) * value for value in values(model, 0.8)]
    rows = [[float(v) for v in row] for row in zip(zeros, *inputs, strict=True)]
    for name in ("reduce", "linear", "difference"):
        function = getattr(model, name)
        expected = np.array([function(float(r), *row) for r, row in zip(readings, rows, strict=True)])
        assert function(readings, zeros, *inputs) == pytest.approx(expected, rel=1e-9)
    expected = np.array([model.shunt_step(1, "gauge", 1e5, *row) for row in rows])
    assert model.shunt_step(1, "gauge", 1e5, zeros, *inputs) == pytest.approx(expected, rel=1e-11)
