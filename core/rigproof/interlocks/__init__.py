"""Interlocks while a rig is watched: one class for each kind. Software, and no protective device."""

from __future__ import annotations

from dataclasses import replace

from rigproof.documents import interlocks as written
from rigproof.documents.rig import Rig
from rigproof.models import BridgeModel
from rigproof.quantities import Quantity, kind_of, show
from rigproof.steps.checks import value_of
from rigproof.steps.terms import Term, predicted_strain

from .difference import DifferenceLock
from .limit import LimitLock, ShareOfYieldLock
from .lock import BY_LIMIT, BY_LOAD, AtRest, Lock, Seen, Sight
from .rate import RateLock
from .silence import SilenceLock
from .time_beyond import TimeBeyondLock

__all__ = [
    "BY_LIMIT",
    "BY_LOAD",
    "AtRest",
    "DifferenceLock",
    "LimitLock",
    "Lock",
    "RateLock",
    "Seen",
    "ShareOfYieldLock",
    "Sight",
    "SilenceLock",
    "TimeBeyondLock",
    "locks_of",
    "yield_strain",
]


def locks_of(rig: Rig) -> list[Lock]:
    """All interlocks of a rig as they stand before the first reading, then the limit of each source."""
    found = [_lock(rig, lock) for lock in rig.interlocks.values()]
    sources = rig.sources.values()
    load = rig.part.load
    return found + [LimitLock(f"limit of {s.name}", s.channel, load, s.limit, _turned(s.limit)) for s in sources]


def yield_strain(rig: Rig, channel: str) -> float:
    """Size of the strain that a channel ought to show when its part starts to yield, from nominal values.

    By the part model, seen through gauge and bridge.
    """
    load = rig.part.yield_load()
    return abs(value_of(predicted_strain(rig, channel, Term(lambda: load, ()))))


def _lock(rig: Rig, lock: written.Interlock) -> Lock:
    kind = rig.channels[lock.channel].measures
    about, at_rest = kind_of(kind), isinstance(rig.channels[lock.channel].reduction, BridgeModel)
    name, channel = lock.name, lock.channel
    match lock:
        case written.TimeBeyond():
            limit = LimitLock(name, channel, kind, lock.above, lock.below)
            return TimeBeyondLock(name, channel, "time", lock.for_longer_than, None, at_rest, limit=limit)
        case written.Limit():
            return LimitLock(name, channel, kind, lock.above, lock.below)
        case written.RateOfChange():
            rising, falling = lock.rising_faster_than, _negative(lock.falling_faster_than)
            return RateLock(name, channel, about.rate, rising, falling, at_rest, over=lock.over)
        case written.Difference():
            apart = lock.apart_by_more_than
            return DifferenceLock(
                name, channel, about.difference, apart, _negative(apart), at_rest, against=lock.against
            )
        case written.Silence():
            unchanged = lock.unchanged_for_longer_than is not None
            return SilenceLock(name, channel, "time", lock.longest, None, unchanged=unchanged)
        case written.ShareOfYield():
            return _share_of_yield(rig, lock)
    raise TypeError(f"{type(lock).__name__}: no kind of interlock that is known here")


def _share_of_yield(rig: Rig, lock: written.ShareOfYield) -> Lock:
    at_yield = yield_strain(rig, lock.channel)
    strain = lock.above_share_of_yield.value * at_yield
    basis = f"{show(at_yield, 'strain', 4)} at first yield by part model {rig.part.kind!r}, nominal values"
    text = f"{show(strain, 'strain', 4)} ({lock.above_share_of_yield.text} of {basis})"
    limit = Quantity(strain, "strain", text)
    return ShareOfYieldLock(lock.name, lock.channel, "strain", limit, _negative(limit), True)


def _negative(limit: Quantity | None) -> Quantity | None:
    """The same limit for the other direction, written without a sign."""
    return None if limit is None else replace(limit, value=-limit.value)


def _turned(limit: Quantity) -> Quantity | None:
    """The limit of a source for the other direction of load, compression; None where no such load is possible."""
    lowest = kind_of(limit.kind).lowest
    if lowest is not None and -limit.value < lowest:
        return None
    return replace(limit, value=-limit.value, text=f"-{limit.text}")
