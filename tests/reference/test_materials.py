"""materials.yaml against the table of figures collected elsewhere, and against every source it names itself."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from rigproof.quantities import parse, parse_uncertain
from rigproof_parts.materials import known_materials

TABLE = json.loads((Path(__file__).parent / "data" / "worked-examples.json").read_text("utf-8"))["material_constants"]
NAMES = {
    "carbon steel (A36/1020)": "carbon steel",
    "304": "stainless steel 304",
    "316": "stainless steel 316",
    "6061-T6": "aluminium 6061-T6",
    "Ti-6Al-4V": "titanium Ti-6Al-4V",
}
COLUMNS = {
    "E_GPa": ("elastic_modulus", "stress", 1e9, 0.02),
    "nu": ("poisson_ratio", "number", 1.0, 0.0),
    "alpha_ppm_K": ("expansion", "expansion", 1e-6, 0.02),
}


def published() -> Iterator[tuple[str, str, str, float]]:
    for name, columns in TABLE["materials"].items():
        for column, figures in columns.items():
            for source, value in figures["values"].items():
                yield name, column, source, value


@pytest.mark.parametrize(("name", "column", "source", "value"), list(published()))
def test_the_limits_hold_every_published_figure(name: str, column: str, source: str, value: float) -> None:
    field, kind, scale, _ = COLUMNS[column]
    held = parse_uncertain(getattr(known_materials()[NAMES[name]], field).value, kind)
    assert held.lower <= value * scale <= held.upper, f"{source} (provenance {TABLE['provenance']})"


# trade.md 6: E GPa, nu and expansion as ranges over handbooks; the outer ends are published figures too.
TRADE = [
    ("carbon steel", (200, 207), (0.29, 0.32), (11.7, 12)),
    ("stainless steel 304", (193, 193), (0.27, 0.30), (17, 17.3)),
    ("stainless steel 316", (193, 193), (0.27, 0.30), (15.9, 16)),
    ("aluminium 6061-T6", (68.3, 68.9), (0.33, 0.35), (23.4, 24)),
    ("titanium Ti-6Al-4V", (110, 120), (0.31, 0.36), (8.6, 9.5)),
]


@pytest.mark.parametrize(("name", "modulus", "ratio", "expansion"), TRADE)
def test_the_limits_hold_the_ranges_of_the_trade(
    name: str, modulus: tuple[float, float], ratio: tuple[float, float], expansion: tuple[float, float]
) -> None:
    for column, ends in zip(COLUMNS.values(), (modulus, ratio, expansion), strict=True):
        field, kind, scale, _ = column
        held = parse_uncertain(getattr(known_materials()[name], field).value, kind)
        assert held.lower <= ends[0] * scale
        assert ends[1] * scale <= held.upper


@pytest.mark.parametrize("name", NAMES.values())
def test_the_limits_hold_the_sources_named_beside_them_and_are_no_wider_than_needed(name: str) -> None:
    entry = known_materials()[name]
    for field, kind, _, least in COLUMNS.values():
        sourced = getattr(entry, field)
        held = parse_uncertain(sourced.value, kind)
        figures = [parse(source.figure, kind).value for source in sourced.sources]
        assert held.lower <= min(figures)
        assert max(figures) <= held.upper
        half = (held.upper - held.lower) / 2
        needed = max((max(figures) - min(figures)) / 2, least * held.value or 0.02)
        assert 0.999 * needed <= half <= 1.5 * needed
    strength = entry.yield_strength
    assert [parse(source.figure, "stress") for source in strength.sources] == [parse(strength.value, "stress")]
