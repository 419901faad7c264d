"""Driver `modbus source`: what puts load on the part by registers and coils. Safe is what `safe state` says."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import ClassVar

from rigproof.errors import InstrumentError, NumberError
from rigproof.instruments import Connection, Loads, Settings
from rigproof.quantities import kind_of

from .driver import ModbusDriver
from .maps import NumberAt, WriteAt
from .settings import SourceSettings

_CLOSE, _COARSE = 1e-3, 1e-2  # of a setting: how far the value that took may lie from it, at best and at worst


class ModbusSource(ModbusDriver, Loads):
    """Moves a load. Every setting that could hurt is read back before the source may follow it."""

    kind: ClassVar[str] = "modbus source"
    settings_model: ClassVar[type[Settings]] = SourceSettings

    def __init__(self, connection: Connection, settings: Settings) -> None:
        if not isinstance(settings, SourceSettings):
            raise TypeError(f"settings={settings!r}: a modbus source takes SourceSettings")
        super().__init__(connection, settings)
        self._map = settings
        self._target = math.nan  # base unit; what `actual` must come close to

    @classmethod
    def unloadable(cls, settings: Settings, kind: str) -> str:
        """Units of the map that do not belong to the load."""
        if not isinstance(settings, SourceSettings):
            return ""
        within = settings.settled_within
        numbers: list[tuple[str, NumberAt | None, str]] = [
            ("target", settings.target, kind),
            ("rate", settings.rate, kind_of(kind).rate),
            ("actual", settings.actual, kind),
        ]
        for name, at, wanted in numbers:
            if at is not None and not (wanted and at.unit.suits(wanted)):
                return f"{name} is in {at.unit.text}, which is no unit of {wanted or f'a rate of {kind}'}"
        if within is not None and within.kind != kind_of(kind).difference:
            return f"settled within is a {within.kind}, and the load is a {kind}"
        return ""

    def rise_to(self, target: float, rate_per_s: float) -> None:
        """Set rate and target, read both back, then enable the source, and read that back."""
        if not (math.isfinite(target) and 0 < rate_per_s < math.inf):
            raise NumberError(
                f"target={target}, rate_per_s={rate_per_s}: a finite target is gone to at a rate above 0. Give both."
            )
        self._target = math.nan
        self._set("rate", self._map.rate, rate_per_s)
        self._set("target", self._map.target, target)
        self._target = target
        for write in self._map.enable:
            self._write(write, "look for a fault on the source")

    def settled(self) -> bool:
        """True when the state says so and the actual value is close to the target, as far as the map has them."""
        if self._map.settled is not None and not self._unit.is_so(self._map.settled):
            return False
        if self._map.actual is None or self._map.settled_within is None:
            return True
        actual = self._map.actual.base(self._unit.measured(self._map.actual))
        return abs(actual - self._target) <= self._map.settled_within.value

    @classmethod
    def isolates(cls, settings: Settings) -> bool:
        """Where the map has `valve`."""
        return isinstance(settings, SourceSettings) and settings.valve is not None

    def isolate(self, isolated: bool) -> None:
        """Shut or open the valve between source and part, and read it back."""
        if self._map.valve is None:
            raise InstrumentError(
                self.connection.name, "the register map has no `valve`: add it, or leave steps that shut the part off"
            )
        self._write(self._map.valve.told(isolated), "look for a stuck valve")

    def go_safe(self) -> None:
        """All writes of the safe state, confirmed; whatever stands against it, tried on a fresh connection too."""
        self._target = math.nan
        for write in self._map.safe_state:
            self._unit.last_word(write)  # first of all, before time is lost on the connection
        if self._tried() is None:
            return
        self._unit.renew()
        if (trouble := self._tried()) is not None:
            raise trouble

    def is_safe(self) -> bool:
        """True when every entry of the safe state reads back."""
        return all(self._unit.is_so(write.state) for write in self._map.safe_state)

    def _tried(self) -> InstrumentError | None:
        """Send every write, also after one has failed; what went wrong, None when the safe state reads back."""
        trouble: InstrumentError | None = None
        for write in self._map.safe_state:
            try:
                self._unit.write(write)
            except InstrumentError as error:
                trouble = trouble or error
        if trouble is not None:
            return trouble
        try:
            self._expect(self._map.safe_state, "stop the source and take the load off by hand; the part may be loaded")
        except InstrumentError as error:
            return error
        return None

    def _write(self, write: WriteAt, remedy: str) -> None:
        self._unit.write(write)
        self._expect([write], remedy)

    def _expect(self, writes: Sequence[WriteAt], remedy: str) -> None:
        for write in writes:
            state = write.state
            value = self._unit.value(state)
            self._unit.check(
                state.holds(value),
                f"read back {state}",
                f"it reads {value}",
                f"{write} was set to {write.value}, which must show as {state.equals}",
                remedy,
            )

    def _set(self, name: str, at: NumberAt, value: float) -> None:
        """Write a number and read it back; one that the registers cannot hold nearly enough is not written."""
        unit, size = at.unit, abs(value)
        allowed = min(max(_CLOSE * size, at.step / 2), _COARSE * size) + 1e-12 * unit.factor
        try:
            words = at.registers(value)
        except ValueError as error:
            raise self._unit.fault(f"set {name}", str(error), "nothing was sent", "correct scale or type") from error
        self._agrees(f"set {name}", at, words, value, allowed)
        self._unit.set_number(at, words)
        self._agrees(f"read {name} back", at, self._unit.number(at), value, allowed)

    def _agrees(self, asked: str, at: NumberAt, words: list[int], value: float, allowed: float) -> None:
        unit, got = at.unit, at.base(words)
        self._unit.check(
            abs(got - value) <= allowed,
            asked,
            f"{at} holds {(got - unit.offset) / unit.factor:g} {unit.text}",
            f"{(value - unit.offset) / unit.factor:g} {unit.text} was wanted",
            "stay within the source's range, and check type, word order and scale",
        )
