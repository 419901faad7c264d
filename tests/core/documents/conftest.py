"""Small stand-ins for plugins, a right rig and a right procedure made of them, and ways to spoil them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Annotated, Any, ClassVar

import pytest
from pydantic import Field

from rigproof.documents import load_procedure, load_rig
from rigproof.documents.rig import Gauge, Rig
from rigproof.errors import DocumentError, Fault
from rigproof.instruments import Driver, FloatArray, Identity, Loads, Reads, Settings, TestsInsulation
from rigproof.models import BridgeModel, DocumentModel, Numbers, PartModel, ReductionModel
from rigproof.plugins import Registry
from rigproof.quantities import Quantity, Uncertain, quantity, uncertain
from rigproof.steps.base import Step
from rigproof.uncertainty import Input, Rule
from rigproof.verdict.record import Check

RIG = """\
rigproof: rig/1
name: A plate
part:
  model: plate
  thickness: 10 mm ± 1 %
  material: {elastic modulus: 206 GPa ± 2 %, made by: somebody}
gauges:
  middle: {at: along, resistance: 350 Ω ± 0.3 %, gauge factor: 2.08 ± 0.5 %}
channels:
  middle:
    measures: strain
    gauge: middle
    reduction: {model: one gauge, wires: 3}
    instrument: amplifier
    input: 1
    accuracy: {of reading: 0.05 %, zero drift: 0.05 µV/V}
  force:
    measures: force
    instrument: amplifier
    input: 2
    accuracy: {fixed: 5 N}
  room:
    measures: temperature
    reduction: {model: wire}
    instrument: amplifier
    input: 3
    accuracy: {fixed: 10 mΩ}
  leak: {measures: insulation resistance, gauge: middle, instrument: tester, input: 1}
instruments:
  amplifier: {driver: amplifier, resource: "TCPIP::192.0.2.1::INSTR", settings: {excitation: 2.5 V}}
  tester:
    driver: tester
    resource: TCPIP::192.0.2.2::INSTR
    identity: {maker: Test bay, serial number: 0107}
    calibration: {certificate: 2026-0311, due: 2027-03-31}
  press: {driver: press, resource: TCPIP::192.0.2.3::INSTR, timeout: 10 s}
sources:
  press: {instrument: press, channel: force, rate: 1 kN/s, limit: 100 kN, safe below: 500 N}
interlocks:
  overload: {channel: force, above: 90 kN}
"""

PROCEDURE = """\
rigproof: procedure/1
name: Look at the plate
decision: {rule: guarded acceptance, risk: 5 %}
steps:
  - look
  - look: {channels: [middle], hold: 10 min}
  - press: {to: 50 kN}
