"""Poor insulation as false strain: what a leak to the part does to one gauge of a bridge.

`insulation_ohm` is what an insulation tester shows from all of the gauge to the part. Exact for a quarter bridge of
equal arms; for small leaks -1, +1, -1/3, -1/4 times Rg/(GF Ri) (trade.md 2.9). Floats or arrays of equal shape.
The sign goes by where the supply or the part is earthed: judge on size.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from rigproof.errors import NumberError
from rigproof.models import Numbers
from rigproof_strain import checks


def _across_gauge(share: Numbers) -> Numbers:
    """The leak lies in parallel with the gauge."""
    return -share / (1 + share)


def _across_completion(share: Numbers) -> Numbers:
    """The leak lies in parallel with the other arm of the half: the ratio of the arms grows by Rg/Ri exactly."""
    return share


def _along_grid(share: Numbers) -> Numbers:
    """Spread evenly along the grid, one end of it at the part's potential: a leaky line, tanh(q)/q, q² = Rg/Ri."""
    root = np.sqrt(share)
    return np.where(share > 1e-5, np.tanh(root) / np.maximum(root, 1e-3) - 1, -share / 3 + 2 * share**2 / 15)[()]


def _middle(share: Numbers) -> Numbers:
    """At the middle of the grid, one end of it at the part's potential: half the grid lies in parallel with Ri."""
    return -share / (4 + 2 * share)


def _nowhere(share: Numbers) -> Numbers:
    """One leak, part and supply floating: no current flows."""
    return 0.0 * share


PATHS: dict[str, Callable[[Numbers], Numbers]] = {
    "across the gauge": _across_gauge,
    "across the completion arm": _across_completion,
    "along the grid": _along_grid,
    "middle of the grid": _middle,
    "floating": _nowhere,
}


def false_strain(path: str, gauge_ohm: Numbers, gauge_factor: Numbers, insulation_ohm: Numbers) -> Numbers:
    """Strain shown falsely by a leak of `insulation_ohm` on `path`, one of PATHS.

    Raises NumberError for another path, and for resistances or a gauge factor of 0 or less.
    """
    if path not in PATHS:
        raise NumberError(f"path={path!r}: must be one of {', '.join(map(repr, PATHS))}")
    _positive(gauge_ohm, gauge_factor)
    checks.positive("insulation_ohm", insulation_ohm, "give the resistance to the part in Ω")
    return PATHS[path](gauge_ohm / insulation_ohm) / gauge_factor


def least_insulation_ohm(gauge_ohm: Numbers, gauge_factor: Numbers, strain: Numbers) -> Numbers:
    """Insulation (Ω) at which a leak shows no more than `strain` (> 0) on any path: Rg/(GF e)."""
    _positive(gauge_ohm, gauge_factor)
    checks.positive("strain", strain, "give the false strain you can bear, such as 1e-6")
    return gauge_ohm / (gauge_factor * strain)


def _positive(gauge_ohm: Numbers, gauge_factor: Numbers) -> None:
    checks.positive("gauge_ohm", gauge_ohm, "give the gauge's resistance in Ω")
    checks.positive("gauge_factor", gauge_factor, "give the packet's, about 2 for metal foil")
