"""What the twin brings in by rigproof's door."""

from __future__ import annotations

from rigproof.hookspecs import hookimpl
from rigproof.simulation import Simulator
from rigproof.starts import Start
from rigproof_twin.simulator import StrainRig

RIGPROOF_DOOR = 1


@hookimpl
def rigproof_simulators() -> list[Simulator]:
    """The strain rig."""
    return [StrainRig()]


@hookimpl
def rigproof_starts() -> list[Start]:
    """Of a rig that can be simulated."""
    return [Start("rig", "rigproof_twin")]
