"""The simulated pressure source: target, rate, enable, valve and settled state where the map has them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from rigproof.errors import NumberError
from rigproof_twin.fields import field_of
from rigproof_twin.interface import Appearance, World
from rigproof_twin.modbus.numbers import Number, Place
from rigproof_twin.modbus.tables import ILLEGAL_VALUE, Cell, ModbusException
from rigproof_twin.modbus.unit import SimulatedUnit

if TYPE_CHECKING:
    from rigproof.documents.rig import Instrument, Rig

PRESSURE, RATE = "gauge pressure", "pressure rate"
State = tuple[int | None, int, Callable[[], bool]]  # bit of the register (None: all of it), value, when it is so


class Source(SimulatedUnit):
    """Pump and vent follow the coils and registers of `enable`: only while all of them hold is pressure made.

    Everything that `enable` and `safe state` write is remembered; after power-on the safe state holds.
    """

    def __init__(
        self, _rig: Rig, instrument: Instrument, world: World, appearance: Appearance, rng: np.random.Generator
    ) -> None:
        super().__init__(instrument, world, appearance, rng)
        settings = instrument.settings
        self._enable = {Place.of(entry): _value(entry, "value") for entry in _entries(settings, "enable")}
        self._safe = {Place.of(entry): _value(entry, "value") for entry in _entries(settings, "safe state")}
        self._valve = field_of(settings, "valve")
        self._held = dict.fromkeys(self._enable, 0) | self._safe
        if self._valve is not None:
            self._held[Place.of(self._valve)] = _value(self._valve, "open")
        self._add_states(settings)
        for place in self._held:
            self.tables.add(Cell(place, 1, partial(self._remembered, place), partial(self._write, place)))
        self._add_numbers(settings)

    def _add_numbers(self, settings: object) -> None:
        source = self.world.source
        self._setting(Number.of(field_of(settings, "target"), PRESSURE), lambda: source.target_pa, self._set_target)
        self._setting(Number.of(field_of(settings, "rate"), RATE), lambda: source.rate_pa_per_s, source.set_rate)
        actual = field_of(settings, "actual")
        if actual is not None:
            number = Number.of(actual, PRESSURE)
            self.tables.add(Cell(number.place, number.size, lambda: number.words(self.seen(1, source.pressure_pa()))))

    def _setting(self, number: Number, get: Callable[[], float], put: Callable[[float], None]) -> None:
        def write(words: Sequence[int]) -> None:
            try:
                put(number.base(list(words)))
            except NumberError:
                raise ModbusException(ILLEGAL_VALUE) from None

        self.tables.add(Cell(number.place, number.size, lambda: number.words(get()), write))

    def _set_target(self, pa: float) -> None:
        if not pa <= self.appearance.upper:
            raise ModbusException(ILLEGAL_VALUE)
        self.world.source.set_target(pa)

    def _add_states(self, settings: object) -> None:
        """The places where states are read that are not written there."""
        states: dict[Place, list[State]] = {}
        settled = field_of(settings, "settled")
        if settled is not None:
            _note(states, settled, lambda: not self.world.source.settling())
        for name in ("enable", "safe state"):
            for entry in _entries(settings, name):
                shown = field_of(entry, "reads back")
                if shown is not None:
                    _note(states, shown, partial(self._holds, Place.of(entry), _value(entry, "value")))
        for place in states.keys() - self._held.keys():  # the others show what was written
            listed = states[place]
            self.tables.add(Cell(place, 1, partial(_shown, listed)))

    def _holds(self, place: Place, value: int) -> bool:
        return self._held[place] == value

    def _remembered(self, place: Place) -> list[int]:
        return [self._held[place]]

    def _write(self, place: Place, values: Sequence[int]) -> None:
        if self._valve is not None and place == Place.of(self._valve):
            if values[0] not in {_value(self._valve, "open"), _value(self._valve, "shut")}:
                raise ModbusException(ILLEGAL_VALUE)
            self.world.source.connect(values[0] == _value(self._valve, "open"))
        self._held[place] = values[0]
        self.world.source.enable(all(self._held[wanted] == value for wanted, value in self._enable.items()))


def _entries(settings: object, name: str) -> Sequence[object]:
    listed = field_of(settings, name)
    assert isinstance(listed, tuple), "a list of writes"
    return listed


def _value(entry: object, name: str) -> int:
    return int(str(field_of(entry, name)))


def _note(states: dict[Place, list[State]], entry: object, so: Callable[[], bool]) -> None:
    bit = field_of(entry, "bit")
    assert bit is None or isinstance(bit, int), "the number of a bit"
    states.setdefault(Place.of(entry), []).append((bit, _value(entry, "equals"), so))


def _shown(states: list[State]) -> list[int]:
    """A register or bit that shows states: each at its bit, or one of them as the whole."""
    register = 0
    for bit, equals, so in states:
        if bit is None:
            register |= equals if so() else equals ^ 1
        else:
            register |= (equals if so() else 1 - equals) << bit
    return [register]
