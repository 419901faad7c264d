"""Taking every source to its safe state, and confirming it: the first and the last thing of every run.

Whatever a driver, its library, the journal or the screen does here, every source gets its command and its turn.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

import numpy as np

from rigproof.clock import Clock
from rigproof.documents.rig import Rig, Source
from rigproof.errors import RigproofError, Tripped, raised_at
from rigproof.instruments import Driver, Loads, Reads, able
from rigproof.quantities import show

from .progress import Progress, Reading

CONFIRM_WITHIN_S = 120.0  # a load may take this long to fall
MISSING_FOR_S = 15.0  # a source or channel that cannot be read is asked for this long
LOOK_EVERY_S = 0.5


@dataclass(frozen=True)
class Outcome:
    """How one source was left."""

    confirmed: bool
    load: float | None
    text: str


@dataclass(frozen=True)
class Left:
    """How the whole rig was left; `why` says it of each source that is not confirmed safe."""

    confirmed: bool
    why: str


class Notes(Protocol):
    """Where it is written down: the journal, or a step's part of it."""

    def elapsed_s(self) -> float:
        """Seconds since the run began."""

    def write(self, kind: str, /, **fields: Any) -> object:
        """Keep an event."""


def make_safe(
    rig: Rig,
    drivers: Mapping[str, Driver],
    clock: Clock,
    journal: Notes,
    progress: Progress,
    entry: str,
    trip: Tripped | None = None,
    alarm: str = "",
) -> Left:
    """Command every source safe, then confirm each and journal it as `entry`.

    After a `trip` the time from its reading to the last command is measured, and written once the commands are out: no
    disk stands between the two, and no screen, which is told the `alarm` then. Never raises: a rig that cannot be
    confirmed safe is an alarm.
    """
    commanded, told_s = {}, {}
    for source in rig.sources.values():
        commanded[source.name] = _command(source, drivers)
        with suppress(Exception, SystemExit):  # a clock that is gone
            told_s[source.name] = journal.elapsed_s()
    if alarm:
        with suppress(Exception, SystemExit):
            progress.alarm(alarm)
    unconfirmed: list[str] = []
    if trip is not None:
        with suppress(Exception, SystemExit):
            _note_trip(trip, told_s, journal, progress)
    for source in rig.sources.values():
        try:
            outcome = _confirm(rig, source, drivers, clock, commanded[source.name], journal, progress)
        except (Exception, SystemExit) as error:  # a clock that is gone, say: the next source must have its turn
            outcome = Outcome(False, None, _words(error))
        if not outcome.confirmed:
            unconfirmed.append(f"{source.name}: {outcome.text}")
        with suppress(Exception, SystemExit):  # a full disk must not keep the next source from being made safe
            journal.write(entry, source=source.name, confirmed=outcome.confirmed, load=outcome.load, text=outcome.text)
        with suppress(Exception, SystemExit):  # nor must a screen that has gone away
            _tell(rig, source, outcome, journal, progress)
    return Left(not unconfirmed, "; ".join(unconfirmed))


def _note_trip(trip: Tripped, told_s: Mapping[str, float], journal: Notes, progress: Progress) -> None:
    """What tripped, and how long it took from the reading to the safe command of the last source."""
    if trip.read_s is not None and told_s:
        trip.took_s = round(max(told_s.values()) - trip.read_s, 3)
        progress.say(f"{1000 * trip.took_s:.0f} ms from the reading of {trip.channel} to the safe command")
    journal.write(
        "trip",
        interlock=trip.interlock,
        channel=trip.channel,
        value=trip.value,
        limit=trip.limit,
        text=str(trip),
        began_s=trip.began_s,
        read_s=trip.read_s,
        told_s=dict(told_s),
        took_s=trip.took_s,
    )


def _tell(rig: Rig, source: Source, outcome: Outcome, journal: Notes, progress: Progress) -> None:
    if outcome.confirmed:
        progress.safe(source.name, _reading(rig, source, outcome.load, journal.elapsed_s()), outcome.text)
        return
    progress.alarm(f"{source.name}: SAFE STATE NOT CONFIRMED ({outcome.text}). {_by_other_means(rig, source)}")


def _by_other_means(rig: Rig, source: Source) -> str:
    """What people do where the program could not see the load gone."""
    if rig.instruments[source.instrument].driver.asks_a_person:
        return "Keep clear of what hangs there, take it off one by one, and see that nothing is left on the part."
    if rig.part.load == "gauge pressure":
        return (
            "Keep away from the part, use the rig's own stop and vent, and see the load gone on an independent gauge."
        )
    return "Keep away from the part, use the rig's own stop, and see by other means that the load is gone."


