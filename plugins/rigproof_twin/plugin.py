"""What the twin brings in by rigproof's door."""

from __future__ import annotations

from rigproof.hookspecs import hookimpl
from rigproof.simulation import Simulator
from rigproof_twin.simulator import StrainRig

RIGPROOF_DOOR = 1


@hookimpl
def rigproof_simulators() -> list[Simulator]:
    """The strain rig."""
    return [StrainRig()]
