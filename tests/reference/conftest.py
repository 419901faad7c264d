"""Published reference cases: what a document prints, where, and how surely it is known.

Provenance letters as in the data files: a = seen in a source, b = recalled and reproduced by recomputation, c = memory
only.
`tolerance` is half a unit of the last printed digit unless the case's note says more.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

DATA = Path(__file__).parent / "data"
MECHANICS = ("textbook-examples.json", "strain-from-memory.json", "more-examples.json")


@dataclass(frozen=True)
class Published:
    """One published example."""

    id: str
    title: str
    source: dict[str, str]
    inputs: Any
    expected: dict[str, dict[str, Any]]

    def check(self, **computed: float) -> None:
        """Compare each computed value with the printed one of that name."""
        for name, value in computed.items():
            figure = self.expected[name]
            assert value == pytest.approx(figure["published"], abs=figure["tolerance"], rel=1e-12), (
                f"{self.source['document']}, {self.source['clause']}, {name}: printed {figure['published']} "
                f"± {figure['tolerance']} (provenance {figure['provenance']}), got {value}"
            )


def read(name: str) -> list[dict[str, Any]]:
    """The cases of a data file."""
    cases: list[dict[str, Any]] = json.loads((DATA / name).read_text("utf-8"))["cases"]
    return cases


@pytest.fixture(scope="session")
def uncertainty_case() -> Callable[[str], Published]:
    """The cases of data/uncertainty-cases.json by their id."""
    cases = read("uncertainty-cases.json")
    fields = ("id", "title", "source", "inputs", "expected")
    by_id = {case["id"]: Published(**{field: case[field] for field in fields}) for case in cases}
    return by_id.__getitem__


def _textbook(case: dict[str, Any]) -> Published:
    """A case in the format of textbook-examples.json; what has no printed value was recomputed by another route."""
    source = {"document": case["source"]["document"], "clause": case["source"]["locator"]}
    expected = {}
    for name, figure in case["expected"].items():
        printed = figure["value"] is not None
        value = figure["value"] if printed else figure["recomputed"]
        tolerance = figure["published_step"] / 2 if printed else abs(value) * 1e-6
        provenance = case["provenance"] if printed else "recomputed, nothing printed"
        expected[name] = {"published": value, "tolerance": tolerance, "provenance": provenance}
    inputs = {name: given["value"] for name, given in case["inputs"].items()}
    return Published(case["id"], case["category"], source, inputs, expected)


def _worked(case: dict[str, Any]) -> Published:
    """A case of worked-examples.json; `published_answer` there says whether the figure was printed or derived."""
    provenance = f"{case['provenance']}; published answer: {case['published_answer']}"
    expected = {
        name: {"published": figure["value"], "tolerance": figure["half_unit_of_last_place"], "provenance": provenance}
        for name, figure in case["expected"].items()
    }
    for name, value in case["recomputed_only"].items():
        expected[name] = {"published": value, "tolerance": abs(value) * 1e-6, "provenance": "recomputed"}
    inputs = {name: given["value"] for name, given in case["inputs"].items()}
    return Published(case["id"], case["title"], {"document": case["source"], "clause": ""}, inputs, expected)


@pytest.fixture(scope="session")
def mechanics_case() -> Callable[[str], Published]:
    """The cases by their id: T-… textbook-, M-… strain-from-memory, E-… more-, without letter worked-examples.json."""
    cases = [_textbook(case) for name in MECHANICS for case in read(name)]
    cases += [_worked(case) for case in read("worked-examples.json")]
    return {case.id: case for case in cases}.__getitem__
