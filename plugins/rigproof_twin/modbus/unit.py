"""What all simulated units share: their tables, their identity, how truth becomes a reading."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from rigproof_twin.fields import field_of
from rigproof_twin.instruments.reading import Hanging, reading
from rigproof_twin.interface import Appearance, World
from rigproof_twin.modbus.tables import Tables

if TYPE_CHECKING:
    from rigproof.documents.rig import Instrument


class SimulatedUnit:
    """One unit on a line. One that is not `alive` swallows everything and never answers."""

    def __init__(self, instrument: Instrument, world: World, appearance: Appearance, rng: np.random.Generator) -> None:
        self.world = world
        self.clock = world.clock
        self.appearance = appearance
        self.alive = True
        self.number = int(str(field_of(instrument.settings, "unit id")))
        self.tables = Tables()
        self.objects = self._identification(instrument)
        self._rng = rng
        self._hanging = Hanging()

    def seen(self, channel_input: int, truth: float) -> float:
        """One reading of a true value; ±inf for overload."""
        now = self.clock.now()
        fresh = reading(self.appearance, channel_input, truth, now, self._rng)
        return self._hanging.reading(self.appearance, channel_input, fresh, now)

    def _identification(self, instrument: Instrument) -> dict[int, bytes]:
        """The objects of the device identification; empty for a unit that cannot say who it is."""
        if field_of(instrument.settings, "identity") != "ask":
            return {}
        look = self.appearance
        objects = {0: look.maker, 1: look.model, 2: look.firmware}
        serial = field_of(instrument.settings, "serial number object")
        if isinstance(serial, int):
            objects[serial] = look.serial_number
        return {number: text.encode("ascii", "replace")[:240] for number, text in objects.items()}
