"""The bundled step kinds: one file each, `acquire` and `judge` side by side. They come in by the plugin door too."""

from __future__ import annotations

from rigproof.hookspecs import hookimpl
from rigproof.starts import Start

from .air_content import AirContent
from .arming import Arming
from .balance import Balance
from .base import Step
from .cure import Cure
from .cycles import Cycles
from .force_series import ForceSeries
from .inspection import Inspection
from .insulation import Insulation
from .proof import Proof
from .resistance import Resistance
from .shunt import Shunt
from .signature import Signature
from .thermal_output import ThermalOutput

RIGPROOF_DOOR = 1


@hookimpl
def rigproof_step_kinds() -> list[type[Step]]:
    """The steps of an acceptance, in the order they are usually taken."""
    installed: list[type[Step]] = [Inspection, Signature, Cure, Resistance, Insulation, ThermalOutput, Balance, Shunt]
    return [*installed, Arming, AirContent, Cycles, ForceSeries, Proof]


@hookimpl
def rigproof_starts() -> list[Start]:
    """Of a step kind."""
    return [Start("step", "rigproof")]
