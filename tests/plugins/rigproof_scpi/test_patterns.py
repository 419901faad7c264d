"""Forms of replies: one reading each, in bounded time; a number that was written comes back."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.quantities import WrittenError
from rigproof_scpi.patterns import form, message, number_text

PLACES = ("value", "input", "maker", "model")


@pytest.mark.parametrize(
    ("written", "reply", "found"),
    [
        ("{value}", "23.4", {"value": "23.4"}),
        ("T={value} C", "T=  -23.4 C", {"value": "-23.4"}),
        ("T={value} C", "T=- 23.4 C", {"value": "-23.4"}),
        ("T={value} C", "T=23.4 K", None),
        ("T={value} C", "T=23.4 C ", None),
        ("T={value} C", "T=23.4", None),
        ("{value}", "1,5", None),
        ("{value}", "1.5.2", None),
        ("{value}", "", None),
        ("{value}", "nan", None),
        ("{value}", "1E5", {"value": "1E5"}),
        ("{value}", "1E555", None),
        ("{value}", "9" * 40, None),
        ("CH{input}:{value}", "CH3:1", {"value": "1"}),
        ("CH{input}:{value}", "CH1:1", None),
        ("*,{value},*", "A,1,2,3", {"value": "1"}),  # from left to right, without going back
        ("*,{value}*"[:-1], "A,B,1", None),
        ("{maker},{model},*", "a,b,c,d", {"maker": "a", "model": "b"}),
        ("*OK", "OKOK", {}),
        ("*OK", "OK?", None),
        ("V{maker}-{model}", "V12-34-5", {"maker": "12", "model": "34-5"}),
    ],
)
def test_a_form_has_one_reading(written: str, reply: str, found: dict[str, str] | None) -> None:
    got = form(written, PLACES).match(reply, channel_input="3")
    assert (got if got is None else {k: v for k, v in got.items() if k != "*"}) == found


@given(st.floats(-1e9, 1e9), st.integers(0, 9), st.booleans(), st.integers(0, 9), st.text("ABC =/:", max_size=9))
def test_a_number_that_is_sent_is_the_number_that_is_read(
    value: float, decimals: int, comma: bool, blanks: int, before: str
) -> None:
    text = number_text(value, decimals, comma)
    found = form(before + "{value} u", PLACES).match(f"{before}{' ' * blanks}{text} u", comma)
    assert found is not None
    assert math.isclose(float(found["value"]), value, abs_tol=0.5000001 * 10.0**-decimals, rel_tol=1e-15)


@given(st.text(max_size=600))
def test_no_reply_breaks_a_form(reply: str) -> None:
    for written in ("*,{value},*", "{maker};{model};*", "T{input}={value} C", "*"):
        form(written, PLACES).match(reply, channel_input="1")


def test_a_hostile_reply_costs_no_time() -> None:
    """Twenty stars against a long reply that almost fits: each place is looked for once."""
    written = form("*a" * 20 + "b", PLACES)
    assert written.match("a" * 200_000) is None


@pytest.mark.parametrize(
    ("written", "says"),
    [
        ("{valeu}", "did you mean 'value'"),
        ("{value", "without its partner"),
        ("T}", "without its partner"),
        ("*{value}", "nothing stands between"),
        ("{value}*", "nothing stands between"),
        ("**", "nothing stands between"),
        ("{maker}{model}", "nothing stands between"),
        ("{value}{value}", "place twice"),
        ("{value}0", "part of the number"),
        ("{value}.", "part of the number"),
        ("T\r", "terminator"),
        ("T€", "Latin-1"),
        ("", "is a text"),
        ("a" * 201, "at most 200"),
        ("*a" * 21, "more than 20"),
    ],
)
def test_forms_that_are_refused(written: str, says: str) -> None:
    with pytest.raises(WrittenError, match=says):
        form(written, PLACES)


def test_messages_are_sent_as_written() -> None:
    assert message("*IDN?", ()).filled() == "*IDN?"
    assert message("CH{input}:SET {value}", ("input", "value")).filled(input="2", value="1.5") == "CH2:SET 1.5"
    with pytest.raises(WrittenError, match="known here: none"):
        message("GO {value}", ())
