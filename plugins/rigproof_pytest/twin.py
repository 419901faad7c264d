"""The twin's simulated instruments as healthy ones, for drivers of instruments that the twin knows."""

from __future__ import annotations

import numpy as np

from rigproof.instruments import Identity
from rigproof_twin.instruments import build
from rigproof_twin.interface import Appearance
from rigproof_twin.still import StillWorld

from .clock import KitClock
from .peer import Instrument

IDENTITY = Identity("Test bay", "simulated", "X-1", "1.0")


class TwinInstrument(Instrument):
    """One instrument of the twin in a world that stands still; `clock` passes while it measures.

    `UsageError` for a kind that the twin does not have.
    """

    def __init__(self, kind: str, clock: KitClock, world: StillWorld | None = None) -> None:
        super().__init__()
        self.world = world or StillWorld()
        look = Appearance(IDENTITY.maker, IDENTITY.model, IDENTITY.serial_number, IDENTITY.firmware)
        self._instrument = build(kind, self.world, look, np.random.default_rng(1))
        self._clock = clock

    def answer(self, message: str) -> bytes:
        """What the twin says, once it has taken the time it takes."""
        reply, ready_s = self._instrument.execute(message.encode("latin-1"), False)
        taken_s = max(0.0, ready_s - self.world.clock.now())
        self.world.clock.wait(taken_s)
        self._clock.wait(taken_s)
        return reply

    @property
    def energized(self) -> bool:  # type: ignore[override]
        """A load on the part, or a test voltage on a lead."""
        on = getattr(self._instrument, "output", False) and getattr(self._instrument, "volt", 0.0) != 0.0
        return bool(on) or self.world.source.enabled

    @property
    def target(self) -> float:  # type: ignore[override]
        """Where the source was told to go (Pa)."""
        return self.world.source.target_pa

    @property
    def rate(self) -> float:  # type: ignore[override]
        """At what rate (Pa/s)."""
        return self.world.source.rate_pa_per_s
