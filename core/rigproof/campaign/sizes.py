"""Sizes of one flaw, from mild to severe."""

from __future__ import annotations

import math
from dataclasses import dataclass

from rigproof.errors import QuantityError, UsageError
from rigproof.quantities import parse, show, unit_of
from rigproof.simulation import Flaw

BY_FACTORS_FROM = 20.0  # ends that differ more than so many times are divided by equal factors
_DIGITS = 4


@dataclass(frozen=True)
class Axis:
    """A place on it is 0 at the mild end and 1 at the severe one; sizes in base units of the flaw's kind.

    The severe end may be the smaller number: an insulation resistance is the worse the less is left of it.
    """

    flaw: str
    kind: str
    mild: float
    severe: float
    unit: str = ""  # in which sizes are written; "": the one that suits each

    @property
    def by_factors(self) -> bool:
        """Whether equal steps are equal factors."""
        return self.mild * self.severe > 0 and not 1 / BY_FACTORS_FROM < self.severe / self.mild < BY_FACTORS_FROM

    def size(self, place: float) -> float:
        """Size at a place, rounded as it is written."""
        if self.by_factors:
            size = self.mild * (self.severe / self.mild) ** place
        else:
            size = self.mild + (self.severe - self.mild) * place
        return self.rounded(size)

    def rounded(self, size: float) -> float:
        """As it is written, and so as it is planted."""
        return parse(self.shown(size), self.kind).value

    def place(self, size: float) -> float:
        """Place of a size; below 0 milder than the mild end, above 1 beyond the severe one."""
        if self.by_factors:
            return math.log(size / self.mild) / math.log(self.severe / self.mild) if size * self.mild > 0 else -math.inf
        return (size - self.mild) / (self.severe - self.mild)

    def shown(self, size: float) -> str:
        """As a person writes it."""
        return show(size, self.kind, _DIGITS, self.unit)

    def planted(self, size: float) -> str:
        """As `--flaw` takes it."""
        return f"{self.flaw}={self.shown(size)}"


def axis(flaw: Flaw, mild: str, severe: str) -> Axis:
    """The sizes from `mild` to `severe` as written. Raises `UsageError` where they cannot be an axis."""
    if not flaw.kind:
        raise UsageError(f"--flaw {flaw.name}: this flaw has no size, so it has no curve; take --matrix")
    ends = sized("--from", mild, flaw.kind), sized("--to", severe, flaw.kind)
    units = {unit_of(mild, flaw.kind), unit_of(severe, flaw.kind)}
    found = Axis(flaw.name, flaw.kind, *ends, units.pop() if len(units) == 1 else "")
    if found.mild == found.severe:
        raise UsageError(f"--from {mild} --to {severe}: are the same; give the mild end and the severe one")
    return found


def sized(option: str, written: str, kind: str) -> float:
    """A size as written after an option, in the base unit. Raises `UsageError` that names the option."""
    try:
        return parse(written, kind).value
    except QuantityError as error:
        raise UsageError(f"{option} {written}: {error}") from None
