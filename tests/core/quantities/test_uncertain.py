"""Values with their uncertainty, in the three forms people state them."""

from __future__ import annotations

import math
from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.errors import QuantityError
from rigproof.quantities import KINDS, FormError, Uncertain, parse_uncertain

SQRT_3 = math.sqrt(3)


def test_limits_are_rectangular_gum_4_3_7() -> None:
    # JCGM 100:2008, 4.3.7, example 2: α within (16.92 ± 0.40)e-6 /°C gives u = 0.23e-6 /°C (from memory)
    found = parse_uncertain("16.92 ppm/K ± 0.40 ppm/K", "expansion")
    assert found.u == pytest.approx(0.23e-6, abs=0.005e-6)
    assert (found.shape, found.dof) == ("rectangular", math.inf)
    assert found.lower == pytest.approx(16.52e-6)
    assert found.upper == pytest.approx(17.32e-6)


def test_a_certificate_is_u_over_k_gum_4_3_3() -> None:
    # JCGM 100:2008, 4.3.4, example: 10.000 742 Ω ± 129 µΩ at 99 %, k = 2.58, gives u = 50 µΩ (from memory)
    found = parse_uncertain({"value": "10.000742 Ω", "U": "129 µΩ", "k": "2.58"}, "resistance")
    assert found.u == pytest.approx(50e-6, abs=0.5e-6)
    assert (found.shape, found.dof) == ("normal", math.inf)
    assert found.upper == found.value + 2 * found.u


def test_statistics_are_a_mean_gum_4_2_3() -> None:
    found = parse_uncertain({"value": "3.2 mV", "s": "0.4 µV", "n": "20"}, "voltage")
    assert found.u == pytest.approx(0.4e-6 / math.sqrt(20))
    assert (found.shape, found.dof) == ("t", 19.0)


def test_a_plain_value_is_exact() -> None:
    found = parse_uncertain("350 Ω", "resistance")
    assert (found.value, found.u, found.shape) == (350.0, 0.0, "exact")
    assert found.lower == found.value == found.upper


RELATIVE = [
    ("219.1 mm ± 0.5 %", "length", 0.2191 * 0.005),
    ("219.1 mm +/- 0.5 %", "length", 0.2191 * 0.005),
    ("219.1 mm +- 1.0955 mm", "length", 1.0955e-3),
    ("350 Ω ± 100 ppm", "resistance", 0.035),
    ("-600 µε ± 1 %", "strain", 6e-6),
    ("2.08 ± 0.5 %", "number", 0.0104),
    ("2.08 ± 0.0104", "number", 0.0104),
    ("0.4 % ± 0.2 %", "ratio", 0.002),  # as gauge packets print it: beside a % a % is absolute
    ("0.004 ± 50 %", "ratio", 0.002),
    ("20 °C ± 0.5 K", "temperature", 0.5),
    ("35 bar ± 200 mbar", "gauge pressure", 2e4),
]


@pytest.mark.parametrize(("text", "kind", "half"), RELATIVE)
def test_limits(text: str, kind: str, half: float) -> None:
    assert parse_uncertain(text, kind).u == pytest.approx(half / SQRT_3, rel=1e-12)


BAD = [
    ("219.1 ± 0.5 mm", "length", "'219.1' has no unit"),
    ("219.1 mm ± 0.5", "length", "'0.5' has no unit"),
    ("219.1 mm ±", "length", "nothing stands after ±"),
    ("219.1 mm ± 1 % ± 2 %", "length", "has two ±"),
    ("219.1 mm ± -1 %", "length", "is negative"),
    ("219.1 mm ± 0,5 %", "length", "has a comma in the number; write a decimal point, as in '219.1 mm ± 0.5 %'"),
    ("219,1 mm ± 0,5 %", "length", "has commas in its numbers; write a decimal point, as in '219.1 mm ± 0.5 %'"),
    ("20 °C ± 1 %", "temperature", "depends on where the scale has its zero"),
    ("20 °C ± 1 °C", "temperature", "'°C' is a unit of temperature, and a temperature difference is wanted"),
    ("0 µε ± 1 %", "strain", "of 0 is nothing"),
    ("0.4 % ± 0.2", "ratio", "has no unit: a ratio is wanted; write it in %, ‰ or ppm, for example '± 1 %'"),
    ("350 Ω ± 0.3", "resistance", "write it in a unit of resistance or in % of the value, for example '± 1 Ω'"),
    ("20 °C ± 1", "temperature", "write it in a unit of temperature difference, for example '± 1 K'"),
    ("2.08 ± 300 %", "number", "'300 %' is as much as the whole; write a smaller share"),
    ({"value": "2.08", "s": "-0.1 %", "n": "5"}, "number", "'-0.1 %' is negative; write its size, without a sign"),
    ({"value": "2.08", "U": "0.5 %", "k": "50"}, "number", "k = 50 is not above 0 and at most 14"),
    ("2 mV/V ± 1 µε", "bridge output", "'µε' is a unit of strain"),
    (None, "length", "nothing stands where a text is wanted"),
]


