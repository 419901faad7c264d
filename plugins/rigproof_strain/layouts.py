"""Which arm of a bridge holds which gauge, and how that gauge strains when the gauge of arm 1 strains by e.

Arms are numbered round the ring: r = R1/(R1 + R2) - R4/(R3 + R4). Strains as in trade.md 2.1 (derived there, each
against the node equations).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from rigproof.models import Numbers


class Arm(NamedTuple):
    """A gauge in an arm: it lies in the strain field of arm 1 times `sign`, its grid turned by 90 degrees or not."""

    sign: float
    turned: bool


ALONG, AGAINST = Arm(1.0, turned=False), Arm(-1.0, turned=False)
ACROSS, ACROSS_AGAINST = Arm(1.0, turned=True), Arm(-1.0, turned=True)
FIXED = None  # a resistor of the instrument


@dataclass(frozen=True)
class Layout:
    """The four arms of a bridge. `shear`: in pure shear a gauge at 90 degrees strains by -e, whatever the material."""

    arms: tuple[Arm | None, Arm | None, Arm | None, Arm | None]
    shear: bool = False

    @property
    def halves(self) -> int:
        """How many halves hold gauges: 2 when arm 3 or 4 does."""
        return 1 if self.arms[2:] == (FIXED, FIXED) else 2

    @property
    def takes_poisson(self) -> bool:
        """Whether the strain across follows from the strain along by Poisson's ratio."""
        return ACROSS in self.arms and not self.shear

    @property
    def mixed(self) -> bool:
        """Whether the two halves strain unlike each other (both faces in bending)."""
        return ACROSS_AGAINST in self.arms

    def opposing(self, inputs: Sequence[Numbers]) -> Numbers:
        """Strain of arm 2 over strain of arm 1, sign turned; Poisson's ratio is `inputs[4]`."""
        if self.arms[1] is FIXED:
            return 0.0
        return inputs[4] if self.takes_poisson else 1.0


QUARTER = Layout((ALONG, FIXED, FIXED, FIXED))
HALVES = {
    "bending": Layout((ALONG, AGAINST, FIXED, FIXED)),
    "along and across": Layout((ALONG, ACROSS, FIXED, FIXED)),
    "opposite arms": Layout((ALONG, FIXED, ALONG, FIXED)),
}
FULLS = {
    "bending": Layout((ALONG, AGAINST, ALONG, AGAINST)),
    "along and across": Layout((ALONG, ACROSS, ALONG, ACROSS)),
    "torsion": Layout((ALONG, ACROSS, ALONG, ACROSS), shear=True),
    "along and across in bending": Layout((ALONG, ACROSS, ACROSS_AGAINST, AGAINST)),
}
