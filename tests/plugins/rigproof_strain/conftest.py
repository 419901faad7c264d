"""An independent route to every bridge: the node equations of the circuit, solved as they stand."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np
import pytest

from rigproof.documents.rig import Gauge

Resistor = tuple[str, str, float]  # node, node, Ω
Solve = Callable[[Sequence[Resistor], Mapping[str, float]], dict[str, float]]


def solve(resistors: Sequence[Resistor], held: Mapping[str, float]) -> dict[str, float]:
    """Potential of every node, when the nodes of `held` are at the given potentials (Kirchhoff's current law)."""
    nodes = sorted({node for a, b, _ in resistors for node in (a, b)})
    place = {node: n for n, node in enumerate(nodes)}
    matrix, right = np.zeros((len(nodes), len(nodes))), np.zeros(len(nodes))
    for a, b, ohm in resistors:
        i, j = place[a], place[b]
        matrix[[i, j], [i, j]] += 1 / ohm
        matrix[[i, j], [j, i]] -= 1 / ohm
    for node, volt in held.items():
        matrix[place[node]] = np.eye(len(nodes))[place[node]]
        right[place[node]] = volt
    return dict(zip(nodes, map(float, np.linalg.solve(matrix, right)), strict=True))


@pytest.fixture(name="solve")
def _solve() -> Solve:
    return solve


@pytest.fixture
def gauge() -> Gauge:
    """The gauges of rigs/spool."""
    written = {
        "at": "hoop",
        "resistance": "350 Ω ± 0.3 %",
        "gauge factor": "2.08 ± 0.5 %",
        "transverse sensitivity": "0.4 % ± 0.2 %",
    }
    return Gauge.model_validate(written)
