"""What may be typed as a reading, and what it then stands for."""

from __future__ import annotations

from math import isnan
from typing import Any

import pytest
from pydantic import ValidationError

from rigproof.quantities import WrittenError
from rigproof_manual.display import Display, keeps, lacks_reason


@pytest.mark.parametrize(
    ("typed", "strain"),
    [("123", 123e-6), ("123 µε", 123e-6), ("-45 ue", -45e-6), ("+7", 7e-6), ("0.5 mm/m", 500e-6), (" 12 um/m ", 12e-6)],
)
def test_a_value_is_typed_with_its_unit_or_bare_in_the_stated_one(
    indicator: Display, typed: str, strain: float
) -> None:
    assert indicator.read(typed) == pytest.approx(strain)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("", "nothing was typed"),
        ("12,5", "write a decimal point, as in '12.5"),
        ("12.5", "finer than the display"),
        (">20", "type `overload`"),
        ("12 bar", "is a unit of"),
        ("twelve", "does not begin with a number"),
        ("\x1b[A", "does not begin with a number"),
        ("keep", "does not begin with a number"),
    ],
)
def test_what_is_no_reading_is_refused_with_a_hint(indicator: Display, typed: str, said: str) -> None:
    with pytest.raises(WrittenError, match=said.replace(".", r"\.")):
        indicator.read(typed)


def test_overload_is_no_number(indicator: Display) -> None:
    assert isnan(indicator.read("Overload"))
    assert indicator.plausible(float("nan"))
    assert indicator.shown(float("nan")) == "overload"


def test_a_strain_indicator_is_turned_back_into_bridge_output(indicator: Display) -> None:
    """1000 µε at a gauge factor of 2.00 is 0.5 mV/V: of a quarter bridge (GF strain/4, any handbook)."""
    assert indicator.read("1000") * indicator.per_shown == pytest.approx(0.5e-3)
    assert indicator.gives == "bridge output"


def test_a_temperature_keeps_its_zero(thermometer: Display) -> None:
    assert thermometer.read("21.3") == pytest.approx(21.3)
    assert thermometer.shown(21.3) == "21.3 °C"
    assert thermometer.read("300.15 K") == pytest.approx(27.0)


def test_the_repeat_back_has_the_digits_of_the_display(indicator: Display) -> None:
    assert indicator.shown(indicator.read("-0.012 mm/m")) == "-12 µε"


def test_only_a_reason_keeps_what_is_not_plausible(indicator: Display) -> None:
    assert not indicator.plausible(indicator.read("3001"))
    assert keeps("", plausible=True)
    assert not keeps("", plausible=False)
    assert not keeps("keep", plausible=False)
    assert not keeps("keep: ", plausible=False)
    assert keeps("keep: bent in transport", plausible=False)


@pytest.mark.parametrize("typed", ["keep", "keep:", " KEEP : x ", "keep it, bent in transport"])
def test_to_keep_without_a_reason_is_known_for_what_it_is(typed: str) -> None:
    assert lacks_reason(typed)
    assert keeps(typed, plausible=True)  # there no reason is due


@pytest.mark.parametrize("typed", ["", "yes", "3000", "keeper", "keep: bent in transport"])
def test_nothing_else_is_taken_for_that(typed: str) -> None:
    assert not lacks_reason(typed)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"reads": "strian"}, "no kind of quantity"),
        ({"unit": "bar"}, "no unit of strain"),
        ({"gauge factor set": None}, "an indicator shows strain for a gauge factor"),
        ({"resolution": "0 µε"}, "not above 0"),
        ({"highest": "-4000 µε"}, "is not above"),
        ({"lowest": "12"}, "no unit"),
    ],
)
def test_settings_that_cannot_be_are_refused(written: dict[str, Any], change: dict[str, Any], said: str) -> None:
    with pytest.raises(ValidationError, match=said):
        Display.model_validate({**written, **change})


def test_a_gauge_factor_belongs_to_strain_alone() -> None:
    with pytest.raises(ValidationError, match="belongs to a display of strain"):
        Display.model_validate(
            {
                "label": "ohmmeter",
                "reads": "resistance",
                "unit": "Ω",
                "gauge factor set": "2",
                "resolution": "1 mΩ",
                "lowest": "0 Ω",
                "highest": "1 kΩ",
            }
        )
