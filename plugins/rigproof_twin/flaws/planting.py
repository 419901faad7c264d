"""What a flaw of the twin is: words for people, bounds of its size, and the change it makes to the rig as built."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import inf

from rigproof.errors import UsageError
from rigproof.simulation import Flaw
from rigproof_twin.as_built import AsBuilt, BridgeInput, Gauge


@dataclass(frozen=True)
class Planting:
    """A flaw and how it comes into the rig. `apply` takes the size in base units, 0 where a flaw has none."""

    flaw: Flaw
    apply: Callable[[AsBuilt, float], None]
    lowest: float = 0.0  # bounds of the size, base units
    highest: float = inf


def first_gauge(built: AsBuilt) -> Gauge:
    """The gauge that rig.yaml's first strain channel names: the one that flaws of a single gauge take."""
    for gauge in built.gauges.values():
        return gauge
    raise UsageError("the rig has no strain gauge, and this flaw is one of a gauge. Choose another flaw.")


def first_bridge(built: AsBuilt) -> tuple[str, BridgeInput]:
    """The amplifier and the input of the first strain channel."""
    for (instrument, _), port in built.bridges.items():
        return instrument, port
    raise UsageError("the rig has no bridge amplifier, and this flaw is one of its own. Choose another flaw.")
