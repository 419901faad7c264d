"""Step `arming`: before any pressure each interlock is made to trip, and the source must obey and be safe."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf
from typing import TYPE_CHECKING, Annotated, ClassVar

import numpy as np
from pydantic import Field

from rigproof.documents import Procedure
from rigproof.documents.rig import Rig
from rigproof.instruments import Loads
from rigproof.interlocks import BY_LIMIT, AtRest, Lock, locks_of
from rigproof.models import BridgeModel
from rigproof.quantities import Quantity, did_you_mean, fitting, kind_of, quantity, show
from rigproof.uncertainty import Estimate, Rule, Tolerance
from rigproof.verdict import words
from rigproof.verdict.record import Check

from . import base
from .checks import Subject, specified_check, value_of
from .guard import missing
from .hints import Hints
from .record import StepRecord
from .terms import Term, change, predicted_strain, usable

if TYPE_CHECKING:
    from rigproof.run.live import LiveRig

TRIPS = "interlocks: each trips when provoked, the source not started"
SHARE = 0.8  # of the load up to which the part counts as without load
READINGS, INTERVAL_S = 20, 0.02
PATIENCE_S = 10.0  # a lock must have tripped so long after the load came, and after the time it is taken over


class Arming(base.Step):
    """A trip on purpose of every interlock, at a load that the rig itself counts as none.

    For the test alone the limit of one interlock is set half way to what the small load will make of its channel;
    then the source is started, and the whole way is gone: reading, trip, safe command, safe state read back. A channel
    that hangs does not trip, nor does one of the wrong sign; a source that does not obey is not safe. Where so little
    load does not show (temperature, noise) the limit is set where the reading is beyond it already: that proves the way
    and not the channel. It is no test of a relief device, and none of the limit's own value.
    """

    kind: ClassVar[str] = "arming"
    per_session: ClassVar[bool] = True
    shows: ClassVar[tuple[str, ...]] = (base.ARMED,)
    hints: ClassVar[Hints] = {
        "trips": "the channel that is watched: frozen, in another unit, swapped, or not on this part",
        "reading to safe command": "an instrument or a line that answers slowly",
        "safe state confirmed": "what the source answers, its vent or valve, its control",
        "load left after a trip": "a vent or valve that does not open, zero of the load channel",
    }

    source: str
    """The source that is started and must obey."""
    to: base.Load | None = None
    """Load that the source is sent to, at most its `safe below`; left out, 80 % of that; 0 does not start it."""
    rate: base.LoadRate | None = None
    """Rate of the load; left out, the source's own."""
    rest: Annotated[Quantity, quantity("time")] = Field(default="10 s", validate_default=True)
    """How long the rig rests without load before each trip."""
    command_within: Annotated[Quantity, quantity("time", above="0 s")] = Field(default="5 s", validate_default=True)
    """Longest time that is accepted from the reading to the safe command."""

    def problems(self, rig: Rig) -> Sequence[tuple[str, str, str]]:
        """The source must be there, and the load none that counts."""
        if self.source not in rig.sources:
            return [("source", f"{self.source!r} is no source of the rig", did_you_mean(self.source, rig.sources))]
        harmless = rig.sources[self.source].safe_below
        found = []
        if self.to is not None and self.to.kind != rig.part.load:
            takes = f"the part model `{rig.part.kind}` takes a {rig.part.load}"
            found.append(("to", f"{self.to.text} is a {self.to.kind}", takes))
        elif self.to is not None and abs(self.to.value) > harmless.value:
            what = f"{self.to.text} is more than {harmless.text}, up to which the part counts as without load"
            found.append(("to", what, "write less, or leave it out"))
        return [*found, *base.rate_problems(rig.sources[self.source].rate, self.rate)]

    def rests_on(self, rig: Rig) -> tuple[str, ...]:
        """The load alone: a trip comes or it does not."""
        return (rig.sources[self.source].channel,)

    def shown(self) -> tuple[str, ...]:
        """Without a start nothing shows that the source obeys."""
        return self.shows if self._starts else (TRIPS,)

    def remarks(self) -> Sequence[str]:
        """What is done with the limits and the source."""
        made = "Each interlock is made to trip on purpose, its limit lowered for the test alone"
        if self._starts:
            return (f"{made}; the source is started at a load that counts as none, and must obey the safe command.",)
        return (f"{made}; the source is not started, so that nothing shows whether it obeys.",)

    @property
    def _starts(self) -> bool:
        return self.to is None or self.to.value != 0

    def acquire(self, live: LiveRig) -> None:
        """One trip after the other; the first that leaves the rig not confirmed safe, or load on it, is the last."""
        strains = base.strain_channels(live.rig, (base.ALL_STRAIN,))
        live.wait(self.rest.value, "rest before the arming test")
        if strains:
            live.read("zero", strains, count=READINGS, interval_s=INTERVAL_S)
            live.take_zero(strains)
        before = self._read_load(live, "load before")
        for lock in live.locks:
            if not self._trip(live, lock):
                return
            live.wait(self.rest.value, "rest after a trip")
            left = self._read_load(live, "load after") - before
            if self._starts:
                live.phase(self._fallen(live.rig, left))
            if not abs(left) <= self._most_left(live.rig):
                return

    def _fallen(self, rig: Rig, left: float) -> str:
        """What became of the load of a test, as people read it: until then it was on its way down."""
        load, kind = rig.sources[self.source].channel, kind_of(rig.part.load).difference
        most = self._most_left(rig)
        shown = f"{words.rounded(left, most / 10, kind)} left {self.rest.text} after the trip"
        return f"{load} is {'down again' if abs(left) <= most else 'NOT down'}: {shown}"

    def _read_load(self, live: LiveRig, label: str) -> float:
        load = live.rig.sources[self.source].channel
        return float(live.read(label, [load], count=READINGS, interval_s=INTERVAL_S)[load].mean())

    def _most_left(self, rig: Rig) -> float:
        """Half of what the source put on; any load that counts where it was not started."""
        return abs(self._aim(rig)) / 2 or rig.sources[self.source].safe_below.value

    def _trip(self, live: LiveRig, lock: Lock) -> bool:
        """Whether the rig is safe again."""
        load = live.rig.sources[self.source].channel
        at_rest = self._at_rest(live, dict.fromkeys((*lock.channels, load)))
        if silent := [name for name in dict.fromkeys((*lock.channels, load)) if name not in at_rest]:
            live.phase(f"{lock.name} is not provoked: {', '.join(silent)} gives no reading at rest", untried=lock.name)
            return load in at_rest
        expected = Expected(live.rig, load, self._aim(live.rig), at_rest[load].mean)
        test, how = lock.for_test({name: expected.of(name, rest) for name, rest in at_rest.items()})
        if how == BY_LIMIT:
            self._start(live, test)
            test, how = lock.for_test(at_rest | self._at_rest(live, lock.channels))
        return live.provoke(test, how, lambda: self._drive(live, test, how))

    def _drive(self, live: LiveRig, test: Lock, how: str) -> None:
        """Look as under load until it trips; a lock that load moves sees the load come."""
        live.under_load = True
        if how != BY_LIMIT:
            live.wait(test.looks_back_s, "before the load of the test")
            self._start(live, test)
        live.under_load = True
        live.wait(test.looks_back_s + PATIENCE_S, f"until {test.name} trips")

    def _start(self, live: LiveRig, test: Lock) -> None:
        if aim := self._aim(live.rig):
            live.rise_to(self.source, aim, self.rate.value if self.rate else None, f"arming test of {test.name}")

    def _aim(self, rig: Rig) -> float:
        return SHARE * rig.sources[self.source].safe_below.value if self.to is None else self.to.value

    @staticmethod
    def _at_rest(live: LiveRig, channels: Mapping[str, object] | Sequence[str]) -> dict[str, AtRest]:
        found = {}
        for name, raw in live.read("at rest", tuple(channels), count=READINGS, interval_s=INTERVAL_S).items():
            values = live.quantity(name, raw)
            numbers = values[np.isfinite(values)] if values is not None else np.array([])
            if len(numbers):
                found[name] = AtRest(float(numbers.min()), float(numbers.max()), float(numbers.mean()), None)
        return found

    def judge(self, rig: Rig, rule: Rule, record: StepRecord) -> Sequence[Check]:
        """Each interlock: whether it tripped, how fast; and the source after all of it."""
        tried = {event["interlock"] for event in record.events("arming")}
        untried = {event["untried"]: event["what"] for event in record.events("phase") if "untried" in event}
        trips = {e["interlock"]: e for e in record.events("trip") if e.get("provoked")}
        checks: list[Check] = []
        for lock in locks_of(rig):
            about = Subject("trips", lock.name, "number", "provoked")
            if lock.name not in tried:
                checks.append(missing(record, about, untried.get(lock.name, "not provoked: the step ended before it")))
                continue
            trip = trips.get(lock.name)
            note = "" if trip else f"did not trip: see that {lock.channel} is alive, its sign and its input"
            checks.append(_exact(record, about, float(trip is not None), Tolerance(1.0, None), rule, note))
            if trip is not None and trip["took_s"] is not None:
                within = Tolerance(None, self.command_within.value)
                timed = Subject("reading to safe command", lock.name, "time", "provoked")
                origin = f"{self.origin('command_within')}: at most {self.command_within.text}"
                checks.append(_exact(record, timed, trip["took_s"], within, rule, "", origin))
        return [*checks, *self._obeyed(rig, rule, record), *self._gone(rig, rule, record)]

    def _gone(self, rig: Rig, rule: Rule, record: StepRecord) -> list[Check]:
        """The load that stayed after a trip, the largest: a source may say that it vented, and not do so."""
        load = rig.sources[self.source].channel
        kind = kind_of(rig.part.load).difference
        about = Subject("load left after a trip", load, kind)
        before, after = record.block("load before"), record.blocks("load after")
        blocks = [block[load] for block in (before, *after) if block is not None]
        if before is None or not after or not all(usable(block) for block in blocks):
            return [missing(record, about, "the load was not read, or a reading is missing: overload or no number")]
        most = max(after, key=lambda block: abs(block[load].mean() - before[load].mean()))
        left = change(rig.channels[load], most[load], before[load], "after a trip", kind_of(kind).base)
        within = self._most_left(rig)
        origin = f"the step: half of the load that the source was sent to, {show(within, kind, 4)}"
        return [specified_check(record, about, left.estimate(), Tolerance(-within, within), rule, origin)]

    def _obeyed(self, rig: Rig, rule: Rule, record: StepRecord) -> Sequence[Check]:
        """The safe states that were confirmed against those that were commanded."""
        checks = []
        for source in rig.sources:
            ends = [event for event in record.events(SAFE_AFTER_TEST) if event["source"] == source]
            about = Subject("safe state confirmed", source, "number", f"after {len(ends)} trips")
            if not ends:
                checks.append(missing(record, about, "no trip was provoked"))
                continue
            said = [end["text"] for end in ends if not end["confirmed"]]
            said += [] if self._starts else ["the source was not started: that it obeys is not shown"]
            note = "; ".join(dict.fromkeys(said))
            confirmed = float(sum(bool(end["confirmed"]) for end in ends))
            checks.append(_exact(record, about, confirmed, Tolerance(float(len(ends)), None), rule, note))
        return checks


