"""The rig as a step sees it while it acquires: read, wait, load, shunt; everything is journalled and watched."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from math import inf, isfinite, isnan
from typing import Any, TypeVar

import numpy as np

from rigproof.clock import Clock
from rigproof.documents.interlocks import LOOK_EVERY_S
from rigproof.documents.rig import Rig, Source
from rigproof.errors import InstrumentError, Suspended, Tripped, Unanswered
from rigproof.instruments import Driver, FloatArray, Loads, Reads, Rotates, Shunts, TestsInsulation, able
from rigproof.interlocks import Lock
from rigproof.journal import BROKEN_OFF, Entry, Keeps
from rigproof.people import NOBODY, Person, Question
from rigproof.quantities import kind_of, show
from rigproof.replaying import Replays
from rigproof.steps.arming import SAFE_AFTER_TEST
from rigproof.steps.record import StepRecord
from rigproof.steps.strains import thermometers
from rigproof.steps.tasks import WORK
from rigproof.uncertainty import Rule

from .expecting import Expecting
from .interlocks import Interlocks
from .possible import expect_possible
from .progress import Progress, Reading
from .retries import Retries
from .safe_end import make_safe
from .signals import StopSignals

T = TypeVar("T")
Seen = tuple[float, Mapping[str, FloatArray]]  # when a block was there, and the block

AGREES_WITHIN = 0.25  # of the target: beyond this the source and the part's own channel do not measure one thing
GRACE_S = 60.0  # a source may take this much longer than target and rate say


@dataclass(frozen=True)
class Group:
    """Channels of one instrument that are read together."""

    driver: Reads
    names: list[str]
    inputs: list[int]
    most: int | None  # readings of an input that the driver can give


@dataclass(frozen=True)
class _TestNotes:
    """The journal for what a provoked trip leads to: every entry names the interlock that was tested."""

    elapsed_s: Callable[[], float]
    keep: Callable[..., object]
    interlock: str

    def write(self, kind: str, /, **fields: Any) -> None:
        """Keep an event of the test."""
        self.keep(kind, **{"interlock": self.interlock, "provoked": True, **fields})


class LiveRig:
    """An open rig. Raises `InstrumentError`, `Tripped` or `Stopped`; the runner then makes the rig safe."""

    def __init__(
        self,
        rig: Rig,
        rule: Rule,
        drivers: Mapping[str, Driver],
        journal: Keeps,
        clock: Clock,
        stop: StopSignals,
        progress: Progress,
        retries: Retries | None = None,
        person: Person = NOBODY,
        time_is_free: bool = False,
        works: Sequence[dict[str, Any]] = (),
    ) -> None:
        self.rig = rig
        self.rule = rule
        self.clock = clock
        self.under_load = False
        self.works = list(works)  # what people did in this run so far, as steps noted it
        self._person = person
        self._time_is_free = time_is_free  # simulated: nobody's patience is at stake
        self._drivers = drivers
        self._journal = journal
        self._stop = stop
        self._progress = progress
        self._retries = retries
        self._interlocks = Interlocks(rig)
        self._expecting = Expecting(rule, self._interlocks)
        self._watched = [*(source.channel for source in rig.sources.values()), *self._interlocks.channels]
        self._unattended = {n for n, channel in rig.channels.items() if not self._asks(channel.instrument)}
        self._watched_at_s = -inf  # when `watch` last looked
        self._plans: dict[tuple[str, ...], list[Group]] = {}  # by channels to be read
        self._last: dict[str, FloatArray] = {}
        self._unseen: dict[str, Seen] = {}  # by channel
        self._place = 0  # in the journal, where the step began
        self._step = (0, "")
        self._earlier: tuple[StepRecord, ...] = ()
        self._reads = ""  # what a step reads, in words

    # -- what the runner does -------------------------------------------------------------------------------------

    def begin_step(self, number: int, kind: str, earlier: Sequence[StepRecord] = ()) -> None:
        """From here on entries belong to this step; `earlier` are its takings that were broken off."""
        self._place = self._journal.place()
        self._unseen, self._reads = {}, ""
        self._step = (number, kind)
        self._earlier = tuple(earlier)
        self._write("step", step=number, step_kind=kind, taken="begun")

    def record(self) -> StepRecord:
        """What the current step has written so far."""
        return StepRecord(*self._step, tuple(self._journal.since(self._place)), self._earlier)

    def expect_no_errors(self) -> None:
        """Ask every instrument for what it has to say against the step; its driver may not have asked."""
        for name, driver in self._drivers.items():
            if queued := self._tried(driver.errors):
                raise InstrumentError(name, f"reports {'; '.join(queued)}; what it did in this step is in doubt")

    # -- what a step does -----------------------------------------------------------------------------------------

    def read(
        self, label: str, channels: Sequence[str], count: int = 1, interval_s: float = 0.0, **tags: int | str
    ) -> dict[str, FloatArray]:
        """Read channels into the journal under `label`, raw and in base units: channel -> shape (count,).

        An instrument that cannot give so many readings gives what it can (see `Reads.most_readings`).

        Channels of one instrument are read together, instruments one after the other. The temperature that belongs to
        a gauge is read once beside its strain.
        """
        self._reads = ", ".join((label, *(f"{key.replace('_', ' ')} {value}" for key, value in tags.items())))
        beside = thermometers(self.rig, tuple(channels))
        values = self._read(label, {tuple(channels): count, beside: 1}, interval_s, tags)
        self._show(label)
        return values

    def _read(
        self, label: str, counts: Mapping[tuple[str, ...], int], interval_s: float, tags: Mapping[str, int | str]
    ) -> dict[str, FloatArray]:
        """An instrument that fails may be tried again; then all are read again: what is compared is of one time."""
        return self._tried(lambda: self._read_once(label, counts, interval_s, tags))

    def _tried(self, ask: Callable[[], T]) -> T:
        """What `ask` gives, with the tries that rig.yaml allows: it changes nothing at the instruments."""
        used: Counter[str] = Counter()
        while True:
            try:
                return ask()
            except InstrumentError as error:
                if self._retries is None:
                    raise
                self._retries.after(error, used, self._write)

    def _read_once(
        self, label: str, counts: Mapping[tuple[str, ...], int], interval_s: float, tags: Mapping[str, int | str]
    ) -> dict[str, FloatArray]:
        self._stop.check()
        values: dict[str, FloatArray] = {}
        began: dict[str, float] = {}
        try:
            for channels, count in counts.items():
                for group in self._by_instrument(channels):
                    began |= dict.fromkeys(group.names, self._journal.elapsed_s())
                    values |= self._block(group, count, interval_s)
            expect_possible(self.rig, values)
        except BaseException:  # what was read before an instrument was lost is kept and watched, but not judged
            self._keep(BROKEN_OFF, began, values, interval_s, tags)
            raise
        self._keep(label, began, values, interval_s, tags)
        return values

    def _keep(
        self,
        label: str,
        began: Mapping[str, float],
        values: dict[str, FloatArray],
        interval_s: float,
        tags: Mapping[str, int | str],
    ) -> None:
        """Into the journal, and past the interlocks."""
        if values:
            self._journal.samples(began, interval_s, values, label=label, tags=dict(tags))
        self._last |= values
        self._to_show(values)
        self._interlocks.check(values, self.under_load, self._journal.elapsed_s(), began, interval_s)

    def _block(self, group: Group, count: int, interval_s: float) -> dict[str, FloatArray]:
        taken = count if group.most is None else min(count, group.most)  # what cannot be read is not made up
        block = group.driver.read(group.inputs, taken, interval_s)
        wanted = (taken, len(group.inputs))
        if block.shape != wanted:
            raise InstrumentError(
                self.rig.channels[group.names[0]].instrument,
                f"gave readings of shape {block.shape}, {wanted} was asked; repair its driver",
            )
        return dict(zip(group.names, block.T, strict=True))

    def read_insulation(self, channel: str, test_voltage_v: float, electrification_s: float, **tags: str) -> None:
        """Measure insulation resistance into the journal; above the tester's range is null."""
        self._stop.check()
        meter = self._able(self.rig.channels[channel].instrument, TestsInsulation, "test insulation")
        self._reads, doing = "", f"insulation of {channel} at {test_voltage_v:+g} V"
        self._progress.say(doing)
        self._progress.waiting(doing, electrification_s, self._journal.elapsed_s())
        ohm = meter.insulation_ohm(self.rig.channels[channel].input, test_voltage_v, electrification_s)
        if isnan(ohm) or ohm < 0:
            raise InstrumentError(
                self.rig.channels[channel].instrument, f"gave {ohm} as an insulation resistance; a resistance is wanted"
            )
        self._write("insulation", channel=channel, volt=test_voltage_v, ohm=ohm if isfinite(ohm) else None, **tags)
        self._to_show({channel: np.array([ohm])})
        self._show("insulation")

    def take_zero(self, channels: Sequence[str]) -> None:
        """The last readings of these channels are the zero from which interlocks count strain.

        Raises `InstrumentError` when the part is not without load: such a zero would hide what is on.
        """
        for source in self.rig.sources.values():
            raw = self.read("no load", [source.channel])[source.channel][0]
            self._expecting.zero(source.channel, float(raw))
            load = self._load(source.channel, raw)
            if not abs(load) <= source.safe_below.value:
                raise InstrumentError(
                    self.rig.channels[source.channel].instrument,
                    f"{source.channel} is {show(load, self.rig.part.load, 4)} where no load was expected (below "
                    f"{source.safe_below.text}); a zero is only taken without load",
                )
        zeros = {n: float(np.mean(self._last[n])) for n in channels if np.isfinite(self._last[n]).all()}
        self._write("zero", readings=zeros)
        for name, reading in zeros.items():
            self._interlocks.zero(name, reading)
            self._expecting.zero(name, reading)

    def wait(self, seconds: float, text: str, label: str = "watch", extra: Sequence[str] = ()) -> None:
        """Let time pass; under load the watched channels (and `extra`) are read every second under `label`.

        A channel of `extra` that a person reads is left out: nobody types a reading every second.
        """
        extra = [name for name in extra if name in self._unattended]
        end = self.clock.now() + seconds
        while (left := end - self.clock.now()) > 1e-9:
            if self.under_load:
                self._look(label, extra, text)
                left = max(0.0, end - self.clock.now())
            self._progress.waiting(text, left, self._journal.elapsed_s())
            self._stop.check()
            if left > 0:
                self.clock.wait(min(LOOK_EVERY_S, left))

    def rise_to(self, source: str, target: float, rate_per_s: float | None, text: str) -> None:
        """Move the load to `target` (base unit) and come back when the source says it is there.

        Raises `InstrumentError` when it does not get there in the time that target and rate allow, or when the part's
        own channel tells another story than the source: a frozen transmitter, a shut valve, no load at all.
        """
        self._stop.check()
        about = self.rig.sources[source]
        driver = self._able(about.instrument, Loads, "put load on the part")
        rate = rate_per_s or about.rate.value
        shown = show(target, self.rig.part.load, 4)
        doing = f"{text}: {source} to {shown}"
        self._progress.say(doing)
        self._expecting.target(about.channel, target)
        self._command(driver, source=source, target=target, rate_per_s=rate, text=text)
        self._stop.check()
        self.under_load = True
        began = self.clock.now()
        before = abs(self._load(about.channel, self._last[about.channel][-1])) if about.channel in self._last else 0.0
        driver.rise_to(target, rate)
        deadline = began + about.limit.value / rate + GRACE_S
        while not driver.settled():
            if self.clock.now() > deadline:
                raise InstrumentError(about.instrument, f"did not reach {shown} in the time its rate allows")
            self._look("watch", (about.channel,), text)
            if abs(target) > before:  # on the way down a leak's loss comes back at once when the valve is opened
                self._expect_in_step(about, before, rate, began)
            self._progress.waiting(doing, self._way(about.channel, target) / rate, self._journal.elapsed_s())
            self.clock.wait(LOOK_EVERY_S)
        self._write("reached", source=source, target=target)
        self._look("watch", (about.channel,), text)
        load = self._load(about.channel, self._last[about.channel][-1])
        if not abs(load - target) <= AGREES_WITHIN * abs(target) + about.safe_below.value:
            raise InstrumentError(
                self.rig.channels[about.channel].instrument,
                f"{source} says that it reached {shown}, but {about.channel} reads "
                f"{show(load, self.rig.part.load, 4)}; look for a shut valve, a frozen or wrong transmitter",
            )
        self.under_load = max(abs(target), abs(load)) > about.safe_below.value

    def _expect_in_step(self, about: Source, before: float, rate: float, began_s: float) -> None:
        """The load may run ahead of the rate by as much again and a second's worth; a person places it at once."""
        if self._drivers[about.instrument].asks_a_person:
            return
        load, passed_s = self._load(about.channel, self._last[about.channel][-1]), self.clock.now() - began_s
        if abs(load) - before > 2 * rate * (passed_s + LOOK_EVERY_S) + about.safe_below.value:
            kind = self.rig.part.load
            raise InstrumentError(
                about.instrument,
                f"{about.channel} rose from {show(before, kind, 4)} to {show(load, kind, 4)} in {passed_s:.1f} s, at "
                f"{show(rate, kind_of(kind).rate, 3)}; see how the source takes its rate, and that nothing else loads "
                "the part",
            )

    def isolate(self, source: str, isolated: bool) -> None:
        """Shut or open the valve between source and part."""
        self._stop.check()
        driver = self._able(self.rig.sources[source].instrument, Loads, "put load on the part")
        self._progress.say(f"{source} {'shut off from' if isolated else 'connected to'} the part")
        self._command(driver, source=source, isolate=isolated)
        driver.isolate(isolated)

    def rotate(self, instrument: str, angle_rad: float) -> None:
        """Have an instrument turn the part to an angle from its first position; `InstrumentError` under load."""
        self._stop.check()
        driver = self._able(instrument, Rotates, "rotate the part")
        if self.under_load:
            raise InstrumentError(instrument, "the part is under load; it is rotated without load alone")
        self._progress.say(f"{instrument}: rotate the part to {show(angle_rad, 'angle', 4)}")
        self._command(driver, instrument=instrument, rotate_rad=angle_rad)
        driver.rotate_to(angle_rad)

    @contextmanager
    def shunt(self, channel: str) -> Iterator[None]:
        """The calibration resistor lies across the active arm inside the `with`; opened again on every way out."""
        self._stop.check()
        about = self.rig.channels[channel]
        driver = self._able(about.instrument, Shunts, "switch a shunt resistor")
        self._progress.say(f"shunt resistor on {channel}")
        self._command(driver, channel=channel, shunt=True)
        driver.shunt(about.input, True)
        try:
            yield
        except BaseException:
            with suppress(InstrumentError):
                driver.shunt(about.input, False)
            raise
        driver.shunt(about.input, False)
        self._command(driver, channel=channel, shunt=False)

    @property
    def locks(self) -> tuple[Lock, ...]:
        """All interlocks, and the limit of each source."""
        return self._interlocks.locks

    def quantity(self, channel: str, raw: FloatArray) -> FloatArray | None:
        """Readings as interlocks see them: in what the channel measures; None before a strain has its zero."""
        return self._interlocks.quantity(channel, raw)

    def provoke(self, lock: Lock, how: str, drive: Callable[[], None]) -> bool:
        """Have `lock`, a copy made for a test, stand in for the interlock of its name while `drive` has it trip.

        Whether it trips or not, every source is then made safe as at any end of a run; true when that is confirmed. A
        trip of another interlock is none of the test and ends the run.
        """
        self._stop.check()
        self._progress.say(f"{lock.name} provoked {how}: {lock.channel} {lock.in_words()}")
        self._write("arming", interlock=lock.name, how=how, limit=lock.in_words())
        trip = None
        with self._interlocks.replaced(lock):
            try:
                drive()
            except Tripped as found:
                if found.interlock != lock.name:
                    raise
                trip = found
            notes = _TestNotes(self._journal.elapsed_s, self._write, lock.name)
            left = make_safe(self.rig, self._drivers, self.clock, notes, self._progress, SAFE_AFTER_TEST, trip)
        self.under_load = not left.confirmed
        return left.confirmed

    def phase(self, what: str, **fields: int | str) -> None:
        """Note a turn in the step."""
        self._progress.say(f"{what}: {fields.get('why', '')}".removesuffix(": "))
        self._write("phase", what=what, **fields)

    @property
    def person(self) -> str:
        """The name of the person who is asked."""
        return self._person.name

    def ask(self, question: Question) -> str:
        """What the person answers. Raises `Unanswered` where none can be had."""
        self._stop.check()
        try:
            return self._person.ask(question)
        except InstrumentError as error:
            raise Unanswered(str(error)) from None

    def note(self, kind: str, **fields: object) -> None:
        """Note what a person did or signed, with who and when; `work` stands in `works` for the later steps."""
        entry = self._write(kind, **fields, person=self.person, utc=self.clock.utc().isoformat())
        if kind == WORK:
            self.works.append(entry.data)

    def rest_until(self, until: datetime, patience_s: float, why: str, pass_time: Callable[[float], None]) -> None:
        """Let time pass up to a date by `pass_time`, which is given how many seconds are left.

        Raises `Suspended` where that takes longer than `patience_s`; a simulated run waits.
        """
        left = (until - self.clock.utc()).total_seconds()
        if left > patience_s and not self._time_is_free:
            raise Suspended(why, until)
        self._progress.say(f"{why}: until {until:%Y-%m-%d %H:%M:%S} UTC")
        while (left := (until - self.clock.utc()).total_seconds()) > 0:
            pass_time(max(left, 1e-3))

    def read_by_hand(self, channel: str) -> bool:
        """Whether a person reads the channel, who cannot be asked every now and then."""
        return channel not in self._unattended

    @property
    def moment(self) -> str:
        """What a person is to read now: `Level, cycle 1, level 2, direction up`, and whether there is load on it."""
        said = f"{self._reads[:1].upper()}{self._reads[1:]}"
        return said and f"{said} (load on)" if self.under_load else said and f"{said} (no load)"

    def watch(self) -> None:
        """Under load, look once a second at what needs no person: called while one is being asked."""
        names = tuple(name for name in dict.fromkeys(self._watched) if name in self._unattended)
        now = self.clock.now()
        if names and self.under_load and not self._stop.in_safe_end and now - self._watched_at_s >= LOOK_EVERY_S:
            self._watched_at_s = now
            self._read("watch", {names: 1}, 0.0, {})

    # -- inside ---------------------------------------------------------------------------------------------------

    def _write(self, kind: str, **fields: object) -> Entry:
        return self._journal.write(kind, **fields)

    def _load(self, channel: str, reading: float) -> float:
        return float(self.rig.channels[channel].correction.added_to(reading))

    def _way(self, channel: str, target: float) -> float:
        """How far the load is from its target; 0 where it was not read."""
        way = abs(target - self._load(channel, self._last[channel][-1])) if channel in self._last else 0.0
        return way if isfinite(way) else 0.0

    def _command(self, driver: object, **fields: object) -> None:
        """Journal a command; one to a replayed instrument moves nothing, and the record says so."""
        self._write("command", **fields, **({"replayed": True} if isinstance(driver, Replays) else {}))

    def _look(self, label: str, extra: Sequence[str], text: str) -> None:
        """Read what must be watched, and show it."""
        names = list(dict.fromkeys([*self._watched, *extra]))
        self._read(label, {tuple(names): 1}, 0.0, {})
        self._show(text)

    def _to_show(self, values: Mapping[str, FloatArray]) -> None:
        self._unseen |= dict.fromkeys(values, (self._journal.elapsed_s(), values))

    def _show(self, text: str) -> None:
        """What was read since the last look, of each channel the last: a listener does not look at everything."""
        if not self._progress.looks:
            return
        shown: dict[str, Reading] = {}
        for at_s, values in {id(block): block for block in self._unseen.values()}.values():
            found = self._expecting.readings(self.rig, values, at_s)
            shown |= {name: reading for name, reading in found.items() if self._unseen[name][1] is values}
        self._unseen = {}
        self._progress.reading(text, shown)

    def _by_instrument(self, channels: tuple[str, ...]) -> list[Group]:
        """Channels by instrument; worked out once, since waiting asks every second."""
        if channels not in self._plans:
            groups: dict[str, list[str]] = {}
            for name in channels:
                groups.setdefault(self.rig.channels[name].instrument, []).append(name)
            self._plans[channels] = [self._group(instrument, names) for instrument, names in groups.items()]
        return self._plans[channels]

    def _group(self, instrument: str, names: list[str]) -> Group:
        about = self.rig.instruments[instrument]
        most = about.driver.most_readings(about.settings) if issubclass(about.driver, Reads) else None
        inputs = [self.rig.channels[name].input for name in names]
        return Group(self._able(instrument, Reads, "give readings"), names, inputs, most)

    def _asks(self, instrument: str) -> bool:
        return self.rig.instruments[instrument].driver.asks_a_person

    def _able(self, instrument: str, ability: type[T], what: str) -> T:
        driver = self._drivers[instrument]
        found = able(driver, ability)
        if found is None:
            raise InstrumentError(instrument, f"its driver {driver.kind!r} cannot {what}; take another in rig.yaml")
        return found
