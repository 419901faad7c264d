"""Figures of merit of load cycles: what is compared with what."""

from __future__ import annotations

import numpy as np

from rigproof.run.plan import Plan
from rigproof.steps.figures import ChannelSeries, _repeatability
from rigproof.steps.record import Block


def alike(spool: Plan, times: int) -> ChannelSeries:
    """Cycles that read alike to the last digit, as readings by hand often do."""

    def block(label: str, t: float, bar: float, **tags: int | str) -> Block:
        values = {"pressure": bar * 1e5, "hoop": 0.425e-3 + bar * 4.8e-6, "wall temperature": 20.0}
        return Block(label, t, {name: np.full(2, value) for name, value in values.items()}, dict(tags))

    cycles = range(1, times + 1)
    zeros = [block("zero", 10.0 * cycle, 0.0, cycle=cycle) for cycle in (0, *cycles)]
    levels = [block("level", 10.0 * c + 5, 25.0, cycle=c, level=1, direction="up") for c in cycles]
    return ChannelSeries(spool.rig, "hoop", "pressure", zeros, levels, 1, times)


def test_no_cycle_is_compared_with_itself(spool: Plan) -> None:
    """Two cycles that read alike: no difference, with the uncertainty of two readings, which is not 0."""
    figure, at = _repeatability(alike(spool, 2), 1, "up")
    estimate = figure.estimate()
    assert at == "level 1 up, cycles 1 and 2"
    assert estimate.value == 0.0
    assert estimate.u > 0.0