def wants_arming(procedure: Procedure) -> bool:
    """Whether there is a load: where nobody wrote an interlock, the source's own limit is relied on."""
    return any(step.loads for step in procedure.steps)


def arming_cautions(rig: Rig, procedure: Procedure) -> list[str]:
    """What nobody tests before the first load."""
    if not wants_arming(procedure):
        return []
    first = next(number for number, step in enumerate(procedure.steps, 1) if step.loads)
    if any(base.ARMED in step.shows for step in procedure.steps[: first - 1]):
        return []
    return [
        f"Nobody sees an interlock trip before step {first} puts load on the part: a channel that hangs or a source "
        f"that does not obey shows only then. Write `- arming: {{{_parameters(rig)}}}` before it."
    ]


def _parameters(rig: Rig) -> str:
    """As much as the first source can do: one that cannot make so little load is not started."""
    for source in rig.sources.values():
        about = rig.instruments[source.instrument]
        can = issubclass(about.driver, Loads) and not about.driver.cannot_make(
            about.settings, SHARE * source.safe_below.value
        )
        return (
            f"source: {source.name}"
            if can
            else f"source: {source.name}, to: 0 {fitting(source.safe_below.value, rig.part.load)}"
        )
    return "source: …"


SAFE_AFTER_TEST = "safe after the test"  # kind of journal entry


