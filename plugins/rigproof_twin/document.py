"""twin.yaml: what the twin needs to know and rig.yaml does not say."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import AfterValidator, AwareDatetime, BeforeValidator, Field, ValidationInfo, WithJsonSchema

from rigproof.documents.load import read_document
from rigproof.documents.named import BY_NAME, Named
from rigproof.documents.validation import NotWritten, consequence
from rigproof.models import DocumentModel
from rigproof.quantities import (
    Quantity,
    Uncertain,
    WrittenError,
    did_you_mean,
    kind_of,
    parse,
    parse_uncertain,
    quantity,
    uncertain,
)
from rigproof_twin.roles import reads_anything, role

if TYPE_CHECKING:
    from rigproof.documents.rig import Rig

# What an instrument reads, by the kind of its driver in rig.yaml.
READS = {
    "bridge amplifier": "bridge output",
    "ohmmeter": "resistance",
    "insulation tester": "insulation resistance",
    "pressure transmitter": "gauge pressure",
    "thermometer": "temperature",
    "pressure source": "gauge pressure",
    "modbus source": "gauge pressure",
    "force meter": "force",
    "volume meter": "volume",
    "force source": "force",
    "torque meter": "torque",
    "torque source": "torque",
}


BY_HAND = ("manual meter", "manual source")  # worked by a person, not over a wire
SEVERAL = "several kinds"
_OF_READING = WithJsonSchema({"type": "string", "description": "in a unit of what the instrument reads"})


@dataclass(frozen=True)
class InstrumentsOfRig:
    """What a twin.yaml is read against: the kind of driver of each instrument in rig.yaml, and what channels read."""

    drivers: Mapping[str, str]
    reads: Mapping[str, str] = field(default_factory=dict)  # by instrument; for drivers that READS does not know


def _of_the_rig(name: str, info: ValidationInfo) -> str:
    if info.context and name not in info.context.drivers:
        raise WrittenError(f"{name!r} is no instrument of the rig", did_you_mean(name, info.context.drivers))
    return name


def _largest(written: Any, info: ValidationInfo) -> Any:
    return parse(written, _reads(info)) if isinstance(written, str) else written


def _noise(written: Any, info: ValidationInfo) -> Any:
    """In the unit of the reading, or as a share of it."""
    if not isinstance(written, str):
        return written
    kind = "ratio" if written.strip().endswith(tuple("%‰")) else kind_of(_reads(info)).difference
    noise = parse(written, kind)
    if noise.value < 0:
        raise WrittenError(f"{written!r} is negative", "write a standard deviation, without a sign")
    return noise


def _reads(info: ValidationInfo) -> str:
    if info.context is None or "name" not in info.data:
        raise consequence()
    name = info.data["name"]
    driver = info.context.drivers[name]
    if driver not in READS and name in info.context.reads:
        if info.context.reads[name] == SEVERAL:
            raise WrittenError(f"{name!r} reads several kinds of quantity", "leave this out, or write a noise in %")
        return str(info.context.reads[name])
    if driver not in READS:
        remedy = f"it has: {', '.join(READS)}; or let the driver name a `stand_in`"
        raise WrittenError(f"the twin has no instrument for the driver {driver!r}", remedy)
    return READS[driver]


class Temperature(DocumentModel):
    """Of the rig over time: from where it starts to that around it, with a drift and a swing."""

    at_start: Annotated[Quantity, quantity("temperature")] = parse("20 °C", "temperature")
    """Of the whole rig when the run begins."""
    ambient: Annotated[Quantity | None, quantity("temperature")] = None
    """Of what is around it, which the rig goes to; left out, it stays as it starts."""
    time_constant: Annotated[Quantity, quantity("time", above="0 s")] = parse("20 min", "time")
    """In which it goes there, to 37 % of the difference."""
    drift: Annotated[Quantity, quantity("temperature rate")] = parse("0 K/h", "temperature rate")
    """Steady change of it all."""
    swing: Annotated[Quantity, quantity("temperature difference", at_least="0 K")] = parse(
        "0 K", "temperature difference"
    )
    """Amplitude of a slow swing."""
    period: Annotated[Quantity, quantity("time", above="0 s")] = parse("20 min", "time")
    """Of the swing."""


class Leads(DocumentModel):
    """How the conductors of a cable differ and follow the temperature; rig.yaml has their resistance."""

    spread: Annotated[Quantity, quantity("ratio", at_least="0 %", at_most="50 %")] = parse("0 %", "ratio")
    """Largest difference of one conductor from the others."""
    temperature_coefficient: Annotated[Quantity, quantity("temperature coefficient")] = parse(
        "0.0039 1/K", "temperature coefficient"
    )
    """Of their resistance; copper has about 0.0039 1/K."""


class Gauges(DocumentModel):
    """What bonding does to a healthy gauge; each gauge draws its own within these bounds."""

    offset: Annotated[Quantity, quantity("strain", at_least="0 µε")] = parse("0 µε", "strain")
    """Largest start offset that bonding leaves."""
    creep: Annotated[Quantity, quantity("ratio", at_least="0 %", at_most="100 %")] = parse("0 %", "ratio")
    """Largest share of the strain that a good bond gives up in time."""
    insulation: Annotated[Quantity, quantity("insulation resistance", above="0 Ω")] = parse(
        "20 GΩ", "insulation resistance"
    )
    """Least insulation; up to twice that."""
    leads: Leads = Leads()
    """Their conductors."""


class Body(DocumentModel):
    """What the body of a healthy force cell and the way it is loaded do; each draws its own within these bounds."""

    nonlinearity: Annotated[Quantity, quantity("ratio", at_least="0 %", at_most="5 %")] = parse("0 %", "ratio")
    """Largest departure from the straight line, as a share of the rated output."""
    hysteresis: Annotated[Quantity, quantity("ratio", at_least="0 %", at_most="5 %")] = parse("0 %", "ratio")
    """Largest difference between rising and falling load, as a share of the rated output."""
    eccentricity: Annotated[Quantity, quantity("length", at_least="0 mm")] = parse("0 mm", "length")
    """How far the force acts beside the axis."""
    gauge_spread: Annotated[Quantity, quantity("ratio", at_least="0 %", at_most="5 %")] = parse("0 %", "ratio")
    """How far the gauge factors of its four gauges differ."""
    compensation_spread: Annotated[Quantity, quantity("expansion", at_least="0 ppm/K")] = parse("0 ppm/K", "expansion")
    """How far their compensations for temperature differ."""


class Instrument(Named):
    """One simulated instrument. What does not belong to its kind is of no account."""

    name: Annotated[str, AfterValidator(_of_the_rig), NotWritten()] = ""
    noise: Annotated[Quantity | None, BeforeValidator(_noise), _OF_READING] = None
    """Standard deviation of one reading, in its unit or as a share of it."""
    latency: Annotated[Quantity, quantity("time")] = parse("0 s", "time")
    """Time it takes to answer."""
    highest_reading: Annotated[Quantity | None, BeforeValidator(_largest), _OF_READING] = None
    """End of its range; beyond it: overload."""
    shunt_resistor: Annotated[Uncertain, uncertain("resistance", above="0 Ω")] = parse_uncertain("100 kΩ", "resistance")
    """Of a bridge amplifier: the resistor its relay switches."""
    completion_resistor: Annotated[Uncertain | None, uncertain("resistance", above="0 Ω")] = None
    """Of a bridge amplifier: the resistors that complete a quarter bridge; left out, as the gauge."""
    time_constant: Annotated[Quantity, quantity("time", above="0 s")] = parse("2 s", "time")
    """Of a source: how it settles at its target."""
    overshoot: Annotated[Quantity, quantity("ratio", at_least="0 %")] = parse("0 %", "ratio")
    """Of a source: how far it passes its target."""
    vent: Annotated[Quantity, quantity("time", above="0 s")] = parse("1 s", "time")
    """Of a source: in which its load goes when it is made safe."""


class Twin(DocumentModel):
    """The whole document."""

    rigproof: Literal["twin/1"]
    """Format and version of the document."""
    simulator: str
    """Which simulator reads it."""
    starts: AwareDatetime = datetime(2026, 11, 25, 8, 0, tzinfo=UTC)
    """Date and time at which the simulated run begins."""
    temperature: Temperature = Temperature()
    """Of the rig, over time."""
    gauges: Gauges = Gauges()
    """What bonding left, and their leads."""
    cell: Body = Body()
    """Of a force cell."""
    instruments: Annotated[dict[str, Instrument], BY_NAME] = Field(default={}, validate_default=True)
    """How they answer, by their names in rig.yaml."""

    def instrument(self, name: str) -> Instrument:
        """What is said of an instrument; one that is not named has neither noise nor latency."""
        return self.instruments.get(name) or Instrument(name=name)


def read_twin(file: Path, rig: Rig) -> Twin:
    """Read a twin.yaml that belongs to `rig`; a DocumentError has all its faults."""
    drivers = {name: role(instrument) for name, instrument in rig.instruments.items()}
    reads: dict[str, str] = {}
    for channel in rig.channels.values():
        if drivers[channel.instrument] in BY_HAND or reads_anything(rig.instruments[channel.instrument]):
            same = reads.setdefault(channel.instrument, channel.reads) == channel.reads
            reads[channel.instrument] = channel.reads if same else SEVERAL
    return read_document(Twin, file, context=InstrumentsOfRig(drivers, reads))
