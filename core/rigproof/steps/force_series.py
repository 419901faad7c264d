"""Step `force series`: calibrate a force transducer in several positions, and give its class by each figure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from math import degrees, tau
from typing import TYPE_CHECKING, Annotated, ClassVar

from pydantic import Field, field_validator, model_validator

from rigproof.documents.rig import Instrument, Rig
from rigproof.documents.validation import wrong
from rigproof.instruments import Rotates
from rigproof.quantities import Quantity, Within, did_you_mean, quantity, within
from rigproof.uncertainty import Rule
from rigproof.verdict.record import Check, Finding

from . import base
from .checks import Subject
from .class_limits import ClassLimits, class_check
from .guard import agreement, missing, safely
from .hints import LOAD, Hints
from .load_checks import highest_load_checks, load_zero_checks
from .record import Block, StepRecord
from .series_figures import Series, figures

if TYPE_CHECKING:
    from rigproof.run.live import LiveRig

OUTPUT_ORIGIN = "computed for the output at the top: part model, bridge, amplifier and force channel"


class ForceSeries(base.Step):
    """Preloads, two increasing series in one position, an increasing and a decreasing one in each further position.

    After ISO 376:2011, 7 (from memory): preloads to the top, readings some 30 s after the force has changed, a rest
    between series, the transducer rotated about its axis and preloaded once in each new position, zeros before and
    after, creep at the end after loading and after unloading. The figures are defined in `series_figures`. Their
    limits stand in the procedure, class by class from the narrowest on: this tool knows no class by itself, and who
    quotes a standard has it at hand. The output at the top is compared with the part model.
    """

    kind: ClassVar[str] = "force series"
    loads: ClassVar[bool] = True
    admits: ClassVar[tuple[Finding, ...]] = ("accept", "undecided")
    shows: ClassVar[tuple[str, ...]] = (base.RESPONSE_TO_LOAD, "zero return and repeatability under load cycles")
    hints: ClassVar[Hints] = {
        **LOAD,
        "output at the top": "wiring of the bridge, sense lines, gain, the rated output on the data sheet, the "
        "reference force",
        "reproducibility": "a force off the axis: seat, loading faces, alignment of the press",
        "repeatability": "seat and dwell, a loose joint, a force not steady while it was read",
        "interpolation": "the degree asked for, the amplifier's range, a seat that slips at low force",
        "reversibility": "friction or slip in body and seat, a bond that creeps, dwell too short",
        "zero": "a bond that creeps, preload, drift of temperature or amplifier",
        "creep": "a bond not fully cured, temperature, a force that was not steady",
    }

    source: str
    """The source that loads the transducer."""
    to: base.Load
    """Force at the top of every series."""
    classes: Annotated[dict[str, ClassLimits], Field(min_length=1, max_length=20)]
    """The limits of each class by its name, the narrowest class first."""
    classes_from: Annotated[str, Field(min_length=1, max_length=200)]
    """Who says so: document and table, and whether it was seen."""
    wanted_class: str
    """The class that is to be shown."""
    channels: base.Channels = (base.ALL_STRAIN,)
    """The strain channels that are judged."""
    positions: Annotated[tuple[Annotated[Quantity, quantity("angle")], ...], Field(min_length=2, max_length=12)] = (
        Field(default=("0°", "120°", "240°"), validate_default=True)
    )
    """Angles about the axis of the force, the first one for the repeated series."""
    rotated_by: str = ""
    """The instrument that turns the part; left out, the source's own."""
    levels: Annotated[int, Field(ge=3, le=50)] = 10
    """At how many forces each branch is read."""
    preloads: Annotated[int, Field(ge=1, le=20)] = 3
    """How often the top is gone to before the first series."""
    preload_hold: Annotated[Quantity, quantity("time")] = Field(default="60 s", validate_default=True)
    """How long each preload stands."""
    dwell: Annotated[Quantity, quantity("time", above="0 s")] = Field(default="30 s", validate_default=True)
    """How long after a change of force it is read."""
    rest: Annotated[Quantity, quantity("time")] = Field(default="3 min", validate_default=True)
    """How long the part rests before each series."""
    creep_until: Annotated[Quantity, quantity("time")] = Field(default="300 s", validate_default=True)
    """How long after a change of force the second reading of creep is taken; the first one is taken after `dwell`."""
    degree: Annotated[int, Field(ge=1, le=3)] = 3
    """Of the polynomial through the origin that is fitted to the mean deflections."""
    readings: Annotated[int, Field(ge=2, le=500)] = 20
    """Readings at each force, whose mean counts."""
    rate: base.LoadRate | None = None
    """Rate of the force; left out, the source's own."""
    at_most: Annotated[Quantity, quantity("ratio", at_least="100 %", at_most="150 %")] = Field(
        default="105 %", validate_default=True
    )
    """Highest force that is accepted, as a share of the force at the top."""
    load_zero: Annotated[Within, within("ratio")] = Field(default="within 0.5 %", validate_default=True)
    """Force that may be read where the zero is taken, as a share of the force at the top."""

    @field_validator("positions")
    @classmethod
    def _apart(cls, positions: tuple[Quantity, ...]) -> tuple[Quantity, ...]:
        for index, position in enumerate(positions):
            for earlier in positions[:index]:
                apart = (position.value - earlier.value) % tau
                if min(apart, tau - apart) < 0.1:
                    what = f"{position.text} is the same position as {earlier.text}"
                    raise wrong((index,), what, "write angles apart, as 0°, 120°, 240°", position.text)
        return positions

    @model_validator(mode="after")
    def _one_of_the_classes(self) -> ForceSeries:
        if self.wanted_class not in self.classes:
            what = f"{self.wanted_class!r} is none of the classes {', '.join(self.classes)}"
            raise wrong(("wanted class",), what, "name one of them", self.wanted_class)
        if self.creep_until.value <= self.dwell.value:
            what = f"{self.creep_until.text} is not after the dwell of {self.dwell.text}"
            raise wrong(("creep until",), what, "write the later of the two readings", self.creep_until.text)
        return self

    def problems(self, rig: Rig) -> Sequence[tuple[str, str, str]]:
        """Channels, source, top, who rotates and what the class asks of the force must fit the rig."""
        found = [
            *base.channel_problems(rig, self.channels),
            *base.source_problems(rig, self.source, self.to, self.to.value, self.rate),
        ]
        if self.source in rig.sources:
            found += [*self._rotation_problems(rig), *self._force_problems(rig)]
        return found

    def _rotation_problems(self, rig: Rig) -> list[tuple[str, str, str]]:
        rotates = [name for name, instrument in rig.instruments.items() if _rotates(instrument)]
        name = self._rotated_by(rig)
        if name in rotates:
            return []
        remedy = did_you_mean(name, rotates) if rotates else "add an instrument with `driver: manual rotation`"
        return [("rotated by", f"{name!r} is no instrument of the rig that rotates the part", remedy)]

    def _force_problems(self, rig: Rig) -> list[tuple[str, str, str]]:
        asked = self.classes[self.wanted_class].applied_force
        channel = rig.channels[rig.sources[self.source].channel]
        spread = channel.accuracy.of_reading
        expanded = 2 * spread.u_relative if spread else 0.0
        if asked is None or expanded <= asked.value:
            return []
        what = f"the force is known to {100 * expanded:.2g} % (k = 2), and class {self.wanted_class} asks {asked.text}"
        return [("wanted class", what, "take a better reference for the force, or a wider class")]

    def _rotated_by(self, rig: Rig) -> str:
        return self.rotated_by or rig.sources[self.source].instrument

    def highest_load(self) -> float:
        """The top of the step, base unit."""
        return self.to.value

    def remarks(self) -> Sequence[str]:
        """Where the limits are from."""
        return (f"Limits of the classes: {self.classes_from}.",)

    # -- acquire --------------------------------------------------------------------------------------------------

    def acquire(self, live: LiveRig) -> None:
        """Preloads, the series position by position, creep at the end."""
        self._position(live, 0)
        self._read(live, "before exercise")
        live.take_zero(base.strain_channels(live.rig, self.channels))  # arms the strain interlocks for the preloads
        self._preload(live, self.preloads)
        for series in range(1, self._count + 1):
            if series > 2:
                self._position(live, series - 2)
                self._preload(live, 1)
            self._series(live, series)
        self._creep(live)

    @property
    def _count(self) -> int:
        """How many series: two in the first position, one in each other."""
        return len(self.positions) + 1

    def _position(self, live: LiveRig, number: int) -> None:
        angle = self.positions[number]
        turned = f"{degrees(angle.value):.4g}°"
        live.phase("position", angle=turned, why=turned)
        live.rotate(self._rotated_by(live.rig), angle.value)

    def _preload(self, live: LiveRig, times: int) -> None:
        for number in range(1, times + 1):
            self._go(live, self.levels, f"preload {number} of {times}: up")
            live.wait(self.preload_hold.value, "preload")
            self._go(live, 0, f"preload {number} of {times}: down")
            live.wait(self.dwell.value, "dwell")

    def _series(self, live: LiveRig, series: int) -> None:
        live.wait(self.rest.value, "rest before the series")
        self._read(live, "zero", series=series, at="before")
        live.take_zero(base.strain_channels(live.rig, self.channels))
        for level, direction in self._path(series):
            self._go(live, level, f"series {series} of {self._count}: level {level} of {self.levels}, {direction}")
            live.wait(self.dwell.value, "dwell")
            self._read(live, "level", series=series, level=level, direction=direction)
        self._go(live, 0, f"series {series} of {self._count}: back to zero")
        live.wait(self.dwell.value, "dwell")
        self._read(live, "zero", series=series, at="after")

    def _path(self, series: int) -> list[tuple[int, str]]:
        up = [(level, "up") for level in range(1, self.levels + 1)]
        return up if series <= 2 else up + [(level, "down") for level in range(self.levels - 1, 0, -1)]

    def _creep(self, live: LiveRig) -> None:
        live.wait(self.rest.value, "rest before creep")
        for after, level in (("load", self.levels), ("unload", 0)):
            self._go(live, level, f"creep after {after}ing")
            live.wait(self.dwell.value, "dwell")
            self._read(live, "creep", after=after, at="soon")
            live.wait(self.creep_until.value - self.dwell.value, "creep")
            self._read(live, "creep", after=after, at="late")

    def _go(self, live: LiveRig, level: int, text: str) -> None:
        rate = self.rate.value if self.rate else None
        live.rise_to(self.source, self.to.value * level / self.levels, rate, text)

    def _read(self, live: LiveRig, label: str, **tags: int | str) -> None:
        names = [*base.strain_channels(live.rig, self.channels), live.rig.sources[self.source].channel]
        live.read(label, names, count=self.readings, interval_s=0.02, **tags)

    # -- judge ----------------------------------------------------------------------------------------------------

    def judge(self, rig: Rig, rule: Rule, record: StepRecord) -> Sequence[Check]:
        """Output at the top and the six figures of each channel; nothing where the series were not finished."""
        load = rig.sources[self.source].channel
        zeros = {(b.tags["series"], b.tags["at"]): b for b in record.blocks("zero")}
        levels = {(b.tags["series"], b.tags["level"], b.tags["direction"]): b for b in record.blocks("level")}
        creep = {(b.tags["after"], b.tags["at"]): b for b in record.blocks("creep")}
        checks = load_zero_checks(rig, rule, record, load, zeros.get((1, "before")), self.to, self.stated("load_zero"))
        checks += highest_load_checks(rig, rule, record, load, self.to, self.at_most, self.origin("at_most"))
        for name in base.strain_channels(rig, self.channels):
            about = Subject("output at the top", name, rig.channels[name].reads, f"0 to {self.to.text}")
            if not self._whole(zeros, levels, creep):
                checks.append(missing(record, about, "the series were not finished"))
                continue
            series = Series(rig, name, load, zeros, levels, creep, self.levels, self._count, self.to.value, self.degree)
            checks += safely(record, about, partial(self._judge, series, record, rule, about))
        return checks

    def _whole(
        self,
        zeros: Mapping[tuple[int, str], Block],
        levels: Mapping[tuple[int, int, str], Block],
        creep: Mapping[tuple[str, str], Block],
    ) -> bool:
        wanted = {(s, level, way) for s in range(1, self._count + 1) for level, way in self._path(s)}
        return len(zeros) == 2 * self._count and levels.keys() == wanted and len(creep) == 4

    def _judge(self, series: Series, record: StepRecord, rule: Rule, about: Subject) -> list[Check]:
        if not series.usable:
            return [missing(record, about, "overload or open circuit")]
        found = [agreement(record, about, series.mean(series.top), series.expected_top(), rule, OUTPUT_ORIGIN)]
        origin = f"procedure, from {self.classes_from}"
        for name, candidates in figures(series).items():
            tried = [(Subject(name, series.name, "ratio", at), term.estimate()) for term, at in candidates]
            found.append(class_check(record, tried, self.classes, self.wanted_class, rule, origin))
        return found


def _rotates(instrument: Instrument) -> bool:
    driver: type = instrument.driver
    return issubclass(driver, Rotates) and driver.rotates(instrument.settings)
