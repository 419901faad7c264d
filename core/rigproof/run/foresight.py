"""What the documents and the models alone say of a rig at its highest load: strains, gauges, interlocks."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from rigproof.documents import Procedure, fault_in
from rigproof.documents.interlocks import Limit
from rigproof.documents.rig import Rig
from rigproof.errors import DocumentError
from rigproof.instruments import Excites
from rigproof.interlocks import DifferenceLock, Lock, RateLock, SilenceLock, TimeBeyondLock, locks_of
from rigproof.models import BridgeModel, Installation
from rigproof.quantities import Quantity, kind_of, show
from rigproof.steps.base import ALL_STRAIN, strain_channels
from rigproof.steps.checks import value_of
from rigproof.steps.terms import absolute, change, predicted_strain
from rigproof.uncertainty import Rule
from rigproof.verdict import words

from .course import Move, course_of

KEEPS_RATE = 0.05  # a source keeps its rate within so much of it (judgement, no source)
KEEPS_TIME = 0.05  # and answers of instruments make a procedure so much longer than on paper (judgement, no source)
HIGHEST_STRAIN = 0.02  # foil gauges bear 2 % to 5 %, and a metal part yields long before (common practice, no source)


@dataclass(frozen=True)
class Range:
    """What a channel is foreseen to read between no load and the highest one, with U at either end."""

    low: float
    high: float
    u_low: float
    u_high: float


@dataclass(frozen=True)
class Standing:
    """A lock and how near the procedure comes to it."""

    lock: Lock
    range: Range | None  # None: the documents do not tell what the channel will read
    distance: float | None  # to the nearest limit, U included; negative: it would or may trip

    @property
    def trips(self) -> Literal["", "may trip", "trips"]:
        """Whether it `trips`, or `may trip` where only U reaches the limit; empty where it does not."""
        if self.range is None or self.distance is None or self.distance >= 0:
            return ""
        above, below = self.lock.above, self.lock.below
        surely = (above and self.range.high > above.value) or (below and self.range.low < below.value)
        return "trips" if surely else "may trip"


def strain_at(rig: Rig, name: str, load_channel: str, load: float, rule: Rule) -> tuple[float, float]:
    """Strain and U that a channel ought to show while the load channel shows `load` above its zero."""
    unit = kind_of(rig.part.load).base
    channel = rig.channels[load_channel]
    reading, zero = (channel.correction.taken_from(np.array([value])) for value in (load, 0.0))
    rise = change(channel, reading, zero, "load", unit)
    term = predicted_strain(rig, name, rise)
    return value_of(term), term.expanded(rule.coverage)


def bridges(rig: Rig) -> tuple[str, ...]:
    """The strain channels whose gauge is known, so that the part model can tell what they will read."""
    return tuple(name for name in strain_channels(rig, (ALL_STRAIN,)) if rig.channels[name].gauge)


def installation(rig: Rig, name: str, highest_strain: float) -> tuple[BridgeModel, Installation]:
    """The gauge of a channel as installed, and the model that knows what to say of it."""
    channel = rig.channels[name]
    model, instrument = channel.reduction, rig.instruments[channel.instrument]
    assert isinstance(model, BridgeModel), "checked when the documents were read"
    assert channel.gauge is not None, "`bridges` gives no others"
    driver = instrument.driver
    volt = driver.set_excitation_v(instrument.settings) if issubclass(driver, Excites) else None
    return model, Installation(rig.gauges[channel.gauge], volt, rig.part.expansion(), highest_strain)


def standings(
    rig: Rig, load: float, rule: Rule, course: Sequence[Move], source: str | None = None, step: int | None = None
) -> Iterator[Standing]:
    """Every interlock and every source's limit, against a load and the moves that lead there.

    Of one source, or of whichever there are; of one step by its index, or of the whole procedure. The time beyond a
    limit adds up over all steps until then.
    """
    own = [move for move in course if step in (None, move.step)]
    until = [move for move in course if step is None or move.step <= step]
    for lock in locks_of(rig):
        found = _foreseen(rig, lock, load, rule, until if isinstance(lock, TimeBeyondLock) else own, source)
        yield Standing(lock, found, _distance(lock, found) if found else None)


def _foreseen(
    rig: Rig, lock: Lock, load: float, rule: Rule, course: Sequence[Move], source: str | None
) -> Range | None:
    """What the figure of an interlock will be between no load and the highest one."""
    of_channel = _range(rig, lock.channel, load, rule, source)
    if of_channel is None or isinstance(lock, SilenceLock):
        return None
    if isinstance(lock, DifferenceLock):
        other = _range(rig, lock.against, load, rule, source)
        return None if other is None else _apart(of_channel, other)
    if isinstance(lock, RateLock):
        return _fastest(of_channel, load, course, lock.over.value)
    if isinstance(lock, TimeBeyondLock):
        return _longest(of_channel, load, course, lock)
    return of_channel


def _apart(one: Range, other: Range) -> Range:
    """At the highest load; no load, no difference. Their errors may add up."""
    ends = sorted([(0.0, 0.0), (_at_load(one) - _at_load(other), one.u_high + one.u_low + other.u_high + other.u_low)])
    (low, u_low), (high, u_high) = ends
    return Range(low, high, u_low, u_high)


def _at_load(found: Range) -> float:
    """The end that is not the zero."""
    return found.high if abs(found.high) >= abs(found.low) else found.low


def _fastest(found: Range, load: float, course: Sequence[Move], over_s: float) -> Range | None:
    """Fastest fall and rise; a strain goes with the load."""
    per_load = _at_load(found) / load if load else 0.0
    rates = [per_load * move.rate_over(over_s) for move in course]
    if not rates:
        return None
    low, high = min(0.0, *rates), max(0.0, *rates)
    return Range(low, high, -KEEPS_RATE * low, KEEPS_RATE * high)


def _longest(found: Range, load: float, course: Sequence[Move], lock: TimeBeyondLock) -> Range | None:
    """The whole time beyond the limit, which is foreseen where the limit lies on the side the load goes to."""
    top = _at_load(found)
    limit = lock.limit.above if top > 0 else lock.limit.below
    if limit is None or not course or not load or limit.value / top < 0:
        return None
    beyond = abs(limit.value / top)  # as a share of the highest load
    seconds = sum(_share_of(move, load).seconds_above(beyond) for move in course)
    return Range(0.0, seconds, 0.0, KEEPS_TIME * seconds)


def _share_of(move: Move, load: float) -> Move:
    """The same move with loads as shares of `load`, so that compression counts by its size."""
    return replace(move, start=move.start / load, target=move.target / load, rate_per_s=move.rate_per_s / abs(load))


def _range(rig: Rig, name: str, load: float, rule: Rule, source: str | None) -> Range | None:
    loading = [rig.sources[source]] if source is not None and source in rig.sources else list(rig.sources.values())
    channels = [each.channel for each in loading]
    if name in channels:
        unit = kind_of(rig.part.load).base
        readings = [rig.channels[name].correction.taken_from(np.array([p])) for p in (0.0, load)]
        terms = [absolute(rig.channels[name], reading, "load", unit) for reading in readings]
        ends = [(p, term.expanded(rule.coverage)) for p, term in zip((0.0, load), terms, strict=True)]
    elif name in bridges(rig) and channels:
        ends = [(0.0, 0.0), strain_at(rig, name, channels[0], load, rule)]
    else:
        return None
    (low, u_low), (high, u_high) = sorted(ends)
    return Range(low, high, u_low, u_high)


def _distance(lock: Lock, found: Range) -> float:
    """At least one of the limits is there."""
    above = [lock.above.value - found.high - found.u_high] if lock.above else []
    below = [found.low - found.u_low - lock.below.value] if lock.below else []
    return min(above + below)


def foreseen_course(rig: Rig, procedure: Procedure) -> tuple[Move, ...]:
    """The course of the load where an interlock asks for it: it takes a rehearsal."""
    asked = any(isinstance(lock, RateLock | TimeBeyondLock) for lock in locks_of(rig))
    return course_of(rig, procedure) if asked else ()


def foreseen_trips(rig: Rig, procedure: Procedure, course: Sequence[Move]) -> Iterator[tuple[int, Standing, float]]:
    """Every lock that a step comes to at its highest load: the step's index, the standing and that load."""
    for index, step in enumerate(procedure.steps):
        if step.loads:
            load, source = step.highest_load(), getattr(step, "source", None)
            for standing in standings(rig, load, procedure.decision, course, source, index):
                if standing.trips:
                    yield index, standing, load


