"""An instrument whose words a plugin brings, as its driver's `stand_in`; what it reads is the twin's."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from rigproof.errors import InstrumentError, raised_at
from rigproof.instruments import Identity
from rigproof.simulation import StandIn
from rigproof_twin.instruments.base import OVERLOAD, SimulatedInstrument
from rigproof_twin.instruments.terminals import QUANTITIES, truth
from rigproof_twin.interface import Appearance, World
from rigproof_twin.wire import Exchange

if TYPE_CHECKING:
    from rigproof.documents.rig import Instrument


class TwoEnds(Exchange):
    """An exchange whose replies end with another mark than messages do."""

    @property
    def _reply_mark(self) -> bytes:
        assert isinstance(self._device, Foreign)
        return self._device.reply_end


class Foreign(SimulatedInstrument):
    """`reads`: what the channels of the rig read, by input; any other input is an open circuit. `load`: of the part."""

    kind = "foreign"
    exchange = TwoEnds

    def __init__(
        self,
        instrument: Instrument,
        stand_in: type[StandIn],
        reads: Mapping[int, str],
        load: str,
        world: World,
        appearance: Appearance,
        rng: np.random.Generator,
    ) -> None:
        super().__init__(world, appearance, rng)
        about = Identity(appearance.maker, appearance.model, appearance.serial_number, appearance.firmware)
        self._name = instrument.name
        self._reads, self._load = dict(reads), load
        self._stand_in = stand_in(instrument.settings, about, self._reading)
        self.terminator, self.reply_end = self._stand_in.message_end, self._stand_in.reply_end

    def connect(self, bus: bool) -> Exchange:
        """A stream begins with its greeting, if it has one."""
        exchange = super().connect(bus)
        if self._stand_in.greeting and not bus:
            exchange.greet(self._stand_in.greeting)
        return exchange

    def execute(self, message: bytes, message_available: bool) -> tuple[bytes, float]:  # noqa: ARG002  no status byte
        """Let the plugin answer; a defect of it is told as one, and is no time-out."""
        self.ready_s = max(self.clock.now(), self.busy_until_s) + self.appearance.latency_s
        text = message.decode("latin-1")
        try:
            data = _bytes(self._stand_in.answer(text))
        except Exception as error:
            mine = type(self._stand_in)
            what = f"{text}: its stand-in {mine.__name__} raised {type(error).__name__}: {error}"
            rule = "a simulated instrument answers every message, or gives None: mend the plugin"
            raise InstrumentError(self._name, f"{what} (at {raised_at(error, mine)}); {rule}") from error
        self.busy_until_s = self.ready_s
        return data, self.ready_s

    def _reading(self, channel_input: int) -> float:
        reads = self._reads.get(channel_input)
        if reads is None:
            return math.inf
        known = reads in QUANTITIES
        there = truth(self.world, channel_input, reads if known else self._load)
        seen = self.seen(channel_input, there if known else self._stand_in.at_load(channel_input, there))
        return math.copysign(math.inf, seen) if abs(seen) >= OVERLOAD else seen


def _bytes(reply: str | bytes | None) -> bytes:
    if not isinstance(reply, str | bytes | None):
        raise TypeError(f"{reply!r} is no reply: text, bytes, or None for silence")
    return reply.encode("latin-1") if isinstance(reply, str) else reply or b""
