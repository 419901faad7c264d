"""The bundled step kinds: one file each, `acquire` and `judge` side by side. They come in by the plugin door too."""

from __future__ import annotations

from rigproof.hookspecs import hookimpl
from rigproof.starts import Start

from .balance import Balance
from .base import Step
from .cycles import Cycles
from .force_series import ForceSeries
from .insulation import Insulation
from .proof import Proof
from .resistance import Resistance
from .shunt import Shunt

RIGPROOF_DOOR = 1


@hookimpl
def rigproof_step_kinds() -> list[type[Step]]:
    """The steps of an acceptance, in the order they are usually taken."""
    return [Resistance, Insulation, Balance, Shunt, Cycles, ForceSeries, Proof]


@hookimpl
def rigproof_starts() -> list[Start]:
    """Of a step kind."""
    return [Start("step", "rigproof")]