def _command(source: Source, drivers: Mapping[str, Driver]) -> str:
    """Send the safe command, once more over a fresh connection if the first is refused; "" when it went through."""
    driver = drivers.get(source.instrument)
    source_driver = able(driver, Loads)
    if driver is None or source_driver is None:
        return f"{source.instrument} was never reached"
    try:
        source_driver.go_safe()
    except (Exception, SystemExit):
        try:
            with suppress(Exception, SystemExit):
                driver.resume()
            source_driver.go_safe()
        except (Exception, SystemExit) as error:
            return _words(error, type(driver))
    return ""


def _confirm(
    rig: Rig,
    source: Source,
    drivers: Mapping[str, Driver],
    clock: Clock,
    trouble: str,
    journal: Notes,
    progress: Progress,
) -> Outcome:
    """Read the safe state back from the source, and the load back from the part's own channel."""
    if trouble:
        load, why = _load(rig, source, drivers)
        return Outcome(False, load, f"{trouble}; {source.channel} {_left_on(rig, source, load, why)}")
    start = clock.now()
    while True:
        safe, said = _says(source, drivers)
        load, why = _load(rig, source, drivers)
        gone = load is not None and abs(load) <= source.safe_below.value
        shown = f"{source.channel} {_left_on(rig, source, load, why)}"
        if safe and gone:
            return Outcome(True, load, f"{said}, {shown}")
        patience = MISSING_FOR_S if safe is None or load is None else CONFIRM_WITHIN_S
        if clock.now() - start > patience:
            return Outcome(False, load, f"{said}; {shown}")
        with suppress(Exception, SystemExit):  # a screen that has gone away must not end the wait
            progress.lowering(source.name, _reading(rig, source, load, journal.elapsed_s()), f"{said}, {shown}")
        clock.wait(LOOK_EVERY_S)


def _reading(rig: Rig, source: Source, load: float | None, at_s: float) -> Reading | None:
    kind = rig.channels[source.channel].measures
    return None if load is None else Reading(load, kind, show(load, kind, 4), at_s)


def _says(source: Source, drivers: Mapping[str, Driver]) -> tuple[bool | None, str]:
    """Whether the source says that it is safe (None: it cannot be asked), and that in words."""
    driver = able(drivers[source.instrument], Loads)
    assert driver is not None, "a source that was commanded can load"
    try:
        safe = driver.is_safe()
    except (Exception, SystemExit) as error:
        return None, _words(error, type(drivers[source.instrument]))
    return safe, f"source reports {'its' if safe else 'NOT its'} safe state"


def _load(rig: Rig, source: Source, drivers: Mapping[str, Driver]) -> tuple[float | None, str]:
    """The load by the part's own channel; None where it cannot be read, and why not, in brackets."""
    channel = rig.channels[source.channel]
    driver = able(drivers.get(channel.instrument), Reads)
    if driver is None:
        return None, f" ({channel.instrument} was never reached)"
    try:
        value = float(channel.correction.added_to(driver.read([channel.input], 1, 0.0)[0, 0]))
    except (Exception, SystemExit) as error:
        if not drivers[channel.instrument].asks_a_person:
            with suppress(Exception, SystemExit):  # for the next look
                drivers[channel.instrument].resume()
        return None, f" ({_words(error, type(drivers[channel.instrument]))})"
    return (value, "") if np.isfinite(value) else (None, " (overload or open circuit)")


def _left_on(rig: Rig, source: Source, load: float | None, why: str) -> str:
    """What is left on the part, in words."""
    if load is None:
        return f"gives no reading{why}"
    counts = f", within the {source.safe_below.text} that count as no load"
    return _shown(rig, source, load) + (counts if abs(load) <= source.safe_below.value else " still on")


def _shown(rig: Rig, source: Source, load: float) -> str:
    return show(load, rig.channels[source.channel].measures, 3)


def _words(error: BaseException, owner: type = object) -> str:
    """What failed; of a defect also what it is, and where in the file of `owner`, the driver. Never raises."""
    try:
        if isinstance(error, RigproofError):
            return str(error)
        said = f"{type(error).__name__}: {error}".removesuffix(": ")
        return f"{said} ({Path(raised_at(error, owner)).name})"
    except Exception:  # an error that cannot be shown must not cost the next source its turn
        return type(error).__name__
