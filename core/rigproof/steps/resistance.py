"""Step `resistance`: each gauge still has the resistance its packet states."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from typing import TYPE_CHECKING, Annotated, ClassVar

from pydantic import Field

from rigproof.documents.rig import Rig
from rigproof.instruments import FloatArray
from rigproof.quantities import Within, within
from rigproof.uncertainty import Rule, Tolerance
from rigproof.verdict.record import Check

from . import base
from .as_found import RESISTANCE
from .checks import Subject, no_reading, specified_check
from .guard import missing, safely
from .hints import Hints
from .record import StepRecord
from .terms import absolute, combine, usable

if TYPE_CHECKING:
    from rigproof.run.live import LiveRig


class Resistance(base.Step):
    """Four-wire resistance of each gauge as bonded and wired, against its packet.

    Finds a gauge of another resistance, a nicked grid, a solder bridge or a bad joint. It cannot see strain: at a
    gauge factor of 2, 0.1 % of resistance is 500 µε (trade custom for the limit, no standard seen; 0.3 to 0.5 %).
    """

    kind: ClassVar[str] = "resistance"
    by_packet: ClassVar[bool] = True
    shows: ClassVar[tuple[str, ...]] = ("gauge resistance as on the packet",)
    hints: ClassVar[Hints] = {
        "change from packet": "a joint or lead in series, a strained or damaged grid, another gauge than on the packet",
    }

    channels: base.Channels = (base.ALL_STRAIN,)
    """The strain channels whose gauges are measured."""
    change_from_packet: Annotated[Within, within("resistance")] = Field(default="within 0.5 %", validate_default=True)
    """How far the resistance may be from the packet's value."""
    readings: Annotated[int, Field(ge=2, le=1000)] = 5
    """Readings of each gauge, whose mean counts."""

    def problems(self, rig: Rig) -> Sequence[tuple[str, str, str]]:
        """Each gauge needs a channel that measures its resistance."""
        return base.channel_problems(rig, self.channels) or base.companion_problems(rig, self.channels, "resistance")

    def rests_on(self, rig: Rig) -> tuple[str, ...]:  # noqa: ARG002  it reads no bridge
        """Neither strain nor load is read."""
        return ()

    def acquire(self, live: LiveRig) -> None:
        """Read every gauge's resistance."""
        for name in base.strain_channels(live.rig, self.channels):
            meter = base.companion(live.rig, name, "resistance")
            live.read(RESISTANCE, [meter], count=self.readings, interval_s=0.2, strain_channel=name)

    def judge(self, rig: Rig, rule: Rule, record: StepRecord) -> Sequence[Check]:
        """Relative change from the packet's value, against the limit."""
        read = {block.tags["strain_channel"]: block.values for block in record.blocks(RESISTANCE)}
        checks: list[Check] = []
        for name in base.strain_channels(rig, self.channels):
            about = Subject("change from packet", name, "ratio")
            if name in read:
                checks += safely(record, about, partial(self._checks, rig, rule, record, about, read[name]))
            else:
                checks.append(missing(record, about, "not read"))
        return checks

    def _checks(
        self, rig: Rig, rule: Rule, record: StepRecord, about: Subject, values: dict[str, FloatArray]
    ) -> Iterator[Check]:
        name = about.subject
        meter = rig.channels[base.companion(rig, name, "resistance")]
        packet = rig.gauges[str(rig.channels[name].gauge)].resistance.value
        limit = self.change_from_packet.limit / (1.0 if self.change_from_packet.relative else packet)
        limits = Tolerance(-limit, limit)
        origin = self.stated("change_from_packet").origin
        samples = values[meter.name]
        if not usable(samples):
            yield no_reading(record, about, limits, origin, "reject", "open circuit or overload: no resistance")
            return
        measured = absolute(meter, samples, f"{name} resistance reading", "Ω")
        relative = combine(lambda ohm: ohm / packet - 1, measured)
        yield specified_check(record, about, relative.estimate(), limits, rule, origin)
