"""A force cell by its rated output, seen as strain."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from rigproof.documents import load_rig
from rigproof.errors import DocumentError, NumberError
from rigproof.plugins import Registry
from rigproof.uncertainty import Budget
from rigproof_parts.force_cell import ForceCell

CELL: dict[str, Any] = {
    "rated load": "10 kN",
    "rated output": "2 mV/V ± 0.1 %",
    "combined error": "0.05 %",
    "safe load limit": "15 kN",
    "gauge factor": "2",
}


def cell(**changes: str) -> ForceCell:
    return ForceCell.model_validate(CELL | {key.replace("_", " "): value for key, value in changes.items()})


def nominal(part: ForceCell) -> list[float]:
    return [item.value for item in part.inputs()]


@given(load=st.floats(-1e4, 1e4), factor=st.floats(0.5, 5.0), kt=st.floats(-0.1, 0.1))
def test_a_full_bridge_of_that_gauge_factor_shows_the_output(load: float, factor: float, kt: float) -> None:
    """A gauge reports (ea + Kt et)/(1 - 0.285 Kt); the full bridge gives gauge factor times that, whatever Kt."""
    part = cell(gauge_factor=f"{factor:.6f}")
    along, across = (float(e) for e in part.strain(load, "bridge", *nominal(part)))
    reported = (along + kt * across) / (1 - 0.285 * kt)
    assert reported * part.gauge_factor.value == pytest.approx(2e-3 * load / 10e3, rel=1e-12, abs=1e-20)


def test_the_certificate_makes_the_budget() -> None:
    part = cell()
    estimate = Budget(lambda *values: part.output(10e3, *values), part.inputs()).evaluate()
    assert estimate.value == pytest.approx(2e-3)
    limits = 2e-3 * np.hypot(0.1e-2, 0.05e-2)
    assert estimate.u == pytest.approx(limits / np.sqrt(3), rel=1e-6)
    assert [(item.name, item.shape) for item in part.inputs()] == [
        ("rated output", "rectangular"),
        ("combined error", "rectangular"),
    ]
    assert cell(combined_error="0 %").inputs()[1].shape == "exact"


def test_the_error_is_a_share_of_the_rated_output_at_every_load() -> None:
    part = cell()
    assert part.output(1e3, 2e-3, 0.0005) - part.output(1e3, 2e-3, 0.0) == pytest.approx(2e-3 * 0.0005, rel=1e-9)


def test_a_cell_wired_the_other_way() -> None:
    part = cell(rated_output="-2 mV/V ± 0.1 %")
    assert part.output(5e3, *nominal(part)) == pytest.approx(-1e-3)


def test_arrays_give_what_numbers_give() -> None:
    part, loads = cell(), np.linspace(-1e4, 1e4, 7)
    strains = np.array([part.strain(float(load), "bridge", *nominal(part)) for load in loads]).T
    assert np.array(part.strain(loads, "bridge", *nominal(part))) == pytest.approx(strains, rel=1e-12)


def test_the_limit_is_that_of_the_data_sheet() -> None:
    part = cell()
    assert part.yield_load() == part.proof_limit() == 15e3
    assert part.load_per_kelvin(1.0, *nominal(part)) == 0
    text = part.cautions(12e3)
    assert text[0] == "12 kN is 80 % of 15 kN, the safe load limit."
    assert text[1] == "12 kN is above the rated load of 10 kN: the certificate ends."
    assert part.cautions(-12e3)[1].startswith("-12 kN is above")
    assert "certificate" not in " ".join(part.cautions(10e3))
    assert "keep hands and feet out" in " ".join(part.cautions(10e3))


def test_facts_give_output_and_share() -> None:
    *_, share, output = cell().facts(-4e3)
    assert (share.name, share.kind, share.note) == ("share of the rated load", "ratio", "")
    assert (output.name, output.kind, output.note) == ("bridge output", "bridge output", "straight line through zero")
    assert (share.value, output.value) == pytest.approx((0.4, -0.8e-3))


@pytest.mark.parametrize(
    ("changes", "place", "message"),
    [
        ({"rated_output": "0 mV/V"}, "rated output", "'0 mV/V' has 0 within its limits; write the output at the rated"),
        ({"rated_output": "1 mV/V ± 1 mV/V"}, "rated output", "has 0 within its limits"),
        ({"rated_output": "-1 mV/V ± 1 mV/V"}, "rated output", "has 0 within its limits"),
        ({"rated_output": "2 mV"}, "rated output", "mV"),
        (
            {"safe_load_limit": "9.9 kN"},
            "safe load limit",
            "'9.9 kN' is below the rated load of '10 kN'; write the load",
        ),
        ({"combined_error": "6 %"}, "combined error", "at most 5 %"),
        ({"combined_error": "-1 %"}, "combined error", "at least 0 %"),
        ({"rated_load": "0 N"}, "rated load", "above 0 N"),
        ({"rated_load": "10 kg", "safe_load_limit": "1 N"}, "rated load", "kg"),
        ({"safe_load_limit": "0 N"}, "safe load limit", "above 0 N"),
        ({"gauge_factor": "0"}, "gauge factor", "above 0"),
    ],
)
def test_a_cell_that_cannot_be_is_refused(changes: dict[str, str], place: str, message: str) -> None:
    with pytest.raises(ValidationError, match=message) as refused:
        cell(**changes)
    assert [error["loc"] for error in refused.value.errors()] == [(place,)]


def test_what_just_may_be_is_taken() -> None:
    assert cell(safe_load_limit="10 kN", combined_error="5 %").proof_limit() == 10e3


def test_another_place_is_refused() -> None:
    with pytest.raises(NumberError, match="place = 'axial': a force cell has only bridge; write that"):
        cell().strain(1.0, "axial", *nominal(cell()))


RIG = """\
rigproof: rig/1
name: Force cell on the bench
part: {{model: force cell, rated load: 50 kN, rated output: 2 mV/V ± 0.1 %, combined error: 0.03 %,
       safe load limit: 75 kN, gauge factor: 2}}
gauges:
  bridge: {{at: bridge, resistance: 350 Ω, gauge factor: {factor}}}
channels:
  cell:
    measures: strain
    gauge: bridge
    reduction: {{model: full bridge, arrangement: bending, wires: 6, lead: 0.5 Ω}}
    instrument: amplifier
    input: 1
instruments:
  amplifier:
    driver: bridge amplifier
    resource: TCPIP::192.0.2.11::5025::SOCKET
    timeout: 5 s
    settings: {{excitation: 5 V}}
"""


def test_the_gauge_factor_stands_in_both_entries(registry: Registry) -> None:
    """Another one in the gauge's entry would scale every expected strain in silence."""
    assert load_rig(text=RIG.format(factor="2"), registry=registry).part.kind == "force cell"
    for factor in ("2.08", "2 ± 1 %"):
        with pytest.raises(DocumentError, match=f"gauges: bridge: its gauge factor is '{factor}', .* '2'"):
            load_rig(text=RIG.format(factor=factor), registry=registry)
