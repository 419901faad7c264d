"""The simulated person reads a display as it stands there, and keeps the marks of the weights."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from rigproof.documents import load_rig
from rigproof.errors import UsageError
from rigproof.people import Question
from rigproof.plugins import Registry
from rigproof_manual.display import Display
from rigproof_twin.person import shown
from rigproof_twin.simulator import SimulatedRig, StrainRig

BEAM = Path(__file__).parents[3] / "rigs" / "beam"


def nothing() -> None:
    """The run goes on."""


@pytest.fixture
def beam(registry: Registry) -> Iterator[SimulatedRig]:
    rig = load_rig(BEAM / "rig.yaml", registry)
    simulated = StrainRig().open(rig, BEAM / "twin.yaml", 3, ())
    assert isinstance(simulated, SimulatedRig)
    yield simulated
    simulated.close()


def ask(beam: SimulatedRig, instrument: str, wants: str, item: str = "", otherwise: str | None = None) -> str:
    assert beam.answers is not None
    return beam.answers.answer(Question(instrument, wants, item, "", otherwise), nothing)  # type: ignore[arg-type]


def display(reads: str, unit: str, resolution: str, lowest: str, highest: str, factor: str | None = None) -> Display:
    return Display.model_validate(
        {
            "label": "it",
            "reads": reads,
            "unit": unit,
            "resolution": resolution,
            "lowest": lowest,
            "highest": highest,
            "gauge factor set": factor,
        }
    )


def test_a_display_rounds_to_its_step_and_names_its_unit() -> None:
    strain = display("strain", "µε", "5 µε", "-1 mm/m", "1 mm/m", "2.00")
    assert shown(strain, 0.5e-3) == "1000 µε"  # 0.5 mV/V of a quarter bridge at a gauge factor of 2
    assert shown(strain, 0.5e-3 + 0.9e-6) == "1000 µε"
    assert shown(strain, -0.2e-6) == "0 µε"
    assert shown(display("temperature", "°C", "0.1 K", "0 °C", "50 °C"), 21.26) == "21.3 °C"
    assert shown(strain, float("nan")) == "overload"


def test_weights_move_and_the_strain_follows(beam: SimulatedRig) -> None:
    empty = float(ask(beam, "indicator", "value", "1").removesuffix(" µε"))
    assert ask(beam, "weights", "put on", "A") == "A"
    loaded = float(ask(beam, "indicator", "value", "1").removesuffix(" µε"))
    truth = beam.truth()
    per_kg = 6 * truth["gravity"] * (truth["part length m"] - truth["part gauge distance m"])
    per_kg /= truth["part elastic modulus pa"] * truth["part width m"] * truth["part thickness m"] ** 2
    expected = 1e6 * per_kg * truth["weight A"] * truth["top gauge factor"] / 2.00
    assert loaded - empty == pytest.approx(expected, rel=0.01)
    before = beam.clock.now()
    assert ask(beam, "weights", "empty") == "yes"
    assert beam.clock.now() > before
    assert beam.world.weights.on == set()


def test_it_reads_plates_and_keeps_what_it_has_looked_at_twice(beam: SimulatedRig) -> None:
    assert ask(beam, "indicator", "serial number") == "S-0031"
    assert ask(beam, "indicator", "keep", "1", otherwise="") == ""
    assert ask(beam, "indicator", "keep", "1").startswith("keep: ")


def test_a_bench_has_no_hands(beam: SimulatedRig) -> None:
    with pytest.raises(UsageError, match="worked by hand, and no wire leads to them"):
        beam.serve(0)