"""


class Material(DocumentModel):
    elastic_modulus: Annotated[Uncertain, uncertain("stress")]
    made_by: str = ""


class Plate(PartModel):
    kind: ClassVar[str] = "plate"
    load: ClassVar[str] = "force"
    places: ClassVar[tuple[str, ...]] = ("along", "across")

    thickness: Annotated[Uncertain, uncertain("length", above="0 mm")]
    material: Material

    def inputs(self) -> tuple[Input, ...]:
        return (self.thickness.input("thickness"),)

    def strain(self, load: Numbers, place: str, *inputs: Numbers) -> tuple[Numbers, Numbers]:
        return load / inputs[0], 0.0 * load

    def yield_load(self) -> float:
        return 80e3


class OneGauge(BridgeModel):
    kind: ClassVar[str] = "one gauge"
    wires: Annotated[int, Field(ge=2, le=3)]

    def inputs(self, gauges: Sequence[Gauge]) -> tuple[Input, ...]:
        return tuple(gauge.gauge_factor.input("gauge factor") for gauge in gauges)

    def reduce(self, reading: Numbers, zero: Numbers, *inputs: Numbers) -> Numbers:
        return reading - zero

    def shunt_reading(self, shunt_ohm: Numbers, zero: Numbers, *inputs: Numbers) -> Numbers:
        return zero

    def apparent(self, along: Numbers, across: Numbers, *inputs: Numbers) -> Numbers:
        return along

    def thermal(self, part_per_k: Numbers, compensated_per_k: Numbers, rise_k: Numbers, *inputs: Numbers) -> Numbers:
        return (part_per_k - compensated_per_k) * rise_k


class Wire(ReductionModel):
    kind: ClassVar[str] = "wire"
    takes: ClassVar[str] = "resistance"
    gives: ClassVar[str] = "temperature"
    gauges: ClassVar[int] = 0

    def inputs(self, gauges: Sequence[Gauge]) -> tuple[Input, ...]:
        return ()

    def reduce(self, reading: Numbers, zero: Numbers, *inputs: Numbers) -> Numbers:
        return reading


class AmplifierSettings(Settings):
    excitation: Annotated[Quantity, quantity("voltage")]


class Bare(Driver):
    def open(self) -> Identity:
        return Identity("", "", "", "")

    def close(self) -> None:
        pass

    def errors(self) -> list[str]:
        return []


class Amplifier(Bare, Reads):
    kind: ClassVar[str] = "amplifier"
    settings_model: ClassVar[type[Settings]] = AmplifierSettings

    def read(self, inputs: Sequence[int], count: int, interval_s: float) -> FloatArray:
        raise NotImplementedError


class Tester(Bare, TestsInsulation):
    kind: ClassVar[str] = "tester"

    def insulation_ohm(self, channel_input: int, test_voltage_v: float, electrification_s: float) -> float:
        raise NotImplementedError


class Press(Bare, Loads):
    kind: ClassVar[str] = "press"

    def rise_to(self, target: float, rate_per_s: float) -> None:
        raise NotImplementedError

    def settled(self) -> bool:
        raise NotImplementedError

    def isolate(self, isolated: bool) -> None:
        raise NotImplementedError

    def go_safe(self) -> None:
        raise NotImplementedError

    def is_safe(self) -> bool:
        raise NotImplementedError


class Look(Step):
    kind: ClassVar[str] = "look"
    channels: tuple[str, ...] = ()
    hold: Annotated[Quantity | None, quantity("time")] = None

    def problems(self, rig: Rig) -> Sequence[tuple[str, str, str]]:
        wrong = [name for name in self.channels if name not in rig.channels]
        return [("channels", f"{name!r} is no channel of the rig", "name one that is") for name in wrong]

    def acquire(self, live: Any) -> None:
        raise NotImplementedError

    def judge(self, rig: Rig, rule: Rule, record: Any) -> Sequence[Check]:
        return ()


class PressStep(Look):
    kind: ClassVar[str] = "press"
    to: Annotated[Quantity, quantity("gauge pressure", "force")]


@pytest.fixture(scope="session")
def kinds() -> Registry:
    """A registry of the stand-ins."""
    return Registry(
        parts={"plate": Plate},
        reductions={"one gauge": OneGauge, "wire": Wire},
        drivers={"amplifier": Amplifier, "tester": Tester, "press": Press},
        steps={"look": Look, "press": PressStep},
    )


@pytest.fixture(scope="session")
def rig_text() -> str:
    return RIG


@pytest.fixture(scope="session")
def procedure_text() -> str:
    return PROCEDURE


Faults = Callable[[str], list[Fault]]


@pytest.fixture(scope="session")
def rig_faults(kinds: Registry) -> Faults:
    """The faults of a rig, an empty list for a right one."""

    def faults(text: str) -> list[Fault]:
        try:
            load_rig(text=text, registry=kinds)
        except DocumentError as error:
            return list(error.faults)
        return []

    return faults


@pytest.fixture(scope="session")
def procedure_faults(kinds: Registry) -> Faults:
    """The faults of a procedure, an empty list for a right one."""

    def faults(text: str) -> list[Fault]:
        try:
            load_procedure(text=text, registry=kinds)
        except DocumentError as error:
            return list(error.faults)
        return []

    return faults