@dataclass(frozen=True)
class Expected:
    """What the small load of the test is expected to do."""

    rig: Rig
    load: str  # the channel that measures it
    aim: float  # where the source is sent, base unit
    reads: float  # the load before

    def of(self, name: str, rest: AtRest) -> AtRest:
        """A channel at rest with its expected change; None where load does not move it, or nobody can tell."""
        return AtRest(rest.lowest, rest.highest, rest.mean, self._move(name))

    def _move(self, name: str) -> float | None:
        step = self.aim - self.reads
        if abs(step) < abs(self.aim) / 4 or step * self.aim < 0:  # a zero that is off: the load moves all the same
            step = self.aim / 4
        about = self.rig.channels[name]
        if not self.aim:
            return None
        if name == self.load:
            return step
        if isinstance(about.reduction, BridgeModel) and about.gauge:
            return value_of(predicted_strain(self.rig, name, Term(lambda: step, ())))
        return None


def _exact(
    record: StepRecord, about: Subject, value: float, limits: Tolerance, rule: Rule, note: str, origin: str = ""
) -> Check:
    """A count, or a time by the clock of the run: nothing about it is uncertain."""
    origin = origin or f"the step: at least {show(limits.lower or 0.0, about.kind)}"
    return specified_check(record, about, Estimate(value, 0.0, inf), limits, rule, origin, note)
