"""A rig on paper: every instrument reads what the documents and the models say, time jumps, the journal is a list.

Steps meet it as the `LiveRig` they always meet, so that what they do on it is what they will do on the bench.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, TypeVar, cast

import numpy as np

from rigproof.clock import JumpingClock
from rigproof.documents.rig import Channel, Rig
from rigproof.errors import InstrumentError
from rigproof.instruments import Driver, FloatArray, Loads
from rigproof.interlocks import Lock
from rigproof.journal import Entry
from rigproof.models import BridgeModel, ReductionModel
from rigproof.people import Question
from rigproof.steps.arming import SAFE_AFTER_TEST
from rigproof.steps.checks import value_of
from rigproof.steps.foresee import Assumed
from rigproof.steps.strains import thermal_output, thermometer
from rigproof.steps.terms import Term, bridge, combine, output_for, predicted_strain
from rigproof.uncertainty import Rule

from .interlocks import Interlocks
from .live import LiveRig
from .progress import Progress, Silent
from .signals import StopSignals

T = TypeVar("T")

ROOM_C = 20.0  # the temperature on paper; nothing follows from it but the size of a sensor's reading
SCATTER = 1e-12  # V/V: no bridge reads twice the same, and a check that looks for frozen ones must not find any here


class PaperJournal:
    """A journal that nobody keeps."""

    def __init__(self, clock: JumpingClock) -> None:
        self._clock = clock
        self._entries: list[Entry] = []

    def elapsed_s(self) -> float:
        """Seconds since the rehearsal began."""
        return self._clock.now()

    def place(self) -> int:
        """The number of the next entry."""
        return len(self._entries)

    def since(self, place: int) -> list[Entry]:
        """The entries from a number on."""
        return self._entries[place:]

    def write(self, kind: str, /, **fields: Any) -> Entry:
        """The entry."""
        self._entries.append(Entry(len(self._entries), self._clock.now(), kind, fields))
        return self._entries[-1]

    def samples(self, t0: Mapping[str, float], dt: float, values: Mapping[str, FloatArray], **fields: Any) -> Entry:
        """The block's entry."""
        return self.write("samples", t0=dict(t0), dt=dt, values=values, **fields)


class PaperBench:
    """What is on the part, and what each channel must therefore read."""

    def __init__(self, rig: Rig, clock: JumpingClock) -> None:
        self.rig = rig
        self.clock = clock
        self.assumed = Assumed()
        self.loads = dict.fromkeys(rig.sources, 0.0)
        self.shunted: set[tuple[str, int]] = set()  # instrument and input
        self.warmer_k = 0.0
        self._outputs: dict[tuple[str, float, float], float] = {}  # by channel and state: steps come back to the same
        self._random = np.random.default_rng(0)

    def readings(self, about: Channel, count: int) -> FloatArray:
        """Raw readings of a channel now."""
        if isinstance(about.reduction, BridgeModel):
            reading = about.correction.taken_from(self._bridge_output(about))
            return np.asarray(reading + SCATTER * self._random.standard_normal(count))
        return np.full(count, about.correction.taken_from(self._plain(about)))

    def stands_still(self, about: Channel) -> bool:
        """Whether it reads 0 at any load here, since no document says what it should: a length, a second load."""
        loads = {source.channel for source in self.rig.sources.values()}
        known = about.gauge or isinstance(about.reduction, BridgeModel) or about.name in loads
        return not known and about.measures not in ("volume", "temperature")

    def _plain(self, about: Channel) -> float:
        """Reading of a channel without a bridge."""
        loads = [load for name, load in self.loads.items() if self.rig.sources[name].channel == about.name]
        if loads:
            return sum(loads)
        if about.measures == "resistance" and about.gauge:
            return self.rig.gauges[about.gauge].resistance.value
        if about.measures == "volume":
            return self._taken_in()
        wanted = ROOM_C + self.warmer_k if about.measures == "temperature" else 0.0
        return wanted if about.reduction is None else self._near(about, about.reduction, wanted)

    def _taken_in(self) -> float:
        """Volume of liquid that the load has put into the full part."""
        cavity, inputs = self.rig.part.cavity(), (item.value for item in self.rig.part.inputs())
        return 0.0 if cavity is None else cavity.value * float(self.rig.part.intake(sum(self.loads.values()), *inputs))

    def _near(self, about: Channel, model: ReductionModel, wanted: float) -> float:
        """A reading that stands for about `wanted`: the nearest of many of all sizes, and between its neighbours."""
        inputs = [item.value for item in model.inputs([self.rig.gauges[about.gauge]] if about.gauge else [])]
        readings, nearest = np.logspace(-6, 9, 3001), 0
        for _ in range(3):
            with np.errstate(all="ignore"):
                found = np.asarray(model.reduce(readings, 0.0, *inputs), dtype=np.float64)
            nearest = int(np.nanargmin(np.abs(found - wanted)))
            beside = readings[max(0, nearest - 1)], readings[min(nearest + 1, len(readings) - 1)]
            readings = np.linspace(*beside, 201)
        return float(readings[100])

    def _bridge_output(self, about: Channel) -> float:
        load = sum(self.loads.values())
        state = about.name, load, self.warmer_k
        if state not in self._outputs:
            self._outputs[state] = output_under(self.rig, *state)
        output = self._outputs[state]
        ohm = self.assumed.shunt_ohm
        if ohm is None or (about.instrument, about.input) not in self.shunted:
            return output
        _, model, inputs = bridge(self.rig, about.name)
        return output + float(model.shunt_reading(ohm, output, *(item.value for item in inputs)))


