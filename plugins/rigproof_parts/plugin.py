"""The door: the part models of this package."""

from __future__ import annotations

from rigproof.hookspecs import hookimpl
from rigproof.models import PartModel
from rigproof_parts.branch_pipe import BranchPipe
from rigproof_parts.cantilever import Cantilever, ConstantStressCantilever
from rigproof_parts.column import Column, RectangularColumn
from rigproof_parts.cylinder import Cylinder
from rigproof_parts.force_cell import ForceCell
from rigproof_parts.shaft import Shaft
from rigproof_parts.sphere import Sphere

RIGPROOF_DOOR = 1


@hookimpl
def rigproof_part_models() -> list[type[PartModel]]:
    """Vessels under pressure, strips, columns and force cells under force, shafts under torque."""
    vessels: list[type[PartModel]] = [Cylinder, BranchPipe, Sphere]
    return [*vessels, Cantilever, ConstantStressCantilever, Column, RectangularColumn, Shaft, ForceCell]
