"""Arithmetic of dead weights: the force they make, and which of them make a load."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations
from math import hypot

from rigproof.quantities import Spread, Uncertain

# Air of 1.2 kg/m³ bears a share of any weight; masses are stated as conventional ones, of 8000 kg/m³ (OIML D 28, from
# memory). Iron at another density differs by less than 0.001 % from that.
IN_AIR = 1 - 1.2 / 8000
NEAR_ENOUGH = 0.005  # of the target: a load step is judged at the load that is there, so that it need not be round
MOST = 12  # weights: 4096 ways to choose from them


@dataclass(frozen=True)
class Weights:
    """Weights by their marks, and the gravity where they hang."""

    masses: Mapping[str, Uncertain]
    gravity: Uncertain

    def force_n(self, marks: frozenset[str]) -> float:
        """Force (N) of some of them, nominal."""
        return sum(self.masses[mark].value for mark in self.masses if mark in marks) * self.gravity.value * IN_AIR

    def spread(self) -> Spread:
        """Accuracy of any of these forces: gravity, and the mass known worst of all.

        The errors of the masses are taken as all of one sign, for weights of one set often are.
        """
        of_mass = max(mass.u / mass.value for mass in self.masses.values())
        u = hypot(of_mass, self.gravity.u / self.gravity.value)
        return Spread(u, 0.0, "normal", "ratio", f"{u:.2g} of the reading, standard uncertainty")

    def choose(self, target_n: float, on: frozenset[str]) -> frozenset[str] | None:
        """The weights that make `target_n`, with the fewest moves from those that are `on`; None where none do."""
        near = [marks for marks in self._sets() if abs(self.force_n(marks) - target_n) <= NEAR_ENOUGH * abs(target_n)]
        return min(
            near, key=lambda marks: (self._off_by(marks, target_n), len(marks ^ on), sorted(marks)), default=None
        )

    def nearest(self, target_n: float) -> list[float]:
        """The loads (N) they can make on either side of `target_n`."""
        loads = sorted({round(self.force_n(marks), 6) for marks in self._sets()})
        below = [load for load in loads if load <= target_n]
        above = [load for load in loads if load > target_n]
        return [*below[-1:], *above[:1]]

    def _off_by(self, marks: frozenset[str], target_n: float) -> float:
        """In steps of a millionth of the target, so that rounding does not decide between equal weights."""
        return round(abs(self.force_n(marks) - target_n) / max(abs(target_n), 1e-9), 6)

    def _sets(self) -> Iterator[frozenset[str]]:
        for count in range(len(self.masses) + 1):
            yield from map(frozenset, combinations(self.masses, count))


def moves(on: frozenset[str], wanted: frozenset[str]) -> list[tuple[bool, str]]:
    """What to do, in order: (put on, mark). What comes off comes off first, so that the load never overshoots."""
    return [*((False, mark) for mark in sorted(on - wanted)), *((True, mark) for mark in sorted(wanted - on))]