@pytest.mark.parametrize(("text", "kind", "said"), BAD)
def test_refuses(text: object, kind: str, said: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_uncertain(text, kind)
    assert said in str(caught.value)


BAD_FORMS = [
    ({"value": "2.08", "U": "0.5 %"}, {"k"}, set(), set()),
    ({"value": "2.08", "U": "0.5 %", "k": "0"}, set(), set(), {"k"}),
    ({"value": "2.08", "U": "0.5 %", "k": "two"}, set(), set(), {"k"}),
    ({"value": "2.08 mm", "U": "0.5 bar", "k": "2", "n": "3"}, set(), {"n"}, {"value", "U"}),
    ({"value": "2.08", "s": "0.1", "n": "1"}, set(), set(), {"n"}),
    ({"value": "2.08", "s": "0.1", "n": "2.5"}, set(), set(), {"n"}),
    ({"s": "0.1", "n": "3"}, {"value"}, set(), set()),
    ({"value": "2.08", "u": "0.1", "k": "2"}, {"U"}, {"u"}, set()),
    ({}, {"value", "U", "k"}, set(), set()),
]


@pytest.mark.parametrize(("written", "missing", "unknown", "wrong"), BAD_FORMS)
def test_a_form_reports_everything(
    written: dict[str, str], missing: set[str], unknown: set[str], wrong: set[str]
) -> None:
    with pytest.raises(FormError) as caught:
        parse_uncertain(written, "number")
    error = caught.value
    assert (set(error.missing), set(error.unknown), set(error.problems)) == (missing, unknown, wrong)


def test_becomes_an_input_of_a_budget() -> None:
    found = parse_uncertain({"value": "3.2 mV", "s": "0.4 µV", "n": "20"}, "voltage").input("output")
    assert (found.name, found.value, found.dof, found.shape, found.unit) == ("output", 3.2e-3, 19.0, "t", "V")
    assert found.u == pytest.approx(0.4e-6 / math.sqrt(20))
    assert parse_uncertain("350 Ω", "resistance").input("R", "ohm").unit == "ohm"


def test_keeps_the_words() -> None:
    form = {"value": "4.52 mm", "U": "0.06 mm", "k": "2"}
    assert str(parse_uncertain(form, "length")) == "{value: 4.52 mm, U: 0.06 mm, k: 2}"
    assert str(parse_uncertain("4.52 mm ± 1 %", "length")) == "4.52 mm ± 1 %"


def pieces() -> st.SearchStrategy[str]:
    return st.text(st.sampled_from("0123456789.,%±+-/ eEkmµΩVbars:"), max_size=25)


@given(st.one_of(st.text(), pieces()), st.sampled_from(sorted(KINDS)))
def test_arbitrary_text(text: str, kind: str) -> None:
    try:
        found = parse_uncertain(text, kind)
    except QuantityError:
        return
    assert isinstance(found, Uncertain)
    assert found.u >= 0
    assert found.lower <= found.value <= found.upper


@given(st.dictionaries(st.sampled_from(["value", "U", "k", "s", "n", "x"]), st.one_of(pieces(), st.none())))
def test_arbitrary_form(written: dict[str, str | None]) -> None:
    with suppress(QuantityError):
        assert parse_uncertain(written, "number").u >= 0


@pytest.mark.parametrize(
    ("written", "kind", "remedy"),
    [("206 GPa 2 %", "stress", "write '206 GPa ± 2 %'"), ("0.4 % 0.2 %", "ratio", "write '0.4 % ± 0.2 %'")],
)
def test_two_numbers_ask_for_the_sign_between_them(written: str, kind: str, remedy: str) -> None:
    with pytest.raises(QuantityError, match="is a ± missing") as error:
        parse_uncertain(written, kind)
    assert remedy in str(error.value)
