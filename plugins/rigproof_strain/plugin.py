"""The door: the reduction models of this package."""

from __future__ import annotations

from rigproof.hookspecs import hookimpl
from rigproof.models import ReductionModel
from rigproof_strain.full import FullBridge
from rigproof_strain.half import HalfBridge
from rigproof_strain.pt100 import Pt100
from rigproof_strain.quarter import QuarterBridge

RIGPROOF_DOOR = 1


@hookimpl
def rigproof_reduction_models() -> list[type[ReductionModel]]:
    """Quarter, half and full bridge, and the platinum thermometer."""
    return [QuarterBridge, HalfBridge, FullBridge, Pt100]
