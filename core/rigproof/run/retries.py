"""Readings tried again after an instrument failed, as rig.yaml allows it: bounded, told in the journal, and no command.

Only readings: a query changes nothing, so asking again does no harm. A command to a source, a relay or a test voltage
is never sent again; there a failure ends the run, and the rig is made safe.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping

from rigproof.clock import Clock
from rigproof.documents.rig import Rig
from rigproof.errors import InstrumentError
from rigproof.instruments import Driver
from rigproof.verdict.record import InstrumentRecord

from .opening import expect_named
from .signals import StopSignals


class Retries:
    """Counts what each instrument has used up; `after` brings an instrument back, or says that this is the end."""

    def __init__(
        self,
        rig: Rig,
        drivers: Mapping[str, Driver],
        opened: Mapping[str, InstrumentRecord],
        clock: Clock,
        stop: StopSignals,
    ) -> None:
        self._rig = rig
        self._drivers = drivers
        self._opened = opened  # who answered at the start of the run: nobody else may come back
        self._clock = clock
        self._stop = stop
        self._in_the_run: Counter[str] = Counter()

    def after(self, error: InstrumentError, used: Counter[str], write: Callable[..., object]) -> None:
        """Wait, and reach the instrument again on a fresh connection; `used` counts the tries for this reading.

        Raises the last `InstrumentError` where rig.yaml allows no further try, `Stopped` where the operator stops.
        """
        while True:
            name = error.instrument
            policy = self._rig.instruments[name].retries if name in self._rig.instruments else None
            if policy is None or used[name] >= policy.times or self._in_the_run[name] >= policy.in_a_run:
                raise error
            used[name] += 1
            self._in_the_run[name] += 1
            write("retry", instrument=name, attempt=used[name], of=policy.times, why=str(error))
            self._clock.wait(policy.wait.value)
            self._stop.check()
            try:
                return self._resume(name)
            except InstrumentError as again:
                error = again

    def _resume(self, name: str) -> None:
        back, first = self._drivers[name].resume(), self._opened[name]
        expect_named(self._rig.instruments[name], back)
        was = (first.maker, first.model, first.serial_number, first.firmware)
        if (back.maker, back.model, back.serial_number, back.firmware) != was:
            raise InstrumentError(
                name,
                f"{back.maker} {back.model} {back.serial_number} came back where {' '.join(was[:3])} was lost; "
                "another instrument cannot go on with the run: see who answers at that address",
            )
