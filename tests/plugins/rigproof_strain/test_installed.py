"""What a bridge says of its gauge as installed, against handbook formulas worked by hand."""

from __future__ import annotations

from math import inf, sqrt

import pytest

from rigproof.documents.rig import Gauge
from rigproof.models import Fact, Installation
from rigproof.quantities import parse, parse_uncertain
from rigproof.uncertainty import Input
from rigproof_strain.quarter import QuarterBridge

STEEL = Input("expansion", 11.7e-6, 0.3e-6 / sqrt(3), inf, "rectangular", "1/K")


def bridge(wires: int = 3) -> QuarterBridge:
    return QuarterBridge.model_validate({"wires": str(wires), "lead": "0.8 Ω"})


def stated(gauge: Gauge, **changes: object) -> Gauge:
    """The gauge of the spool (350 Ω, gauge factor 2.08) with all that its packet may say."""
    everything = {
        "compensated_for": parse_uncertain("11 ppm/K", "expansion"),
        "grid_area": parse("18 mm²", "area"),
        "power_density": parse("5 kW/m²", "power density"),
    }
    return gauge.model_copy(update=everything | changes)


def facts(gauge: Gauge, wires: int = 3, volt: float | None = 2.5, expansion: Input | None = STEEL) -> dict[str, Fact]:
    installed = Installation(gauge, volt, expansion, 340e-6)
    return {fact.name: fact for fact in bridge(wires).facts(installed)}


def cautions(gauge: Gauge, volt: float | None = 2.5, expansion: Input | None = STEEL) -> tuple[str, ...]:
    return bridge().cautions(Installation(gauge, volt, expansion, 340e-6))


def test_leads(gauge: Gauge) -> None:
    """Desensitisation RL/(Rg + RL), twice the lead on two wires; false strain 2 RL a/(GF Rg), none on three wires."""
    three, two = facts(stated(gauge)), facts(stated(gauge), wires=2)
    assert three["lead desensitisation"].value == pytest.approx(0.8 / 350.8)
    assert two["lead desensitisation"].value == pytest.approx(1.6 / 351.6)
    assert three["false strain of copper leads"].value == pytest.approx(0.0, abs=1e-12)
    assert two["false strain of copper leads"].value == pytest.approx(2 * 0.8 * 0.0039 / (2.08 * 350), rel=1e-4)


def test_heating(gauge: Gauge) -> None:
    """Power V²/(4 Rg) over the grid; the highest voltage is 2 sqrt(Rg A q)."""
    found = facts(stated(gauge))
    assert found["power density in the grid"].value == pytest.approx(2.5**2 / (4 * 350) / 18e-6)
    assert found["highest excitation"].value == pytest.approx(2 * sqrt(350 * 18e-6 * 5000))
    assert facts(stated(gauge, grid_area=None))["power in the grid"].value == pytest.approx(2.5**2 / (4 * 350))


def test_thermal_output_is_what_the_part_grows_more_than_the_gauge_is_made_for(gauge: Gauge) -> None:
    found = facts(stated(gauge))["thermal output"]
    everywhere = 1.004 / (1 - 0.285 * 0.004)  # stretched in all directions, the grid answers by (1 + Kt)/(1 - nu0 Kt)
    assert found.value == pytest.approx(0.7e-6 * everywhere, rel=1e-3)
    assert found.u == pytest.approx(0.3e-6 / sqrt(3) * everywhere, rel=1e-3)


def test_insulation_and_linear_law(gauge: Gauge) -> None:
    """Rg/(GF e) for a leak that adds e; the linear law falls short by GF e²/2 on a quarter bridge."""
    found = facts(stated(gauge))
    assert found["least insulation for 1 µε"].value == pytest.approx(350 / (2.08 * 1e-6))
    assert found["error of a linear indicator"].value == pytest.approx(-2.08 * 340e-6**2 / 2, rel=5e-3)


def test_nothing_is_guessed(gauge: Gauge) -> None:
    bare = facts(gauge, volt=None, expansion=None)
    assert not {"thermal output", "power density in the grid", "power in the grid", "highest excitation"} & set(bare)
    heat, warmth = cautions(gauge.model_copy(update={"compensated_for": None}), volt=None)
    assert heat.endswith("for want of `grid area:` and `power density:` and the excitation")
    assert warmth.endswith("for want of `compensated for:` of the gauge")
    assert cautions(stated(gauge), expansion=None)[-1].endswith("for want of an expansion of the part")


def test_cautions_of_heat_and_warmth(gauge: Gauge) -> None:
    heat, warmth = cautions(stated(gauge), volt=12.0)
    assert heat == (
        "12 V leaves 5.7 kW/m² in the grid, above the 5 kW/m² that it may take: lower the excitation to 11.22 V or less"
    )
    assert "drift of the bay reads as strain, up to 1.1 µε/K" in warmth  # 1.005 (0.7 + 2 · 0.173) = 1.051
    assert cautions(stated(gauge, temperature="wall temperature")) == ()
    matched = Input("expansion", 11e-6, 0.0, inf, "exact", "1/K")
    assert cautions(stated(gauge), expansion=matched) == ()


def test_every_fact_has_the_kind_of_its_value(gauge: Gauge) -> None:
    """A plan shows them by it: a wrong one would be a wrong unit."""
    said = {name: fact.kind for name, fact in facts(stated(gauge)).items()}
    assert said == {
        "lead desensitisation": "ratio",
        "false strain of copper leads": "strain per temperature",
        "thermal output": "strain per temperature",
        "power density in the grid": "power density",
        "highest excitation": "voltage",
        "least insulation for 1 µε": "insulation resistance",
        "error of a linear indicator": "strain",
    }
    assert facts(stated(gauge, grid_area=None))["power in the grid"].kind == "power"


@pytest.mark.parametrize(
    ("factor", "usual"), [("2.08", True), ("4.5", True), ("120", True), ("20.8", False), ("0.6", False)]
)
def test_a_slip_in_the_gauge_factor_is_asked_about(gauge: Gauge, factor: str, usual: bool) -> None:
    """Foil 1.8 to 4.7, silicon 40 to 200: common practice, no source."""
    other = stated(gauge, gauge_factor=parse_uncertain(factor, "number"), temperature="wall temperature")
    said = [text for text in cautions(other) if "unusual" in text]
    assert len(said) == (not usual)
    assert all(f"gauge factor of {factor} is" in text for text in said)
