"""A pipe with a branch: the plain shell, and points at the branch where the design states the local stress."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import product
from math import inf
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Literal

import numpy as np
from pydantic import AfterValidator, Field, ValidationInfo, field_validator

from rigproof.errors import NumberError
from rigproof.models import DocumentModel, Fact, Numbers
from rigproof.quantities import Uncertain, WrittenError, show, uncertain
from rigproof.uncertainty import Input
from rigproof_parts.cylinder import Cylinder

if TYPE_CHECKING:
    from rigproof.documents.rig import Gauge

NORMAL, BETWEEN, TANGENTIAL = "normal", "45°", "tangential"
DIRECTIONS = (NORMAL, BETWEEN, TANGENTIAL)


def _with_limits(factor: Uncertain) -> Uncertain:
    if factor.u == 0:
        raise WrittenError(
            f"{factor.text!r} is written as exact, and no table or stress analysis is",
            "write its limits, such as 2.0 ± 15 %; 10 % to 20 % are usual (common practice, no source)",
        )
    return factor


Factor = Annotated[
    Uncertain,
    uncertain("number", at_least="-20", at_most="20", because="factors of sound branches stay far below that"),
    AfterValidator(_with_limits),
]


def _places(points: Iterable[object]) -> Iterator[str]:
    return (f"{name} {direction}" for name in points for direction in DIRECTIONS)


class Point(DocumentModel):
    """A point of a branch, in a plane of symmetry of pipe and branch, so that its principal directions are known.

    Factors are surface stresses as multiples of the plain shell's hoop stress on the same side of the wall.
    """

    normal: Factor
    """Factor of the stress along the normal of the plane of symmetry, which runs round the opening; with its limits."""
    tangential: Factor
    """Factor of the stress in the plane of symmetry, along the surface; with its limits."""
    surface: Literal["outside", "inside"] = "outside"
    """Side of the wall; a point may also stand here to count for yield alone, without a gauge."""
    source: Annotated[str, Field(min_length=1, max_length=200)]
    """Where the factors come from: a table of a code, or a stress analysis with its report."""


class BranchPipe(Cylinder):
    """A cylinder with a branch. A gauge lies on the plain shell (`at: hoop`) or at a point (`at: flank normal`).

    At a point the stresses are (n H, t H) and square to the wall 0 outside, -p inside, with the point's factors n, t
    and H, the hoop stress of the plain shell on that side; strains by Hooke's law. Factors of 1 and 0.5 outside are the
    plain closed shell. Sources that multiply p Dm/2t, the membrane stress of the mean diameter, are turned into these
    factors by the ratio that the plan prints.

    A gauge at `NAME 45°` lies midway between both directions, as the middle element of a rosette does. Yield is that
    of the most stressed point, here or in the bore of the plain shell. Growth of the volume is that of the plain
    pipe, the branch's own share of it taken as alike.
    """

    kind: ClassVar[str] = "branch pipe"

    branch: Annotated[dict[str, Point], Field(min_length=1)]
    """Points at the branch, by name."""

    @field_validator("branch")
    @classmethod
    def _thin_knows_no_inside(cls, branch: dict[str, Point], info: ValidationInfo) -> dict[str, Point]:
        if info.data.get("theory") == "thin" and any(point.surface == "inside" for point in branch.values()):
            raise WrittenError(
                "thin-wall theory does not tell the inside, where a point lies, from the outside",
                "write `theory: thick`, or leave it out",
            )
        return branch

    @classmethod
    def places_written(cls, written: Mapping[str, Any]) -> tuple[str, ...]:
        """Those of the shell, and three of each point."""
        branch = written.get("branch")
        return (*cls.places, *_places(branch if isinstance(branch, Mapping) else ()))

    def unsuited(self, gauge: Gauge) -> str:
        """A gauge at a point on the other side of the wall."""
        point = self.branch.get(gauge.at.rpartition(" ")[0])
        if point is None or point.surface == self.gauge_surface:
            return ""
        return f"{gauge.at!r} lies {point.surface}, and `gauge surface` of the part is {self.gauge_surface}"

    def inputs(self) -> tuple[Input, ...]:
        """Those of the cylinder, then both factors of each point in the order of the document."""
        factors = (
            getattr(point, which).input(f"{name} {which}")
            for name, point in self.branch.items()
            for which in (NORMAL, TANGENTIAL)
        )
        return (*super().inputs(), *factors)

    def source_of(self, path: str, key: str) -> str:
        """As for every model; a factor `flank normal` stands at its point, and its source beside it."""
        name, _, which = key.rpartition(" ")
        if which in (NORMAL, TANGENTIAL) and name in self.branch:
            point = self.branch[name]
            return f"{point.source_of(f'{path}.branch.{name}', which)} ({point.source})"
        return super().source_of(path, key)

    def strain(self, load: Numbers, place: str, *inputs: Numbers) -> tuple[Numbers, Numbers]:
        """Strain along and across a gauge at `place` under `load` (Pa): on the shell, or at a point of the branch."""
        if place in self.places:
            return super().strain(load, place, *inputs)
        name, _, direction = place.rpartition(" ")
        if direction not in DIRECTIONS or name not in self.branch:
            known = ", ".join((*self.places, *_places(self.branch)))
            raise NumberError(f"place = {place!r}: a branch pipe has {known}; write one of them")
        normal, tangential, square = self._stresses(load, name, *inputs)
        modulus, poisson = inputs[2:4]
        first = (normal - poisson * (tangential + square)) / modulus
        second = (tangential - poisson * (normal + square)) / modulus
        middle = (first + second) / 2  # the plane is one of symmetry: no shear in these axes
        return {NORMAL: (first, second), BETWEEN: (middle, middle), TANGENTIAL: (second, first)}[direction]

    def yield_load(self) -> float:
        """Pressure (Pa) at which the bore of the shell or a point of the branch starts to yield by von Mises.

        From nominal values. That of a point is local: the wall around it still carries.
        """
        return min(super().yield_load(), *(load for _, load in self._points_yield()))

    def formulas(self) -> tuple[str, ...]:
        """Those of the plain pipe, and what the factors of the points are used with."""
        sources = "; ".join(dict.fromkeys(point.source for point in self.branch.values()))
        at_points = (
            f"At the branch: stated factors times the hoop stress of the pipe, Hooke's law (factors: {sources})."
        )
        _, yields = super().formulas()
        return (f"{self._theory()}.", at_points, f"{yields.removesuffix('.')}, and at the points of the branch.")

    def facts(self, load: float) -> tuple[Fact, ...]:
        """Those of the cylinder, and of each point the pressure of its first yield; what a membrane stress counts."""
        outside, wall = self._nominal()[:2]
        membrane = (outside - wall) / (2 * wall)
        note = "a factor of the membrane stress, times this, is one of this part"
        return (
            *super().facts(load),
            *(
                Fact(f"p Dm/2t over the hoop stress {side}", membrane / self._hoop_per_pa(side), "ratio", note)
                for side in dict.fromkeys(point.surface for point in self.branch.values())
            ),
            *(
                Fact(f"first yield at {name}", yields, self.load, f"nominal values; {self.branch[name].source}")
                for name, yields in self._points_yield()
            ),
        )

    def cautions(self, load: float) -> tuple[str, ...]:
        """Those of pressure, and what factors do not say."""
        least = min(yields for _, yields in self._points_yield(highest=True))
        return (
            f"At the branch {show(least, self.load, 4)} may be enough for first yield, where the stated factors are as "
            "high as their limits; the design code's own limits for branches come first.",
            "The highest stress of a branch is mostly inside, at the corner of the opening, where no gauge lies: yield "
            "is told of the named points alone.",
            *super().cautions(load),
        )

    def _hoop_per_pa(self, surface: str) -> float:
        """Hoop stress of the plain shell on a side of the wall, per pascal, from nominal values."""
        nominal = self._nominal()
        return float(self._a(1.0, *nominal) * (1 + self._lean(surface, *nominal)))

    def _stresses(self, load: Numbers, name: str, *inputs: Numbers) -> tuple[Numbers, Numbers, Numbers]:
        """Stress (Pa) at a point along its normal, tangential, and square to the wall."""
        surface = self.branch[name].surface
        hoop = self._a(load, *inputs) * (1 + self._lean(surface, *inputs))
        first = len(super().inputs()) + 2 * list(self.branch).index(name)
        return inputs[first] * hoop, inputs[first + 1] * hoop, 0.0 if surface == "outside" else -load

    def _points_yield(self, *, highest: bool = False) -> Iterator[tuple[str, float]]:
        """Each point and the pressure (Pa) of its first yield; `highest`: the lowest one that its limits allow.

        The equivalent stress is a convex function of both factors, so that it is highest at a corner of the limits.
        """
        first = len(super().inputs())
        nominal, strength = self._nominal(), self.material.yield_strength.value
        for name, point in self.branch.items():
            written = (point.normal, point.tangential)
            bounds = product(*((f.lower, f.upper) for f in written)) if highest else [tuple(f.value for f in written)]
            equivalents = []
            for pair in bounds:
                nominal[first : first + 2] = pair
                one, two, three = self._stresses(1.0, name, *nominal)
                equivalents.append(np.sqrt(((one - two) ** 2 + (two - three) ** 2 + (three - one) ** 2) / 2))
            first += 2
            yield name, float(strength / max(equivalents)) if max(equivalents) > 0 else inf
