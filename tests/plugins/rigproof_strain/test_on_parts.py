"""Which arrangements of gauges a part can mean: gauges that strain alike cancel in adjacent arms."""

from __future__ import annotations

import pytest

from rigproof.documents import load_rig
from rigproof.errors import DocumentError
from rigproof.models import PartModel
from rigproof.plugins import Registry
from rigproof.run.plan import Plan
from rigproof_strain.full import FullBridge
from rigproof_strain.half import HalfBridge

STEEL = {
    "name": "steel", "elastic modulus": "206 GPa", "poisson ratio": "0.29", "expansion": "11.7 ppm/K",
    "yield strength": "235 MPa",
}  # fmt: skip
PARTS: dict[str, dict[str, object]] = {
    "cylinder": {"outside diameter": "219.1 mm", "wall": "4.52 mm", "ends": "closed", "filling": "water"},
    "cantilever": {"length": "400 mm", "width": "30 mm", "thickness": "6 mm", "gauge distance": "60 mm"},
    "shaft": {"diameter": "40 mm"},
    "column": {"diameter": "40 mm", "loaded in": "compression", "eccentricity": "1 mm"},
    "force cell": {
        "rated load": "10 kN", "rated output": "2 mV/V ± 0.1 %", "combined error": "0.05 %",
        "safe load limit": "15 kN", "gauge factor": "2",
    },
}  # fmt: skip


def part(registry: Registry, kind: str) -> PartModel:
    material = {} if kind == "force cell" else {"material": STEEL}
    return registry.parts[kind].model_validate(PARTS[kind] | material)


def bridge(arrangement: str) -> FullBridge:
    poisson = {"poisson ratio": "0.29"} if arrangement.startswith("along") else {}
    return FullBridge.model_validate({"arrangement": arrangement, "wires": "6", "lead": "0.8 Ω"} | poisson)


@pytest.mark.parametrize(
    ("kind", "place", "arrangement"),
    [
        ("cantilever", "top", "bending"),
        ("cantilever", "bottom", "along and across in bending"),
        ("shaft", "+45°", "torsion"),
        ("shaft", "-45°", "bending"),  # +e and -e, as its arms want them
        ("column", "axial", "along and across"),
        ("force cell", "bridge", "bending"),
        ("cylinder", "hoop", "along and across"),  # each arm answers to what the part does along and across it
    ],
)
def test_what_a_part_can_mean(registry: Registry, kind: str, place: str, arrangement: str) -> None:
    assert bridge(arrangement).unsuited(part(registry, kind), place) == ""


@pytest.mark.parametrize(
    ("kind", "place", "arrangement", "said"),
    [
        ("cylinder", "hoop", "bending", "no place on a cylinder does: gauges that strain alike would cancel"),
        ("cylinder", "axial", "along and across in bending", "no place on a cylinder does"),
        ("cylinder", "hoop", "torsion", "in pure shear, and at 'hoop' a cylinder is not"),
        ("column", "loaded side", "bending", "no place on a column does"),
        ("cantilever", "top", "torsion", "in pure shear"),
        ("force cell", "bridge", "torsion", "in pure shear"),
    ],
)
def test_what_a_part_cannot_mean(registry: Registry, kind: str, place: str, arrangement: str, said: str) -> None:
    assert said in bridge(arrangement).unsuited(part(registry, kind), place)


def test_opposite_arms_suit_every_part(registry: Registry) -> None:
    model = HalfBridge.model_validate({"arrangement": "opposite arms", "lead": "0.8 Ω"})
    assert all(model.unsuited(found, found.places[0]) == "" for found in (part(registry, kind) for kind in PARTS))


def test_a_rig_with_such_a_bridge_is_refused_at_its_reduction(spool: Plan, registry: Registry) -> None:
    bent = spool.rig.text.replace("model: quarter bridge, wires: 3", "model: half bridge, arrangement: bending", 1)
    with pytest.raises(DocumentError) as error:
        load_rig(text=bent, registry=registry)
    (fault,) = error.value.faults
    assert fault.where == "channels.hoop.reduction"
    assert fault.remedy == "make arrangement, place and part agree"


def test_missing_keys_are_all_named_with_the_words_they_may_have(spool: Plan, registry: Registry) -> None:
    bare = spool.rig.text.replace("model: quarter bridge, wires: 3", "model: full bridge", 1)
    with pytest.raises(DocumentError) as error:
        load_rig(text=bare, registry=registry)
    (fault,) = error.value.faults
    words = "bending, along and across, torsion or along and across in bending"
    assert fault.message == "the keys 'arrangement', 'wires' are missing"
    assert fault.remedy == f"write `arrangement: …` ({words}) and `wires: …` (4 or 6) here"
