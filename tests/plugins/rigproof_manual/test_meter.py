"""The talk about a reading: typed, repeated back, corrected or kept."""

from __future__ import annotations

from collections.abc import Callable
from math import inf

import numpy as np
import pytest

from rigproof.errors import InstrumentError
from rigproof.people import NOBODY
from rigproof_manual.meter import ManualMeter

Make = Callable[..., ManualMeter]


def texts(meter: ManualMeter) -> list[str]:
    return [question.text for question in meter.connection.person.asked]  # type: ignore[attr-defined]


def test_a_typed_value_is_repeated_back_and_kept_with_enter(meter: Make) -> None:
    made = meter("1000", "")
    assert made.read([1], 1, 0.02) == pytest.approx(np.array([[0.5e-3]]))
    assert texts(made) == [
        "strain indicator, channel 1, in µε:",
        "strain indicator, channel 1: 1000 µε. Enter keeps it; or type the right value.",
    ]


def test_a_correction_is_repeated_back_again(meter: Make) -> None:
    made = meter("10000", "1000", "")  # out of range, then right
    assert made.read([1], 1, 0.0)[0, 0] == pytest.approx(0.5e-3)
    made = meter("100", "1000", "yes")
    assert made.read([1], 1, 0.0)[0, 0] == pytest.approx(0.5e-3)
    assert "1000 µε. Enter keeps it" in texts(made)[-1]


def test_an_implausible_value_asks_again_with_the_reason(meter: Make) -> None:
    made = meter("5000", "", "5000", "keep: bent in transport")
    assert made.read([1], 1, 0.0)[0, 0] == pytest.approx(2.5e-3)
    assert "5000 µε is not between -3000 µε and 3000 µε" in texts(made)[1]
    assert "nothing was typed" in texts(made)[2]


def test_to_keep_without_a_reason_keeps_the_value_waiting(meter: Make) -> None:
    made = meter("5000", "keep:", "keep: x", "keep: bent in transport")
    assert made.read([1], 1, 0.0)[0, 0] == pytest.approx(2.5e-3)
    assert texts(made)[2].startswith(
        "'keep:' gives no reason; write it behind `keep:`, a word at least. 5000 µε waits. strain indicator"
    )
    assert texts(made)[3].startswith("'keep: x' gives no reason; ")
    assert texts(made)[3].count("gives no reason") == 1
    asked = made.connection.person.asked  # type: ignore[attr-defined]
    assert [question.amiss.partition(" ")[0] for question in asked] == ["", "strain", "'keep:'", "'keep:"]


def test_a_value_that_waits_for_a_reason_can_be_corrected(meter: Make) -> None:
    made = meter("5000", "keep:", "500", "keep")  # where it is plausible no reason is due
    assert made.read([1], 1, 0.0)[0, 0] == pytest.approx(0.25e-3)


def test_a_decimal_comma_is_refused_and_asked_again(meter: Make) -> None:
    made = meter("21,3", "21.3", "")
    assert made.read([2], 1, 0.0)[0, 0] == pytest.approx(21.3)
    assert "write a decimal point" in texts(made)[1]


def test_where_the_answers_end_the_instrument_is_lost(meter: Make) -> None:
    with pytest.raises(InstrumentError, match="indicator: no answer"):
        meter("1000").read([1], 1, 0.0)


def test_several_readings_are_each_asked_for(meter: Make) -> None:
    made = meter("10", "", "11", "", "10", "", readings=3)
    assert made.read([1], 3, 0.0)[:, 0] == pytest.approx(np.array([10, 11, 10]) * 0.5e-6)
    assert texts(made)[2].startswith("Reading 2 of 3. ")
    assert type(made).most_readings(made.settings) == 3


def test_an_overload_is_nan_and_of_insulation_infinite(meter: Make) -> None:
    assert np.isnan(meter("overload", "").read([1], 1, 0.0)).all()
    assert meter("overload", "").insulation_ohm(1, -50.0, 60.0) == inf


def test_an_input_without_a_display_is_named(meter: Make) -> None:
    with pytest.raises(InstrumentError, match="input=7: its settings have no such input; they have 1, 2"):
        meter().read([7], 1, 0.0)


def test_the_serial_number_is_asked_and_repeated_back(meter: Make) -> None:
    made = meter("", "S-31", "S-0031", "")
    assert made.open().serial_number == "S-0031"


def test_the_resolution_counts_in_the_channel_s_accuracy(meter: Make) -> None:
    stated = ManualMeter.stated_accuracy(meter().settings, 1)
    assert stated is not None
    assert stated.resolution is not None
    assert stated.resolution.value == pytest.approx(0.5e-6)  # 1 µε at a gauge factor of 2: 0.5 µV/V


def test_nobody_there_is_an_error_with_a_remedy(meter: Make) -> None:
    made = meter()
    alone = ManualMeter(type(made.connection)("indicator", "", "", 1.0, made.connection.clock), made.settings)
    assert alone.connection.person is NOBODY
    with pytest.raises(InstrumentError, match="nobody is there to be asked; use `rigproof run` in a terminal"):
        alone.read([1], 1, 0.0)
