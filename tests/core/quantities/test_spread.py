"""Accuracies alone, and tolerances around something else."""

from __future__ import annotations

import math

import pytest

from rigproof.errors import QuantityError
from rigproof.quantities import parse_spread, parse_within

SQRT_3 = math.sqrt(3)


@pytest.mark.parametrize("text", ["0.05 %", "± 0.05 %", "+/- 0.05 %", "+-0.05 %", "500 ppm"])
def test_a_share_counts_from_the_reading(text: str) -> None:
    found = parse_spread(text, "ratio")
    assert found.u_relative == pytest.approx(0.0005 / SQRT_3)
    assert (found.u_absolute, found.shape) == (0.0, "rectangular")


def test_an_absolute_spread() -> None:
    found = parse_spread("0.1 K", "temperature")
    assert found.u_relative == 0.0
    assert found.u_absolute == pytest.approx(0.1 / SQRT_3)


def test_a_certificate() -> None:
    found = parse_spread({"U": "0.02 bar", "k": "2"}, "gauge pressure")
    assert (found.u_absolute, found.shape, str(found)) == (1000.0, "normal", "{U: 0.02 bar, k: 2}")


BAD = [
    ("0.1 °C", "temperature", False, "'°C' is a unit of temperature, and a temperature difference is wanted"),
    ("0.05 %", "gauge pressure", True, "is a share, and nothing says of what"),
    ("0.05", "gauge pressure", True, "has no unit"),
    ("-0.05 %", "ratio", False, "is negative"),
    ({"U": "1 %"}, "ratio", False, "key 'k' is missing"),
    ({"U": "1 %", "k": "2", "n": "3"}, "ratio", False, "unknown key 'n'"),
    ("", "ratio", False, "the text is empty"),
    ("±", "ratio", False, "does not begin with a number"),
]


@pytest.mark.parametrize(("written", "kind", "absolute", "said"), BAD)
def test_refuses_a_spread(written: object, kind: str, absolute: bool, said: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_spread(written, kind, absolute)
    assert said in str(caught.value)


def test_within_a_share() -> None:
    found = parse_within("within 1 %", "strain")
    assert (found.limit, found.relative) == (0.01, True)
    assert found.around(-500e-6) == pytest.approx(5e-6)


def test_within_a_limit() -> None:
    found = parse_within("within ± 5 µε", "strain")
    assert (found.limit, found.relative, str(found)) == (5e-6, False, "within ± 5 µε")
    assert found.around(1.0) == 5e-6
    assert parse_within("within 0.5 K", "temperature").limit == 0.5


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("1 %", "does not say 'within'; write 'within 1 %'"),
        ("± 1 %", "does not say 'within'; write 'within 1 %'"),
        ("within", "the text is empty"),
        ("within1 %", "does not say 'within'"),
        ("within 1", "has no unit"),
        ("within 1 bar", "and a strain is wanted"),
        ("within -1 %", "is negative"),
        ("within 100 %", "'100 %' is as much as the whole; write a smaller share"),
    ],
)
def test_refuses_a_within(text: str, said: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_within(text, "strain")
    assert said in str(caught.value)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("1", "'1' without a % is 100 %; write 1 % or 0.01"),
        ("0.5", "'0.5' without a % is 50 %; write 0.5 % or 0.005"),
    ],
)
def test_a_share_without_its_sign_is_refused_where_it_would_be_large(text: str, said: str) -> None:
    with pytest.raises(QuantityError, match=said):
        parse_within(f"within {text}", "ratio")
    with pytest.raises(QuantityError, match=said):
        parse_spread(text, "ratio")
    with pytest.raises(QuantityError, match=said):
        parse_spread({"U": text, "k": "2"}, "ratio")
    assert parse_within("within 0.01", "ratio").limit == 0.01
    assert parse_within("within 10 %", "ratio").limit == 0.1
