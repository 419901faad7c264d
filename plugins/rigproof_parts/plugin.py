"""The door: the part models of this package."""

from __future__ import annotations

from rigproof.hookspecs import hookimpl
from rigproof.models import PartModel
from rigproof_parts.cantilever import Cantilever
from rigproof_parts.column import Column
from rigproof_parts.cylinder import Cylinder
from rigproof_parts.sphere import Sphere

RIGPROOF_DOOR = 1


@hookimpl
def rigproof_part_models() -> list[type[PartModel]]:
    """Cylinder and sphere under pressure, cantilever and column under force."""
    return [Cylinder, Sphere, Cantilever, Column]
