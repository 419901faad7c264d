"""Step `cycles`: load up and down several times, and see that the strain follows, returns and repeats."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING, Annotated, ClassVar

from pydantic import Field

from rigproof.documents.rig import Rig, Rosette
from rigproof.quantities import Quantity, Within, quantity, within
from rigproof.uncertainty import Rule
from rigproof.verdict.record import Check, Finding

from . import base
from .checks import Subject
from .figures import SENSITIVITY_KINDS, ChannelSeries, figure_checks
from .guard import missing, safely
from .hints import CYCLES, LOAD, RESPONSE, ROSETTE, Hints
from .load_checks import highest_load_checks, load_zero_checks
from .record import StepRecord
from .rosettes import AtRosette, principal_checks, rosettes_of

if TYPE_CHECKING:
    from rigproof.run.live import LiveRig


class Cycles(base.Step):
    """Load levels ascending and descending, `times` times, after `exercise` cycles that are not judged.

    Zero return, hysteresis, repeatability and linearity are shares of the reading at top load, defined as in
    OIML R 60-1:2021, 3.7 (see `figures`); sensitivity is compared with the part model under a computed tolerance.
    Default limits of 1 % are trade custom for stress analysis (no standard seen).
    """

    kind: ClassVar[str] = "cycles"
    loads: ClassVar[bool] = True
    admits: ClassVar[tuple[Finding, ...]] = ("accept", "undecided")
    shows: ClassVar[tuple[str, ...]] = (base.RESPONSE_TO_LOAD, "zero return and repeatability under load cycles")
    hints: ClassVar[Hints] = {**RESPONSE, **ROSETTE, **LOAD, **CYCLES}

    source: str
    """The source that loads the part."""
    to: base.Load
    """Load at the top of every cycle."""
    channels: base.Channels = (base.ALL_STRAIN,)
    """The strain channels that are judged."""
    times: Annotated[int, Field(ge=2, le=50)] = 3
    """How many cycles are judged."""
    levels: Annotated[int, Field(ge=2, le=50)] = 5
    """At how many loads each branch is read."""
    exercise: Annotated[int, Field(ge=0, le=20)] = 1
    """Cycles before, which are not judged."""
    dwell: Annotated[Quantity, quantity("time")] = Field(default="10 s", validate_default=True)
    """How long a load stands before it is read."""
    rest: Annotated[Quantity, quantity("time")] = Field(default="30 s", validate_default=True)
    """How long the part rests without load before a zero is read."""
    readings: Annotated[int, Field(ge=2, le=500)] = 20
    """Readings at each load, whose mean counts."""
    rate: base.LoadRate | None = None
    """Rate of the load; left out, the source's own."""
    at_most: Annotated[Quantity, quantity("ratio", at_least="100 %", at_most="150 %")] = Field(
        default="105 %", validate_default=True
    )
    """Highest load that is accepted, as a share of the load at the top."""
    load_zero: Annotated[Within, within("ratio")] = Field(default="within 0.5 %", validate_default=True)
    """Load that may be read where the strains take their zero, as a share of the load at the top."""
    zero_return: Annotated[Within, within("ratio")] = Field(default="within 1 %", validate_default=True)
    """How far the zero may be from the start after a cycle, as a share of the strain at the top."""
    hysteresis: Annotated[Within, within("ratio")] = Field(default="within 1 %", validate_default=True)
    """Largest difference of the two branches at one load, as a share of the strain at the top."""
    repeatability: Annotated[Within, within("ratio")] = Field(default="within 1 %", validate_default=True)
    """Largest difference of two cycles at one load, as a share of the strain at the top."""
    linearity: Annotated[Within, within("ratio")] = Field(default="within 1 %", validate_default=True)
    """Largest departure from the straight line through zero and top, as a share of the strain at the top."""

    direction: Annotated[Within, within("angle")] = Field(default="within 3°", validate_default=True)
    """How far the larger principal strain at a rosette may lie off its expected direction; aligning by eye and line
    takes a degree or two (common practice, no source)."""

    def problems(self, rig: Rig) -> Sequence[tuple[str, str, str]]:
        """Channels, source and top load must fit the rig."""
        return [
            *base.channel_problems(rig, self.channels),
            *base.source_problems(rig, self.source, self.to, self.to.value, self.rate),
        ]

    def highest_load(self) -> float:
        """The top of the step, base unit."""
        return self.to.value

    def acquire(self, live: LiveRig) -> None:
        """Exercise, zero, then the judged cycles; every level is held for `dwell` before it is read."""
        names = base.strain_channels(live.rig, self.channels)
        self._read(live, "before exercise")
        live.take_zero(names)  # arms the strain interlocks for the exercise too
        top = self.to.value
        rate = self.rate.value if self.rate else None
        for cycle in range(self.exercise):
            live.rise_to(self.source, top, rate, f"exercise {cycle + 1} of {self.exercise}: up")
            live.wait(self.dwell.value, "dwell")
            live.rise_to(self.source, 0.0, rate, f"exercise {cycle + 1} of {self.exercise}: down")
        live.wait(self.rest.value, "rest before the zero")
        self._zero(live, 0)
        live.take_zero(names)
        for cycle in range(1, self.times + 1):
            self._one_cycle(live, cycle, top, rate)

    def _one_cycle(self, live: LiveRig, cycle: int, top: float, rate: float | None) -> None:
        steps = [(level, "up") for level in range(1, self.levels + 1)]
        steps += [(level, "down") for level in range(self.levels - 1, 0, -1)]
        for level, direction in steps:
            text = f"cycle {cycle} of {self.times}: level {level} of {self.levels}, {direction}"
            live.rise_to(self.source, top * level / self.levels, rate, text)
            live.wait(self.dwell.value, "dwell")
            self._read(live, "level", cycle=cycle, level=level, direction=direction)
        live.rise_to(self.source, 0.0, rate, f"cycle {cycle} of {self.times}: back to zero")
        live.wait(self.rest.value, "rest before the zero")
        self._zero(live, cycle)

    def _zero(self, live: LiveRig, cycle: int) -> None:
        self._read(live, "zero", cycle=cycle)

    def _read(self, live: LiveRig, label: str, **tags: int | str) -> None:
        load = live.rig.sources[self.source].channel
        names = [*base.strain_channels(live.rig, self.channels), load]
        live.read(label, names, count=self.readings, interval_s=0.02, **tags)

    def judge(self, rig: Rig, rule: Rule, record: StepRecord) -> Sequence[Check]:
        """Sensitivity and the four figures of each channel; nothing where the cycles were not finished."""
        zeros, levels = record.blocks("zero"), record.blocks("level")
        whole = len(zeros) == self.times + 1 and len(levels) == self.times * (2 * self.levels - 1)
        figures = ("zero_return", "hysteresis", "repeatability", "linearity")
        limits = {figure.replace("_", " "): self.stated(figure) for figure in figures}
        load = rig.sources[self.source].channel
        first = zeros[0] if zeros else None
        checks = load_zero_checks(rig, rule, record, load, first, self.to, self.stated("load_zero"))
        checks += highest_load_checks(rig, rule, record, load, self.to, self.at_most, self.origin("at_most"))
        names = base.strain_channels(rig, self.channels)
        every = {}
        for name in names:
            about = Subject("sensitivity", name, SENSITIVITY_KINDS[rig.part.load])
            if not whole:
                checks.append(missing(record, about, "the cycles were not finished"))
                continue
            every[name] = series = ChannelSeries(rig, name, load, zeros, levels, self.levels, self.times)
            checks += safely(record, about, partial(figure_checks, series, record, rule, self.to, limits))
        for rosette in rosettes_of(rig, names):
            about = Subject("principal strain 1", rosette.name, "strain", self.to.text)
            checks += safely(record, about, partial(self._of_rosette, rig, rule, record, rosette, about, every))
        return checks

    def _of_rosette(
        self,
        rig: Rig,
        rule: Rule,
        record: StepRecord,
        rosette: Rosette,
        about: Subject,
        every: Mapping[str, ChannelSeries],
    ) -> Iterator[Check]:
        """The state of strain at the top, over all cycles."""
        elements = [every[name] for name in rosette.channels if name in every]
        if not elements or not all(series.usable for series in elements):
            yield missing(record, about, "overload or open circuit, or the cycles were not finished")
            return
        tops = [series.at((self.levels, "up", series.all_cycles)) for series in elements]
        point = AtRosette(rig, rosette, tuple(strain for strain, _ in tops), tops[0][1])
        yield from principal_checks(point, record, rule, about.at, self.stated("direction"))