def refuse_trips(rig: Rig, procedure: Procedure, course: Sequence[Move]) -> None:
    """Raise a `DocumentError` where a step goes to a load at which an interlock surely trips."""
    faults = []
    for index, standing, load in foreseen_trips(rig, procedure, course):
        if standing.trips == "trips":
            step = procedure.steps[index]
            what = f"the step goes to {show(load, rig.part.load, 4)}, and {told(standing)}"
            faults.append(
                fault_in(procedure, ("steps", index, step.kind, _key(standing)), what, _remedy(rig, standing))
            )
    if faults:
        raise DocumentError(faults)


def _key(standing: Standing) -> str:
    """The parameter that makes it trip; where a step has it not, or nobody wrote it, the place is the step."""
    return {RateLock: "rate", TimeBeyondLock: "hold"}.get(type(standing.lock), "to")


def _remedy(rig: Rig, standing: Standing) -> str:
    if isinstance(standing.lock, RateLock):
        return "write a lower `rate`; move the limit in rig.yaml only where the rig is made for it"
    if isinstance(standing.lock, TimeBeyondLock):
        return "shorten the hold or the cycles; move the limit in rig.yaml only where the part is made for it"
    foreseen = (
        ", correct what the strain is foreseen from (part, gauge)" if standing.lock.channel in bridges(rig) else ""
    )
    return f"lower the load{foreseen}; move the limit in rig.yaml only where part, source and relief device allow it"


