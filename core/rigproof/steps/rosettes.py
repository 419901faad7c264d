"""The state of strain at a rosette, from the strains of its elements, each with its whole budget.

Measured strains have the elements' transverse sensitivity still in them, and the layout takes it out for all elements
together. Expected ones are those of the part model at each element's place, reduced by the same layout: it is the part
that the rosette is compared with. What the elements share (`shared` of the rosette) is one input of the budget, so that
it cancels in a direction and does not in a stress; all else of an element stands in the budget as its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import pi

from rigproof.documents.rig import Rig
from rigproof.documents.rosettes import READING, Rosette
from rigproof.models import Numbers, StateOfStrain
from rigproof.quantities import Quantity
from rigproof.uncertainty import Rule, Tolerance
from rigproof.verdict.record import Check

from .checks import Stated, Subject, specified_check, value_of
from .guard import agreement
from .record import StepRecord
from .terms import Term, combine, part_inputs, prefixed

ORIGIN = "computed for strain at a point: part model, gauges, leads, amplifier and load channel"
LEAST_RADII = 2.0  # a circle of strain of less than so many u has no direction worth a number


def rosettes_of(rig: Rig, channels: Sequence[str]) -> list[Rosette]:
    """The rosettes all of whose elements are among `channels`."""
    return [rosette for rosette in rig.rosettes.values() if set(rosette.channels) <= set(channels)]


@dataclass(frozen=True)
class AtRosette:
    """A rosette under one load: the strain of each element as measured, and the load that the part model takes."""

    rig: Rig
    rosette: Rosette
    strains: tuple[Term, ...]  # in the order of its channels
    load: Term

    @cached_property
    def measured(self) -> _Reduced:
        """From what the elements read."""
        names = self.rosette.channels
        reads = [_shared(self.rosette, term) for term in self.strains]
        kts = [_shared(self.rosette, _transverse(self.rig, name)) for name in names]
        state = self.rosette.layout.state([value_of(term) for term in reads], [value_of(term) for term in kts])
        return _Reduced(state, (*reads, *kts))

    @cached_property
    def expected(self) -> _Reduced:
        """From what the part model says of each element's place."""
        terms = tuple(_of_part(self.rig, name, self.load) for name in self.rosette.channels)
        return _Reduced(self.rosette.layout.state([value_of(term) for term in terms]), terms)

    @property
    def directed(self) -> bool:
        """False where the part strains alike, or nearly so, in all directions: no direction stands out to be judged."""
        circle = combine(lambda first, second: (first - second) / 2, self.measured.first, self.measured.second)
        e1, e2 = value_of(self.expected.first), value_of(self.expected.second)
        return (e1 - e2) / 2 > LEAST_RADII * circle.estimate().u

    def astray(self) -> Term:
        """Direction of the larger principal strain less the expected one (rad), between -90° and 90°."""
        apart = combine(lambda found, wanted: found - wanted, self.measured.direction, self.expected.direction)
        whole = round(value_of(apart) / pi) * pi  # a direction is a line
        return Term(lambda *values: apart.function(*values) - whole, apart.inputs)

    def of_yield(self) -> Term:
        """Von Mises stress at the rosette as a share of the yield strength."""
        found = self.rig.part.elastic()
        assert found is not None, "checked when the documents were read"
        modulus, poisson, strength = found
        elastic = prefixed("part", (modulus, poisson), (self.rig.part, "part"))
        terms = (*self.measured.terms, *(Term(lambda value: value, (item,)) for item in elastic))
        von_mises = self.measured.state.von_mises
        return combine(lambda *values: von_mises(*values) / strength, *terms)


@dataclass(frozen=True)
class _Reduced:
    """A state of strain as terms."""

    state: StateOfStrain
    terms: tuple[Term, ...]  # strains, and transverse sensitivities where they are in the strains

    @property
    def first(self) -> Term:
        """The larger principal strain."""
        return combine(self.state.first, *self.terms)

    @property
    def second(self) -> Term:
        """The smaller one."""
        return combine(self.state.second, *self.terms)

    @property
    def direction(self) -> Term:
        """Of the larger one, rad from element 1 towards element 2."""
        return combine(self.state.direction, *self.terms)


def principal_checks(point: AtRosette, record: StepRecord, rule: Rule, at: str, direction: Stated) -> Iterator[Check]:
    """Principal strains against the part model, and their direction against a limit."""
    name = point.rosette.name
    for about, measured, expected in (
        (Subject("principal strain 1", name, "strain", at), point.measured.first, point.expected.first),
        (Subject("principal strain 2", name, "strain", at), point.measured.second, point.expected.second),
    ):
        yield agreement(record, about, measured, expected, rule, ORIGIN)
    if point.directed:
        about = Subject("principal direction", name, "angle", at)
        yield specified_check(
            record, about, point.astray().estimate(), direction.tolerance, rule, f"{direction.origin} of the expected"
        )


def stress_check(point: AtRosette, record: StepRecord, rule: Rule, about: Subject, most: Quantity, whose: str) -> Check:
    """Von Mises stress against a share of the yield strength; `whose` limit it is: the procedure's or the default."""
    origin = f"{whose}: at most {most.text} of the yield strength"
    return specified_check(record, about, point.of_yield().estimate(), Tolerance(None, most.value), rule, origin)


def _shared(rosette: Rosette, term: Term) -> Term:
    """The same with what the elements share named after the rosette, so that it is one input of all of them."""
    renamed = {
        f"{name}: {what}" if what == READING else f"{name} {what}": f"{rosette.name}: {what}"
        for name in rosette.channels
        for what in rosette.shared
    }
    return Term(term.function, tuple(i.named(renamed.get(i.name, i.name), i.source) for i in term.inputs))


def _transverse(rig: Rig, name: str) -> Term:
    gauge = rig.gauges[rig.channels[name].gauge or ""]
    own = gauge.transverse_sensitivity.input("transverse sensitivity")
    return Term(lambda kt: kt, prefixed(name, (own,), (gauge, f"gauges.{gauge.name}")))


def _of_part(rig: Rig, name: str, load: Term) -> Term:
    """Strain of the part along the gauge of a channel."""
    place, n_load = rig.gauges[rig.channels[name].gauge or ""].at, len(load.inputs)

    def function(*values: Numbers) -> Numbers:
        return rig.part.strain(load.function(*values[:n_load]), place, *values[n_load:])[0]

    return Term(function, (*load.inputs, *part_inputs(rig)))
