"""Step `air content`: the volume that goes in with a rise of pressure is that of water, and of no air."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from math import inf, sqrt
from typing import TYPE_CHECKING, Annotated, ClassVar

from pydantic import AfterValidator, Field

from rigproof.documents.rig import Rig
from rigproof.models import Numbers
from rigproof.quantities import Quantity, Within, WrittenError, did_you_mean, quantity, within
from rigproof.uncertainty import Input, Rule
from rigproof.verdict.record import Check, Finding

from . import base
from .checks import Subject, specified_check
from .guard import missing, safely
from .hints import Hints
from .record import Block, StepRecord
from .terms import Term, absolute, change, combine, part_inputs, prefixed, usable

if TYPE_CHECKING:
    from rigproof.run.live import LiveRig

READINGS, INTERVAL_S = 20, 0.05
# The standard atmosphere (ISO 2533, from memory); how far weather and height take it is a usual figure, no source.
AIR_PRESSURE = Input(
    "air pressure",
    101_325.0,
    5_000.0 / sqrt(3),
    inf,
    "rectangular",
    "Pa",
    stated="1013.25 hPa ± 50 hPa",
    source="the step: weather, and up to 300 m of height",
)


def _rising(loads: tuple[Quantity, Quantity]) -> tuple[Quantity, Quantity]:
    low, high = loads
    if not 0 < low.value < high.value:
        said = f"{low.text}, {high.text} do not rise from above no load"
        raise WrittenError(said, "write two pressures such as [1 bar, 6 bar]")
    return loads


class AirContent(base.Step):
    """Air left in a part that is filled with water, from the volume that goes in between two low pressures.

    Water and wall take in what the part model says. Air takes in more, by Boyle, the more the lower the pressure: of
    1 % of air half has gone by 1 bar. What goes in beyond water and wall is air, or a wall that yields, a leak, a hose
    that widens, a wrong volume. Air stores energy (at 100 bar one hundredth of it eight times that of the water) and
    hides a leak. The usual ceiling of 0.2 % of the volume is from memory, no standard seen.
    """

    kind: ClassVar[str] = "air content"
    loads: ClassVar[bool] = True
    admits: ClassVar[tuple[Finding, ...]] = ("accept", "undecided")
    shows: ClassVar[tuple[str, ...]] = ("the part is vented: no air beside the water",)
    hints: ClassVar[Hints] = {
        "air content": "air at a high point or in the hose: vent and fill again; then a leak, a hose that gives, the "
        "volume in rig.yaml",
    }

    source: str
    """The source that loads the part."""
    volume: str
    """The channel that measures the volume that has gone into the part."""
    between: Annotated[tuple[base.Load, base.Load], AfterValidator(_rising)]
    """The two pressures at which the volume is read; low ones, where air shows."""
    rate: base.LoadRate | None = None
    """Rate of the load; left out, the source's own."""
    dwell: Annotated[Quantity, quantity("time")] = Field(default="30 s", validate_default=True)
    """How long a pressure stands before the volume is read: air that was squeezed is warm at first."""
    content: Annotated[Within, within("ratio")] = Field(default="within 0.2 %", validate_default=True)
    """Air as a share of the volume, before the pressure comes."""

    def problems(self, rig: Rig) -> Sequence[tuple[str, str, str]]:
        """Source, pressures, the channel of the volume, and a part whose volume is known and that holds water."""
        low, high = self.between
        found = base.source_problems(rig, self.source, high, high.value, self.rate)
        found = [("between" if key == "to" else key, what, remedy) for key, what, remedy in found]
        if low.kind != high.kind:
            found.append(("between", f"{low.text} is no {high.kind}", "write two of the same kind"))
        known = [name for name, channel in rig.channels.items() if channel.measures == "volume"]
        if self.volume not in known:
            hint = did_you_mean(self.volume, known) if known else "add one to rig.yaml with `measures: volume`"
            found.append(("volume", f"{self.volume!r} is no channel that measures a volume", hint))
        if rig.part.cavity() is None:
            remedy = "write the part's `volume`; of a part filled with gas the step shows nothing, leave it out"
            found.append(("volume", "the part states no volume of water", remedy))
        return found

    def rests_on(self, rig: Rig) -> tuple[str, ...]:
        """Load and volume; no strain is judged."""
        return (rig.sources[self.source].channel, self.volume)

    def highest_load(self) -> float:
        """The higher pressure, base unit."""
        return self.between[1].value

    def acquire(self, live: LiveRig) -> None:
        """Up to the two pressures, and down."""
        names = base.strain_channels(live.rig, (base.ALL_STRAIN,))
        if names:  # arms the strain interlocks
            live.read("before", names, count=READINGS, interval_s=INTERVAL_S)
            live.take_zero(names)
        rate = self.rate.value if self.rate else None
        both = (live.rig.sources[self.source].channel, self.volume)
        for label, load in zip(("low", "high"), self.between, strict=True):
            live.rise_to(self.source, load.value, rate, f"air content: {label} pressure")
            live.wait(self.dwell.value, "dwell")
            live.read(label, both, count=READINGS, interval_s=INTERVAL_S)
        live.rise_to(self.source, 0.0, rate, "air content: back to zero")

    def judge(self, rig: Rig, rule: Rule, record: StepRecord) -> Sequence[Check]:
        """One check."""
        low, high = record.block("low"), record.block("high")
        about = Subject("air content", self.volume, "ratio", " to ".join(load.text for load in self.between))
        if low is None or high is None:
            return [missing(record, about, "the two pressures were not reached")]
        return safely(record, about, partial(self._checks, rig, rule, record, about, low, high))

    def _checks(
        self, rig: Rig, rule: Rule, record: StepRecord, about: Subject, low: Block, high: Block
    ) -> Iterator[Check]:
        load, limit = rig.channels[rig.sources[self.source].channel], self.stated("content")
        if not all(usable(block[name]) for block in (low, high) for name in (load.name, self.volume)):
            yield missing(record, about, "a reading is missing: overload or no number")
            return
        added = change(rig.channels[self.volume], high[self.volume], low[self.volume], "high", "m³")
        pressures = [absolute(load, block[load.name], f"{load.name} {block.label}", "Pa") for block in (low, high)]
        figure = combine(
            _air_share, added, *pressures, _cavity(rig), *(_intake(rig, each) for each in pressures), _AIR
        ).estimate()
        yield specified_check(record, about, figure, limit.tolerance, rule, limit.origin)


def _cavity(rig: Rig) -> Term:
    cavity = rig.part.cavity()
    assert cavity is not None, "see `problems`"
    return Term(lambda volume: volume, prefixed("part", (cavity,), (rig.part, "part")))


def _intake(rig: Rig, pressure: Term) -> Term:
    """Share of its volume that the full part takes in up to a pressure."""
    n_pressure = len(pressure.inputs)

    def function(*values: Numbers) -> Numbers:
        return rig.part.intake(pressure.function(*values[:n_pressure]), *values[n_pressure:])

    return Term(function, (*pressure.inputs, *part_inputs(rig)))


_AIR = Term(lambda air: air, (AIR_PRESSURE,))


def _air_share(
    added: Numbers, low: Numbers, high: Numbers, cavity: Numbers, at_low: Numbers, at_high: Numbers, air: Numbers
) -> Numbers:
    """What went in beyond water and wall, over what one whole volume of air would have taken in (Boyle)."""
    return (added / cavity - (at_high - at_low)) / (air / (air + low) - air / (air + high))