def trip_cautions(rig: Rig, procedure: Procedure, course: Sequence[Move]) -> list[str]:
    """The interlocks that may end the run before its highest load: only U reaches their limit."""
    found = (
        f"Step {index + 1} goes to {show(load, rig.part.load, 4)}, and {told(standing)}."
        for index, standing, load in foreseen_trips(rig, procedure, course)
        if standing.trips == "may trip"
    )
    return list(found)


def beyond_gauges(rig: Rig, load: float, rule: Rule) -> list[str]:
    """Strains that no gauge bears: something they are foreseen from is wrong."""
    found = []
    for name in bridges(rig) if rig.sources else ():
        strain, _ = strain_at(rig, name, next(iter(rig.sources.values())).channel, load, rule)
        if abs(strain) > HIGHEST_STRAIN:
            found.append(
                f"{name} is foreseen at {show(strain, 'strain', 3)} at {show(load, rig.part.load, 4)}, and a gauge "
                f"bears about {show(HIGHEST_STRAIN, 'strain')}: look at the modulus and the sizes of the part."
            )
    return found


def unwatched(rig: Rig) -> list[str]:
    """The sources whose load nothing but their own limit ends."""
    above = {lock.channel for lock in rig.interlocks.values() if type(lock) is Limit and lock.above is not None}
    return [
        f"No interlock watches the load of {source.name}: only its own limit of {source.limit.text} would end a rise "
        f"that goes too far. Write one such as `overload: {{channel: {source.channel}, above: …}}` under `interlocks:`."
        for source in rig.sources.values()
        if source.channel not in above
    ]


def told(standing: Standing) -> str:
    """How near a lock is come to, in words."""
    lock, found = standing.lock, standing.range
    assert found is not None, "only what is foreseen can trip"
    high = lock.above is not None and lock.above.value - found.high - found.u_high < 0
    limit: Quantity | None = lock.above if high else lock.below
    value, expanded = (found.high, found.u_high) if high else (found.low, found.u_low)
    bound = limit.text if limit else ""
    return (
        f"interlock {lock.name!r} {'would' if standing.trips == 'trips' else 'may'} trip on the way: "
        f"{lock.foretold()} {words.with_u(value, expanded, lock.measures)}, and its limit is {bound}"
    )
