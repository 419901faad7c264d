"""What a flaw of the twin is: words for people, bounds of its size, and the change it makes to the rig as built."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass, replace
from math import inf, isfinite

from rigproof.errors import UsageError
from rigproof.simulation import Flaw
from rigproof_twin.as_built import AsBuilt, BridgeInput, Gauge, Source
from rigproof_twin.interface import Appearance


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


def amplifiers(built: AsBuilt, flaw: str) -> dict[str, Appearance]:
    """The bridge amplifiers that have a wire of their own, by name; `UsageError` where all are read by hand."""
    names = dict.fromkeys(name for name, _ in built.bridges if name not in built.by_hand)
    if not names:
        raise UsageError(f"flaw {flaw}: no bridge amplifier of the rig is read over a wire. Choose another flaw.")
    return {name: built.appearances[name] for name in names}


def misread(look: Appearance, inputs: Collection[int], gain: float = 1.0, offset: float = 0.0) -> Appearance:
    """The same instrument, some inputs of which read `gain` times as much and `offset` (unit of the reading) more."""
    wrong = {
        i: replace(d, gain_error=d.gain_error + (1.0 + d.gain_error) * (gain - 1.0), offset=d.offset + offset)
        for i, d in look.deviations.items()
        if i in inputs
    }
    return replace(look, deviations={**look.deviations, **wrong})


def pump(built: AsBuilt, flaw: str) -> Source:
    """What pumps; `UsageError` where the rig has no pressure source."""
    if not isfinite(built.source.limit_pa):
        raise UsageError(f"flaw {flaw}: the rig has no pressure source. Choose another flaw.")
    return built.source


def first_bridge(built: AsBuilt) -> tuple[str, BridgeInput]:
    """The amplifier and the input of the first strain channel."""
    for (instrument, _), port in built.bridges.items():
        return instrument, port
    raise UsageError("the rig has no bridge amplifier, and this flaw is one of its own. Choose another flaw.")
