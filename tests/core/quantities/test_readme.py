"""The page on how quantities are written: every form it shows is read, and means what it says."""

from __future__ import annotations

import re
from math import sqrt
from pathlib import Path

import pytest
import yaml

import rigproof.quantities
from rigproof.errors import QuantityError
from rigproof.quantities import KINDS, parse_spread, parse_uncertain, parse_within

PAGE = (Path(rigproof.quantities.__file__).parent / "README.md").read_text("utf-8")
ROWS = [tuple(cell.strip(" `") for cell in row.split("|")[1:-1]) for row in re.findall(r"^\| `.*$", PAGE, re.MULTILINE)]
U = {
    "219.1 mm ± 0.5 mm": 0.5e-3 / sqrt(3),
    "206 GPa ± 2 %": 4.12e9 / sqrt(3),
    "0.4 % ± 0.2 %": 0.002 / sqrt(3),
    "{value: 4.52 mm, U: 0.06 mm, k: 2}": 0.03e-3,
    "{value: 3.2 mV/V, s: 0.4 µV/V, n: 20}": 0.4e-6 / sqrt(20),
    "2.08": 0.0,
}


def plain(text: str) -> object:
    """As a document gives it: mappings with texts in them."""
    if not text.startswith("{"):
        return text
    return {key: str(value) for key, value in yaml.safe_load(text).items()}


def test_the_page_has_every_form() -> None:
    assert len(ROWS) == 11
    assert all(kind in KINDS for _, kind, *_ in ROWS)


@pytest.mark.parametrize("row", [row for row in ROWS if len(row) == 4])
def test_a_value_with_its_uncertainty(row: tuple[str, ...]) -> None:
    assert parse_uncertain(plain(row[0]), row[1]).u == pytest.approx(U[row[0]], rel=1e-12)


@pytest.mark.parametrize("row", [row for row in ROWS if len(row) == 3])
def test_accuracies_and_limits(row: tuple[str, ...]) -> None:
    written, kind, _ = row
    if written.startswith("within"):
        assert parse_within(written, kind).limit in {0.01, 5e-6}
    else:
        spread = parse_spread(plain(written), kind)
        assert (spread.u_relative, spread.u_absolute) in {
            (0.0005 / sqrt(3), 0.0),
            (0.0, 2000.0 / sqrt(3)),
            (0.0005, 0.0),
        }


def test_what_it_says_of_a_forgotten_sign() -> None:
    assert parse_within("within 0.01", "ratio").limit == 0.01
    with pytest.raises(QuantityError, match="100 %"):
        parse_within("within 1", "ratio")
