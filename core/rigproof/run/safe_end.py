"""Taking every source to its safe state, and confirming it: the last thing of every run, whatever ended it."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass

import numpy as np

from rigproof.clock import Clock
from rigproof.documents.rig import Rig, Source
from rigproof.errors import InstrumentError, JournalError
from rigproof.instruments import Driver, Loads, Reads, able
from rigproof.journal import JournalWriter
from rigproof.quantities import show

from .progress import Progress

CONFIRM_WITHIN_S = 120.0
LOOK_EVERY_S = 0.5


@dataclass(frozen=True)
class Outcome:
    """How one source was left."""

    confirmed: bool
    load: float | None
    text: str


def make_safe(
    rig: Rig, drivers: Mapping[str, Driver], clock: Clock, journal: JournalWriter, progress: Progress
) -> None:
    """Safe every source, then confirm and journal each. Never raises: a rig that cannot be confirmed is an alarm."""
    commanded = {source.name: _command(source, drivers) for source in rig.sources.values()}
    for source in rig.sources.values():
        outcome = _confirm(rig, source, drivers, clock, commanded[source.name])
        if not outcome.confirmed:
            progress.alarm(
                f"{source.name}: SAFE STATE NOT CONFIRMED ({outcome.text}). Keep away from the part, use the rig's own "
                "stop and vent, and see the load gone on an independent gauge."
            )
        else:
            progress.say(f"{source.name} safe: {outcome.text}")
        with suppress(JournalError):  # a full disk must not keep the next source from being made safe
            journal.write("safe", source=source.name, confirmed=outcome.confirmed, load=outcome.load, text=outcome.text)


def _command(source: Source, drivers: Mapping[str, Driver]) -> str:
    """Send the safe command, once more over a fresh connection if the first is refused; "" when it went through."""
    driver = drivers.get(source.instrument)
    source_driver = able(driver, Loads)
    if driver is None or source_driver is None:
        return f"{source.instrument} was never reached"
    try:
        source_driver.go_safe()
    except InstrumentError:
        try:
            driver.close()
            driver.open()
            source_driver.go_safe()
        except InstrumentError as error:
            return str(error)
    return ""


def _confirm(rig: Rig, source: Source, drivers: Mapping[str, Driver], clock: Clock, trouble: str) -> Outcome:
    """Read the safe state back from the source, and the load back from the part's own channel."""
    if trouble:
        return Outcome(False, _load(rig, source, drivers), trouble)
    driver = able(drivers[source.instrument], Loads)
    assert driver is not None, "a source that was commanded can load"
    deadline = clock.now() + CONFIRM_WITHIN_S
    while True:
        try:
            safe = driver.is_safe()
        except InstrumentError as error:
            return Outcome(False, _load(rig, source, drivers), str(error))
        load = _load(rig, source, drivers)
        if safe and load is not None and abs(load) <= source.safe_below.value:
            return Outcome(True, load, f"source reports its safe state, {source.channel} {_shown(rig, source, load)}")
        if load is None:
            said = "source reports its safe state" if safe else "source does not report its safe state"
            return Outcome(False, None, f"{said}; channel {source.channel} gives no reading")
        if clock.now() > deadline:
            said = "its safe state" if safe else "NOT its safe state"
            return Outcome(False, load, f"source reports {said}, {source.channel} still {_shown(rig, source, load)}")
        clock.wait(LOOK_EVERY_S)


def _load(rig: Rig, source: Source, drivers: Mapping[str, Driver]) -> float | None:
    """The load by the part's own channel; None where it cannot be read."""
    channel = rig.channels[source.channel]
    driver = able(drivers.get(channel.instrument), Reads)
    if driver is None:
        return None
    try:
        value = float(driver.read([channel.input], 1, 0.0)[0, 0])
    except InstrumentError:
        return None
    return value if np.isfinite(value) else None


def _shown(rig: Rig, source: Source, load: float) -> str:
    return show(load, rig.channels[source.channel].measures, 3)
