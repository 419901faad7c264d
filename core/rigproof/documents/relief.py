"""The relief device of a source as written in rig.yaml: what protects people and part where software does not."""

from __future__ import annotations

from typing import Annotated

from rigproof.models import DocumentModel, OneLine
from rigproof.quantities import Uncertain, uncertain


class ReliefDevice(DocumentModel):
    """A device that was set and proved, such as a relief valve or a bursting disc. Nothing here operates it."""

    set_pressure: Annotated[Uncertain, uncertain("gauge pressure", above="0 bar")]
    """Pressure at which it opens, with its limits; above every pressure of the procedure, below what the part bears."""
    serial_number: OneLine | None = None
    """Its own, as it is marked on it."""
    certificate: OneLine | None = None
    """Number of the paper that says when and at what pressure it was proved."""

    @property
    def named(self) -> str:
        """`relief device RV-0031`, or without a number where none is written."""
        return " ".join(filter(None, ("relief device", self.serial_number)))
