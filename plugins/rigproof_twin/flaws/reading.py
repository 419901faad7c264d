"""Flaws of the person who reads."""

from __future__ import annotations

from rigproof.errors import UsageError
from rigproof.simulation import Flaw
from rigproof_twin.as_built import AsBuilt
from rigproof_twin.flaws.planting import Planting


def _slip(built: AsBuilt, strain: float) -> None:
    if not any(instrument in built.by_hand for instrument, _ in built.bridges):
        raise UsageError("flaw misread: no strain of the rig is read by hand. Choose another flaw.")
    built.misread_by = strain


MISREAD = Planting(
    Flaw(
        name="misread",
        meaning="The person types one of the strain readings wrong, once in the run.",
        quantity="how much too high",
        size="50 µε",
        kind="strain",
    ),
    _slip,
    lowest=-1.0,
)
