"""The three-element rectangular rosette as rig.yaml names it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from rigproof.models import Numbers, RosetteModel, StateOfStrain
from rigproof_strain.rosette import RECTANGULAR, State
from rigproof_strain.rosette_budget import Seen
from rigproof_strain.stress import von_mises_pa


class RectangularRosette(RosetteModel):
    """Elements at 0°, 45° and 90°; all angles count from element 1 towards element 2.

    That the elements lie at these angles to each other is taken as exact: they are etched into one foil.
    """

    kind: ClassVar[str] = "rectangular rosette"
    elements: ClassVar[int] = 3

    def state(self, strains: Sequence[float], kts: Sequence[float] = ()) -> StateOfStrain:
        """See `rosette_budget.Seen`."""
        legs = self.elements

        def of_legs(*values: Numbers) -> State:
            return RECTANGULAR.state(values[:legs], values[legs:])

        seen = Seen(of_legs, RECTANGULAR.state(strains, kts))
        return StateOfStrain(
            first=lambda *values: seen.strains(*values)[0],
            second=lambda *values: seen.strains(*values)[1],
            direction=seen.direction,
            von_mises=lambda *values: von_mises_pa(*seen.stresses(*values)),
        )
