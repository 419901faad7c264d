"""What a strain-reduction model and a part model are: the contract between judging and physics.

Both are pydantic models of their own parameters in rig.yaml. Their functions are plain and vectorised, take
their uncertain inputs as positional numbers in the order of `inputs()`, and do no I/O, so that the same function
serves a value, a numerical sensitivity and a Monte Carlo run.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any, ClassVar

import numpy as np
import numpy.typing as npt
from pydantic import AfterValidator, ConfigDict, Field

from rigproof.described import Described
from rigproof.quantities import WrittenError
from rigproof.uncertainty import Input

if TYPE_CHECKING:
    from rigproof.documents.rig import Gauge

Numbers = float | npt.NDArray[np.float64]


def _not_blank(written: str) -> str:
    if not written.strip():
        raise WrittenError(f"{written!r} names nothing", "write what stands there, or leave the key out")
    return written.strip()


OneLine = Annotated[str, Field(max_length=100), AfterValidator(_not_blank)]
"""What identifies a thing, as it is marked on it or on its papers."""


class DocumentModel(Described):
    """Base of all that is written in a document: keys with spaces, unknown keys refused, values frozen."""

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        alias_generator=lambda name: name.replace("_", " "),
        arbitrary_types_allowed=True,
        validate_default=True,
    )

    unwritten: ClassVar[str] = "default"  # where a value comes from that stands in no document

    def source_of(self, path: str, key: str) -> str:
        """Where the value of `key` comes from, here or further down: `rig.yaml: <path>.<key>`; "" for no such key.

        `path` is that of this model in rig.yaml.
        """
        field = key.replace(" ", "_")
        if field in type(self).model_fields:
            return f"{'rig.yaml' if field in self.model_fields_set else self.unwritten}: {path}.{key}"
        inner = ((name, getattr(self, name)) for name in type(self).model_fields)
        found = (
            m.source_of(f"{path}.{name.replace('_', ' ')}", key) for name, m in inner if isinstance(m, DocumentModel)
        )
        return next(filter(None, found), "")


class ReductionModel(DocumentModel, ABC):
    """Turns an instrument's reading into the quantity wanted (bridge output into strain, ohms into °C)."""

    kind: ClassVar[str]  # the word after `model:`
    takes: ClassVar[str]  # kind of quantity read, see rigproof.quantities.KINDS
    gives: ClassVar[str]  # kind of quantity returned
    gauges: ClassVar[int] = 1  # how many gauges of the rig it needs

    @abstractmethod
    def inputs(self, gauges: Sequence[Gauge]) -> tuple[Input, ...]:
        """The uncertain inputs, in the order the functions below take them; names as in rig.yaml."""

    @abstractmethod
    def reduce(self, reading: Numbers, zero: Numbers, *inputs: Numbers) -> Numbers:
        """The quantity that `reading` stands for, counted from the reading `zero` (ignored where it has no meaning)."""


@dataclass(frozen=True)
class Fact:
    """One number people want to know before any load: a name, a value in the base unit of `kind`, where it is from."""

    name: str
    value: float
    kind: str
    note: str = ""
    u: float = 0.0  # standard uncertainty in the same unit; 0 where it is exact or not stated


@dataclass(frozen=True)
class Installation:
    """A gauge on its part, fed by its instrument, as the documents state it before any hardware."""

    gauge: Gauge
    excitation_v: float | None  # as set in rig.yaml; None where its driver says nothing of it
    expansion: Input | None  # of the part under the gauge, 1/K; None where the part model states none
    highest_strain: float  # predicted at the highest load of the procedure; 0 where nothing is loaded


class BridgeModel(ReductionModel, ABC):
    """A reduction of a Wheatstone bridge output (V/V) to strain."""

    takes: ClassVar[str] = "bridge output"
    gives: ClassVar[str] = "strain"
    shunted: ClassVar[str] = "the ends of the active arm"  # which points the instrument's shunt resistor bridges

    @abstractmethod
    def shunt_reading(self, shunt_ohm: Numbers, zero: Numbers, *inputs: Numbers) -> Numbers:
        """Change of bridge output (V/V) that `shunt_ohm` across the active arm must give, from the output `zero`."""

    @abstractmethod
    def apparent(self, along: Numbers, across: Numbers, *inputs: Numbers) -> Numbers:
        """Strain the bridge reports when the part strains by `along` and `across` the grid (transverse sensitivity)."""

    @abstractmethod
    def thermal(self, part_per_k: Numbers, compensated_per_k: Numbers, rise_k: Numbers, *inputs: Numbers) -> Numbers:
        """Strain the bridge reports without load when part, grids and leads are `rise_k` warmer than at the zero.

        The part expands by `part_per_k` (1/K); its gauges are compensated for a material of `compensated_per_k`.
        """

    def unsuited(self, part: PartModel, place: str) -> str:  # noqa: ARG002  subclasses use it
        """Why its gauges, the first at `place`, cannot strain on `part` as it takes them to; empty where they can."""
        return ""

    def facts(self, installed: Installation) -> tuple[Fact, ...]:  # noqa: ARG002  subclasses use it
        """What the plan prints of the gauge as installed: leads, heating, temperature, insulation."""
        return ()

    def cautions(self, installed: Installation) -> tuple[str, ...]:  # noqa: ARG002  subclasses use it
        """What people must mind about the gauge as installed, or state before anybody can tell; whole sentences."""
        return ()


