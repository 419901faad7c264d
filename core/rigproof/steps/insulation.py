"""Step `insulation`: no path from gauge to part."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal

import numpy as np
from pydantic import AfterValidator, Field

from rigproof.documents.rig import Rig
from rigproof.quantities import Quantity, WrittenError, quantity
from rigproof.uncertainty import Rule, Tolerance
from rigproof.verdict.record import Check

from . import base
from .checks import Subject, no_reading, specified_check
from .foresee import Assumed, Foreseen
from .guard import missing, safely
from .hints import Hints
from .record import StepRecord
from .terms import absolute

if TYPE_CHECKING:
    from rigproof.run.live import LiveRig

HIGHEST_VOLTAGE_V = 50.0  # over a 25 µm backing more than this can break the gauge down; trade custom, no standard seen


def _harmless(voltage: Quantity) -> Quantity:
    if not 0 < voltage.value <= HIGHEST_VOLTAGE_V:
        raise WrittenError(
            f"{voltage.text!r} is not above 0 V and at most {HIGHEST_VOLTAGE_V:g} V: more can break the backing down",
            "test a gauge with 15 V to 50 V, and never with a mains insulation tester",
        )
    return voltage


class Insulation(base.Step):
    """Resistance between gauge and part at a low d.c. voltage, in both polarities; the lower one counts.

    A leak Ri across a gauge of R reads as the strain -R/(F Ri): for 350 Ω, F = 2 and 1 µε that is 175 MΩ
    (trade custom asks for 1 GΩ on a fresh bench; derivation checked against a nodal solution).
    """

    kind: ClassVar[str] = "insulation"
    shows: ClassVar[tuple[str, ...]] = ("insulation between gauge and part",)
    hints: ClassVar[Hints] = {
        "insulation": "moisture, flux or fingerprints at tabs and leads, a hurt backing, a lead that touches the part",
    }

    channels: base.Channels = (base.ALL_STRAIN,)
    """The strain channels whose gauges are tested."""
    test_voltage: Annotated[Quantity, quantity("voltage"), AfterValidator(_harmless)] = Field(
        default="50 V", validate_default=True
    )
    """Voltage between gauge and part, applied in both polarities."""
    electrification: Annotated[Quantity, quantity("time")] = Field(default="10 s", validate_default=True)
    """How long the voltage stands before the reading."""
    at_least: Annotated[Quantity, quantity("insulation resistance", above="0 Ω")] = Field(
        default="1 GΩ", validate_default=True
    )
    """Least insulation resistance that is accepted."""
    above_range: Literal["undecided", "accept"] = "undecided"
    """What a reading above the tester's range comes to; a lead that is off reads so, too."""

    def problems(self, rig: Rig) -> Sequence[tuple[str, str, str]]:
        """Each gauge needs a channel that measures its insulation."""
        return base.channel_problems(rig, self.channels) or base.companion_problems(
            rig, self.channels, "insulation resistance"
        )

    def rests_on(self, rig: Rig) -> tuple[str, ...]:  # noqa: ARG002  it reads no bridge
        """Neither strain nor load is read."""
        return ()

    def assumes(self) -> Assumed:
        """A gauge that has just the insulation asked for: the guard band counts there."""
        return Assumed(insulation_ohm=self.at_least.value)

    def foresee(self, rig: Rig, rule: Rule, record: StepRecord) -> Sequence[Foreseen]:
        """Acceptable where the tester's range reaches beyond what is asked, guard band included."""
        found = []
        for check in self.judge(rig, rule, record):
            highest = rig.channels[base.companion(rig, check.subject, "insulation resistance")].highest_reading
            enough = check.acceptance_lower
            reaches = highest is None or (enough is not None and highest.value >= enough)
            note = "" if reaches or highest is None else f"the tester's range ends at {highest.text}"
            found.append(Foreseen(check.model_copy(update={"note": note}), reaches))
        return found

    def acquire(self, live: LiveRig) -> None:
        """Measure each gauge at plus and minus the test voltage."""
        for name in base.strain_channels(live.rig, self.channels):
            meter = base.companion(live.rig, name, "insulation resistance")
            for volt in (self.test_voltage.value, -self.test_voltage.value):
                live.read_insulation(meter, volt, self.electrification.value, strain_channel=name)

    def judge(self, rig: Rig, rule: Rule, record: StepRecord) -> Sequence[Check]:
        """The lower reading of the two polarities against the least insulation asked for."""
        by_channel: dict[str, dict[bool, float | None]] = {}  # whether the voltage was positive -> resistance
        for event in record.events("insulation"):
            by_channel.setdefault(event["strain_channel"], {})[event["volt"] > 0] = event["ohm"]
        checks: list[Check] = []
        for name in base.strain_channels(rig, self.channels):
            about = Subject(
                "insulation",
                name,
                "insulation resistance",
                f"{self.test_voltage.text}, the lower reading of both polarities",
            )
            found = list(by_channel.get(name, {}).values())
            if len(found) < 2:
                checks.append(missing(record, about, "not measured in both polarities"))
            else:
                make = partial(self._checks, rig, rule, record, about, found)
                checks += safely(record, about, make)
        return checks

    def _checks(
        self, rig: Rig, rule: Rule, record: StepRecord, about: Subject, found: Sequence[float | None]
    ) -> Iterator[Check]:
        name = about.subject
        meter = rig.channels[base.companion(rig, name, "insulation resistance")]
        limits = Tolerance(self.at_least.value, None)
        origin = f"{self.origin('at_least')}: at least {self.at_least.text}"
        numbers = [ohm for ohm in found if ohm is not None]
        if meter.highest_reading and max(numbers, default=0.0) > meter.highest_reading.value:
            note = f"reads more than its highest reading of {meter.highest_reading.text}: another unit, or a code"
            yield missing(record, about, note)
            return
        if not numbers:
            yield self._above_range(record, about, limits, origin, meter.highest_reading)
            return
        read, at_limit = (
            absolute(meter, np.array([ohm]), f"{name} insulation reading", "Ω").estimate()
            for ohm in (min(numbers), meter.correction.taken_from(self.at_least.value))
        )
        yield specified_check(record, about, read, limits, rule, origin, at_limit=at_limit)

    def _above_range(
        self, record: StepRecord, about: Subject, limits: Tolerance, origin: str, highest: Quantity | None
    ) -> Check:
        """A reading above the range shows as much as that range, where it is stated and the leads were proved."""
        if highest is None:
            return missing(
                record, about, "above the tester's range, which rig.yaml does not state (`highest reading:`)"
            )
        above = f"above the tester's range of {highest.text}"
        if highest.value < self.at_least.value:
            return missing(record, about, f"{above}, which is below what is asked")
        if self.above_range == "undecided":
            remedy = "prove the leads on a known resistor, then the procedure may say `above range: accept`"
            return missing(record, about, f"{above}, as a lead that is off would be; {remedy}")
        note = f"above {highest.text}, the end of the tester's range; see that its leads are connected"
        return no_reading(record, about, limits, origin, "accept", note)
