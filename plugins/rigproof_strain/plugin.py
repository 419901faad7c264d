"""The door: the reduction models and rosettes of this package."""

from __future__ import annotations

from rigproof.hookspecs import hookimpl
from rigproof.models import ReductionModel, RosetteModel
from rigproof_strain.full import FullBridge
from rigproof_strain.half import HalfBridge
from rigproof_strain.pt100 import Pt100
from rigproof_strain.quarter import QuarterBridge
from rigproof_strain.rectangular import RectangularRosette

RIGPROOF_DOOR = 1


@hookimpl
def rigproof_reduction_models() -> list[type[ReductionModel]]:
    """Quarter, half and full bridge, and the platinum thermometer."""
    return [QuarterBridge, HalfBridge, FullBridge, Pt100]


@hookimpl
def rigproof_rosette_models() -> list[type[RosetteModel]]:
    """Three elements at 0°, 45° and 90°."""
    return [RectangularRosette]