@dataclass(frozen=True)
class StateOfStrain:
    """What the elements of a rosette tell, as plain functions of their strains and transverse sensitivities.

    Each takes the strain that every element reports, in their order, then either the transverse sensitivity of every
    element or none at all, where the strains are those of the part itself. They are smooth near the state they were
    made for, also where both principal strains are equal, so that a budget may take their slopes there.
    """

    first: Callable[..., Numbers]  # the larger principal strain
    second: Callable[..., Numbers]
    direction: Callable[..., Numbers]  # of the larger one, rad, from element 1 towards element 2
    von_mises: Callable[..., Numbers]  # equivalent stress (Pa); takes elastic modulus (Pa) and Poisson's ratio besides


class RosetteModel(DocumentModel, ABC):
    """Several gauges at one point of a free surface: from their strains to the whole state of strain there."""

    kind: ClassVar[str]  # the word after `model:` of a layout
    elements: ClassVar[int]

    @abstractmethod
    def state(self, strains: Sequence[float], kts: Sequence[float] = ()) -> StateOfStrain:
        """The functions near the state at which the elements report `strains`; `kts` their transverse sensitivities."""


class PartModel(DocumentModel, ABC):
    """Predicts the strain of the part under load, and knows what the part can bear."""

    kind: ClassVar[str]  # the word after `model:`
    load: ClassVar[str]  # kind of the load, see rigproof.quantities.KINDS
    places: ClassVar[tuple[str, ...]]  # the words a gauge may have after `at:`, see `places_written`
    bears: ClassVar[str] = "load at first yield"  # what people call `yield_load`
    without: ClassVar[str] = "permanent set"  # what must not come of the proof load

    serial_number: OneLine | None = None
    """The part's own, as it is marked on it; it stands on the verdict and the report."""
    drawing: OneLine | None = None
    """Number and issue of the drawing that the part was made by."""

    @abstractmethod
    def inputs(self) -> tuple[Input, ...]:
        """The uncertain dimensions and material values, in the order the functions below take them."""

    @abstractmethod
    def strain(self, load: Numbers, place: str, *inputs: Numbers) -> tuple[Numbers, Numbers]:
        """Strain (along, across) the grid of a gauge at `place` under `load` in base units."""

    @classmethod
    def places_written(cls, written: Mapping[str, Any]) -> tuple[str, ...]:  # noqa: ARG003  subclasses use it
        """The words for `at:` on the part that is `written` so, before any of it is known to be right."""
        return cls.places

    @abstractmethod
    def yield_load(self) -> float:
        """Load in base units at which the most stressed point starts to yield, from nominal values."""

    def unsuited(self, gauge: Gauge) -> str:  # noqa: ARG002  subclasses use it
        """What in the entry of a gauge contradicts this part; empty where nothing does."""
        return ""

    def nominal_strain(self, place: str) -> tuple[float, float]:
        """Strain (along, across) at `place` at the load of first yield, from nominal values."""
        along, across = self.strain(self.yield_load(), place, *(item.value for item in self.inputs()))
        return float(along), float(across)

    def has_opposite(self, place: str) -> bool:
        """Whether a second gauge can lie where the part strains by just as much the other way, as in bending."""
        along, across = self.nominal_strain(place)
        return any(
            np.allclose(self.nominal_strain(other), (-along, -across), rtol=1e-6, atol=0.0) for other in self.places
        )

    def proof_limit(self) -> float:
        """Highest load in base units a proof may go to: nine tenths of the one at which yield starts.

        The share is that of ASME B31.3, 345.5.4, for pneumatic tests, taken for every test of every part.
        """
        return 0.9 * self.yield_load()

    def facts(self, load: float) -> tuple[Fact, ...]:
        """What the plan prints of the part at `load`; a part model adds its own to these."""
        yields = self.yield_load()
        return (
            Fact(self.bears, yields, self.load, "most stressed point, nominal values"),
            Fact("highest proof load", self.proof_limit(), self.load),
            Fact(f"share of the {self.bears}", abs(load) / yields, "ratio"),
        )

    def formulas(self) -> tuple[str, ...]:
        """What expected strain and first yield are computed by, with its source: a sentence each, for the plan."""
        return ()

    def expansion(self) -> Input | None:
        """Linear thermal expansion of the part under the gauges (1/K), named as in `inputs()`; None: not stated."""
        return None

    def elastic(self) -> tuple[Input, Input, float] | None:
        """Elastic modulus (Pa) and Poisson's ratio, named as in `inputs()`, and the yield strength (Pa).

        None: not stated, or the gauges lie on no free surface, so that their strains alone do not tell the stress.
        """
        return None

    def load_per_kelvin(self, load: Numbers, *inputs: Numbers) -> Numbers:  # noqa: ARG002  subclasses use them
        """Change of the shut-in `load` per kelvin of the filling, for the decay hold; 0 where load is not shut in."""
        return 0.0

    def cavity(self) -> Input | None:
        """Volume (m³) of the liquid in the part, named as in rig.yaml; None: a gas, not stated, or nothing to fill."""
        return None

    def intake(self, load: Numbers, *inputs: Numbers) -> Numbers:  # noqa: ARG002  subclasses use them
        """Liquid that goes into the full part from no load to `load`, as a share of its `cavity`."""
        return 0.0

    def cautions(self, load: float) -> tuple[str, ...]:  # noqa: ARG002  subclasses use it
        """What people must mind at `load`, in whole sentences."""
        return ()

    def unsaid(self) -> tuple[str, ...]:
        """What nobody can be told of the part for want of a key, in whole sentences; each names the key."""
        return ()