class PaperInstrument:
    """One instrument of a paper bench; it can do whatever it is asked."""

    def __init__(self, bench: PaperBench, name: str) -> None:
        self._bench, self._name = bench, name
        self._channels = {c.input: c for c in bench.rig.channels.values() if c.instrument == name}

    def read(self, inputs: Sequence[int], count: int, interval_s: float) -> FloatArray:
        """What each input must show now, shape (count, inputs)."""
        self._bench.clock.wait(count * interval_s)
        return np.array([self._bench.readings(self._channels[number], count) for number in inputs]).T

    def insulation_ohm(self, _input: int, _test_voltage_v: float, electrification_s: float) -> float:
        """What the step takes for granted."""
        self._bench.clock.wait(electrification_s)
        ohm = self._bench.assumed.insulation_ohm
        return float("inf") if ohm is None else ohm

    def shunt(self, channel_input: int, closed: bool) -> None:
        """Put the step's resistor across the arm, or take it off."""
        change = self._bench.shunted.add if closed else self._bench.shunted.discard
        change((self._name, channel_input))

    def rise_to(self, target: float, rate_per_s: float) -> None:
        """The load is there when its rate allows."""
        for name, source in self._bench.rig.sources.items():
            if source.instrument == self._name:
                about = self._bench.rig.instruments[self._name]
                if issubclass(about.driver, Loads) and (why := about.driver.cannot_make(about.settings, target)):
                    raise InstrumentError(self._name, why)
                self._bench.clock.wait(abs(target - self._bench.loads[name]) / rate_per_s)
                self._bench.loads[name] = target

    def settled(self) -> bool:
        """Time has jumped."""
        return True

    def rotate_to(self, _angle_rad: float) -> None:
        """On paper one position is as good as another."""

    def isolate(self, _isolated: bool) -> None:
        """Nothing leaks on paper."""


class PaperPerson:
    """A `rigproof.people.Person` with whom all is well, and who takes no longer than the work must take."""

    name = "somebody"

    def __init__(self, clock: JumpingClock) -> None:
        self._clock = clock

    def ask(self, question: Question) -> str:
        """What a step hopes for."""
        self._clock.wait(question.takes_s)
        return question.sound or ""

    def tell(self, instrument: str, text: str) -> None:
        """Nobody hears it."""


class PaperRig(LiveRig):
    """A live rig over paper instruments. Interlocks watch nothing: the plan tells their distance by itself."""

    def __init__(self, rig: Rig, rule: Rule, progress: Progress | None = None) -> None:
        clock = JumpingClock()
        self._bench = PaperBench(rig, clock)
        told = progress or Silent()
        super().__init__(rig, rule, {}, PaperJournal(clock), clock, StopSignals(), told, person=PaperPerson(clock))
        self._interlocks = Interlocks(rig, watches=False)
        self._watched = [source.channel for source in rig.sources.values()]

    def still(self) -> frozenset[str]:
        """The channels of which no document says what they read under load."""
        return frozenset(about.name for about in self.rig.channels.values() if self._bench.stands_still(about))

    def assume(self, assumed: Assumed) -> None:
        """What the next step brings."""
        self._bench.assumed = assumed
        self._bench.warmer_k = 0.0

    def provoke(self, lock: Lock, how: str, drive: Callable[[], None]) -> bool:
        """It trips at once on paper, and every source obeys."""
        self._write("arming", interlock=lock.name, how=how, limit=lock.in_words())
        drive()
        text = f"interlock {lock.name!r}: on paper"
        self._write("trip", interlock=lock.name, provoked=True, text=text, took_s=0.0)
        for source in self.rig.sources:
            self._bench.loads[source] = 0.0
            self._write(SAFE_AFTER_TEST, source=source, confirmed=True, load=0.0, text="on paper")
        self.under_load = False
        return True

    def wait(self, seconds: float, text: str, label: str = "watch", extra: Sequence[str] = ()) -> None:
        """One look, and time jumps: on paper nothing changes while the rig waits but what the step assumes."""
        self._progress.waiting(text, seconds, self._journal.elapsed_s())
        if self.under_load:
            self._look(label, extra, text)
        self.clock.wait(seconds)
        self._bench.warmer_k = self._bench.assumed.warms_k

    def _able(self, instrument: str, ability: type[T], what: str) -> T:
        """A paper instrument that stands for whatever its own driver can do."""
        driver: type[Driver] = self.rig.instruments[instrument].driver
        if not issubclass(driver, ability):
            raise InstrumentError(instrument, f"its driver {driver.kind!r} cannot {what}; take another in rig.yaml")
        return cast("T", PaperInstrument(self._bench, instrument))


def output_under(rig: Rig, name: str, load: float, warmer_k: float = 0.0) -> float:
    """Bridge output (V/V) from balance that a sound channel gives under `load`, at nominal values."""
    shown = predicted_strain(rig, name, Term(lambda: load, ()))
    if warmer_k and thermometer(rig, name) is not None:
        warmed = thermal_output(rig, name, Term(lambda: warmer_k, ()))
        shown = combine(lambda loaded, warm: loaded + warm, shown, warmed)
    return value_of(output_for(rig, name, shown))
