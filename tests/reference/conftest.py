"""Published reference cases: what a document prints, where, and how surely it is known.

Provenance letters as in the data files: a = seen in a source, b = recalled and reproduced by recomputation, c = memory only.
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
                f"{self.source['document']}, {self.source['clause']}, {name}: "
                f"printed {figure['published']} ± {figure['tolerance']} (provenance {figure['provenance']}), got {value}"
            )


@pytest.fixture(scope="session")
def uncertainty_case() -> Callable[[str], Published]:
    """The cases of data/uncertainty-cases.json by their id."""
    cases = json.loads((DATA / "uncertainty-cases.json").read_text(encoding="utf-8"))["cases"]
    fields = ("id", "title", "source", "inputs", "expected")
    by_id = {case["id"]: Published(**{field: case[field] for field in fields}) for case in cases}
    return by_id.__getitem__
