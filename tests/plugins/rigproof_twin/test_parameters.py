"""Parameters of SCPI messages: IEEE 488.2-1992, 7.7 and SCPI-1999, volume 1, 7 and 8.3.2 (from memory)."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof_twin.parameters import Channels, Kind, Number, Switch, Whole, Word, short
from rigproof_twin.status import ScpiError

NUMBER = Number(-10.0, 1e6)


@pytest.mark.parametrize(
    ("kind", "text", "value"),
    [
        (NUMBER, "2.5", 2.5),
        (NUMBER, "+2.5E+0", 2.5),
        (NUMBER, "-.5", -0.5),
        (NUMBER, "5.", 5.0),
        (NUMBER, "1 e 3", 1000.0),
        (NUMBER, "1E-400", 0.0),
        (NUMBER, "MIN", -10.0),
        (NUMBER, "Maximum", 1e6),
        (Whole(1, 100), "2.5", 2),
        (Whole(1, 100), "99.7", 100),
        (Switch(), "on", True),
        (Switch(), "OFF", False),
        (Switch(), "0.4", False),
        (Switch(), "-1", True),
        (Word(("REAL", "ASCii")), "ascii", "ASC"),
        (Word(("REAL", "ASCii")), "ASC", "ASC"),
        (Channels(), "(@1)", (1,)),
        (Channels(), "( @ 3 , 1:2 )", (3, 1, 2)),
        (Channels(), "(@4:2)", (4, 3, 2)),
    ],
)
def test_what_a_parameter_means(kind: Kind, text: str, value: Any) -> None:
    got = kind.read(text)
    assert got == value
    assert type(got) is type(value)


@pytest.mark.parametrize(
    ("kind", "text", "number"),
    [
        (NUMBER, "1e7", -222),
        (NUMBER, "-10.1", -222),
        (Number(), "1E400", -222),
        (NUMBER, "1E40000", -123),
        (NUMBER, "1E" + "9" * 5000, -123),
        (NUMBER, "1" * 256, -124),
        (NUMBER, "2.5.1", -121),
        (NUMBER, "1_000", -121),
        (NUMBER, "--1", -121),
        (NUMBER, "2.5 V", -138),
        (NUMBER, "2.5mV", -138),
        (NUMBER, "nan", -148),
        (NUMBER, "INF", -148),
        (Number(), "MAX", -148),
        (NUMBER, '"2.5"', -158),
        (NUMBER, "#H10", -168),
        (NUMBER, "(@1)", -178),
        (Whole(1, 100), "100.6", -222),
        (Switch(), "PERHAPS", -224),
        (Switch(), "'ON'", -158),
        (Word(("REAL", "ASCii")), "ASCI", -224),
        (Word(("REAL", "ASCii")), "64", -104),
        (Channels(), "1", -104),
        (Channels(), "ALL", -148),
        (Channels(), "(1)", -171),
        (Channels(), "(@)", -171),
        (Channels(), "(@1,,2)", -171),
        (Channels(), "(@1:2:3)", -171),
        (Channels(), "(@1:99999999)", -171),
        (Channels(), "(@-1)", -171),
    ],
)
def test_what_is_wrong_with_a_parameter(kind: Kind, text: str, number: int) -> None:
    with pytest.raises(ScpiError) as caught:
        kind.read(text)
    assert caught.value.number == number


@given(st.floats(-10.0, 1e6))
def test_every_number_written_by_python_is_read_exactly(value: float) -> None:
    assert NUMBER.read(repr(value)) == value


@given(
    st.sampled_from([NUMBER, Number(), Whole(0, 9), Switch(), Word(("REAL", "ASCii")), Channels()]),
    st.text(min_size=1),
)
def test_whatever_is_written_gives_a_value_or_an_error_number(kind: Kind, text: str) -> None:
    number = 0
    try:
        kind.read(text)
    except ScpiError as error:
        number = error.number
    assert number == 0 or -230 < number < -100


def test_the_short_form_is_the_capitals() -> None:
    assert [short(word) for word in ("SOURce", "TINTerval", "SLEW", "*IDN")] == ["SOUR", "TINT", "SLEW", "*IDN"]
