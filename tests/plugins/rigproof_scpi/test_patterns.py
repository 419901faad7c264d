"""Forms of replies: one reading each, in bounded time; a number that was written comes back."""

from __future__ import annotations

import math
import re

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
        ("*,{value}", "A,B,1", None),
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


# Literal texts and places in turn, as a form must have them; they share letters, so that they overlap in replies.
LITERALS = st.text("ab,; ", min_size=1, max_size=3)
WRITTEN = st.lists(st.tuples(LITERALS, st.sampled_from(["*", "{maker}", "{model}"])), min_size=1, max_size=4).filter(
    lambda parts: all([place for _, place in parts].count(one) <= 1 for one in ("{maker}", "{model}"))
)


@given(WRITTEN, st.one_of(st.just(""), LITERALS), st.text("ab,; ", max_size=30))
def test_what_is_matched_has_the_form_by_regular_expressions_too(
    parts: list[tuple[str, str]], last: str, reply: str
) -> None:
    """Python's `re` as the second route: a match here is one there; where `re` finds none there is none here."""
    written = "".join(literal + place for literal, place in parts) + last
    pattern = "".join(re.escape(literal) + "(.*)" for literal, _ in parts) + re.escape(last)
    for text in (reply, written.replace("*", reply).replace("{maker}", "a,b").replace("{model}", "")):
        found = form(written, PLACES).match(text)
        if found is None:
            continue
        assert re.fullmatch(pattern, text)
        rebuilt = "".join(re.escape(lit) + (".*" if pl == "*" else re.escape(found[pl[1:-1]])) for lit, pl in parts)
        assert re.fullmatch(rebuilt + re.escape(last), text)


@given(WRITTEN, st.lists(st.text("0123", max_size=5), min_size=4, max_size=4), st.one_of(st.just(""), LITERALS))
def test_texts_without_the_literals_come_back(parts: list[tuple[str, str]], texts: list[str], last: str) -> None:
    """What was filled in is what is found, where it shares no letter with what stands around it."""
    written = "".join(literal + place for literal, place in parts) + last
    reply = "".join(literal + text for (literal, _), text in zip(parts, texts, strict=False)) + last
    found = form(written, PLACES).match(reply)
    assert found is not None
    for (_, place), text in zip(parts, texts, strict=False):
        assert place == "*" or found[place[1:-1]] == text


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
        ("", "is empty"),
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
