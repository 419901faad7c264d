"""The table of the industrial platinum thermometer."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from rigproof_strain import pt100
from rigproof_strain.pt100 import Pt100

Case = Callable[[str], Any]

CELSIUS = (-200, -100, -50, 0, 50, 100, 150, 200, 400, 600, 850)


@pytest.mark.parametrize("celsius", CELSIUS)
def test_resistance_of_the_table(uncertainty_case: Case, celsius: int) -> None:
    case = uncertainty_case("iec60751-pt100")
    case.check(**{f"R_{celsius}": case.inputs["R0"] * float(pt100.resistance_ratio(float(celsius)))})


@pytest.mark.parametrize("ohm", ["100.0", "119.4", "138.51", "175.86"])
def test_temperature_of_a_printed_resistance(uncertainty_case: Case, ohm: str) -> None:
    uncertainty_case("iec60751-pt100").check(**{f"t_from_{ohm}": float(Pt100().reduce(float(ohm), 0.0, 100.0))})


@pytest.mark.parametrize("celsius", CELSIUS[1:-1])
def test_printed_resistances_give_the_temperature_back_within_the_print(uncertainty_case: Case, celsius: int) -> None:
    """Half a unit of the last place (5 mΩ) is at most 17 mK."""
    printed = uncertainty_case("iec60751-pt100").expected[f"R_{celsius}"]["published"]
    assert Pt100().reduce(printed, 0.0, 100.0) == pytest.approx(celsius, abs=0.017)


def test_the_constants_are_those_of_the_present_scale(uncertainty_case: Case) -> None:
    given = uncertainty_case("iec60751-pt100").inputs
    assert (given["A"], given["B"], given["C"]) == (pt100.A, pt100.B, pt100.C)


@pytest.mark.parametrize(("name", "text"), [("AA", "0.10+0.0017|t|"), ("A", "0.15+0.002|t|"), ("B", "0.30+0.005|t|")])
def test_the_tolerance_classes(uncertainty_case: Case, name: str, text: str) -> None:
    assert uncertainty_case("iec60751-pt100").inputs["classes_degC"][name] == text
    constant, share = pt100.CLASSES[name]
    assert f"{constant:.2f}+{share:g}|t|" == text
