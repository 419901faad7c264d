"""Driver `bridge amplifier`: excitation, shunt relays and scans of Wheatstone bridges, read as V/V."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Annotated, ClassVar

from pydantic import AfterValidator, Field

from rigproof.instruments import Connection, Excites, FloatArray, Identity, Reads, Settings, Shunts
from rigproof.quantities import Quantity, WrittenError, quantity

from . import replies
from .driver import ScpiDriver, channels, scans, unlike, written
from .settings import VisaSettings

_EXCITATION_STEP = 0.01  # relative; the reading is a ratio, so the exact voltage matters little, its presence much


def _feeds(voltage: Quantity) -> Quantity:
    if not 0 < voltage.value <= 20:
        raise WrittenError(f"{voltage.text!r} is not above 0 V and at most 20 V", "feed a bridge with 1 V to 5 V")
    return voltage


class BridgeSettings(VisaSettings):
    """`settings:` of a bridge amplifier."""

    excitation: Annotated[Quantity, quantity("voltage"), AfterValidator(_feeds)]
    """Voltage that feeds every bridge of the amplifier."""
    inputs: Annotated[int | None, Field(ge=1, le=9999)] = None
    """How many inputs it has, so that a channel on one it has not is found before any hardware; left out, unknown."""


class BridgeAmplifier(ScpiDriver, Reads, Excites, Shunts):
    """Feeds an input from its first use on, so that an input which no channel names stays dead."""

    kind: ClassVar[str] = "bridge amplifier"
    settings_model: ClassVar[type[Settings]] = BridgeSettings

    def __init__(self, connection: Connection, settings: Settings) -> None:
        super().__init__(connection, settings)
        if not isinstance(settings, BridgeSettings):
            raise TypeError(f"settings={settings!r}: a bridge amplifier takes BridgeSettings")
        self._excitation_v = settings.excitation.value
        self._fed: set[int] = set()
        self._closed: set[int] = set()  # inputs whose shunt relay was told to close
        self._only_look = False
        self._prepared: tuple[str, int, float] | None = None  # the scans that are set; sent only when they change

    def open(self) -> Identity:
        """Connect; nothing is fed yet."""
        self._forget(only_look=False)
        return super().open()

    def look(self) -> Identity:
        """Connect; from here on inputs are read as they are fed, and nothing is switched."""
        self._forget(only_look=True)
        return super().look()

    def _forget(self, only_look: bool) -> None:
        self._only_look = only_look
        self._fed.clear()
        self._closed.clear()
        self._prepared = None

    def resume(self) -> Identity:
        """Connect again; excitation and relays stay as they are, and must be as they were left: zeros rest on them."""
        self._prepared = None
        identity = super().resume()
        for channel_input in sorted(self._fed):
            self._expect_excitation(channel_input)
            self._expect_relay(channel_input, channel_input in self._closed)
        return identity

    @classmethod
    def unreadable(cls, settings: Settings, channel_input: int, kind: str) -> str:
        """It reads bridges, at inputs that its messages can name and its settings say it has."""
        if isinstance(settings, BridgeSettings) and settings.inputs and channel_input > settings.inputs:
            return f"it has {settings.inputs} inputs, and none numbered {channel_input}"
        return unlike("bridge output", channel_input, kind)

    def read(self, inputs: Sequence[int], count: int, interval_s: float) -> FloatArray:
        """Let the instrument take the scans by its own clock and fetch them as one block."""
        wanted = (scans(inputs, count, interval_s), count, interval_s)
        if wanted != self._prepared:
            self._feed(inputs)
            self._prepare(*wanted)
        values = self._session.ask_block("READ?", count * len(inputs), count * interval_s)
        self._session.expect_no_errors("READ?")
        return values.reshape(count, len(inputs))

    def _prepare(self, listed: str, count: int, interval_s: float) -> None:
        self._prepared = None
        self._session.command(
            f"CONF:VOLT:RAT {listed}",
            f"SENS:SWE:POIN {count}",
            f"SENS:SWE:TINT {written(interval_s) if interval_s else 'MIN'}",
            "FORM REAL,64",
            "FORM:BORD NORM",
        )
        self._prepared = (listed, count, interval_s)

    @classmethod
    def set_excitation_v(cls, settings: Settings) -> float | None:
        """The same voltage for every input."""
        return settings.excitation.value if isinstance(settings, BridgeSettings) else None

    def excitation_v(self, channel_input: int) -> float:
        """The excitation voltage as read back."""
        self._feed([channel_input])
        return self._excitation_readback_v(channel_input)

    def shunt(self, channel_input: int, closed: bool) -> None:
        """Switch the relay and read it back."""
        self._feed([channel_input])
        (self._closed.add if closed else self._closed.discard)(channel_input)
        self._session.command(f"ROUT:{'CLOS' if closed else 'OPEN'} {channels([channel_input])}")
        self._expect_relay(channel_input, closed)

    def _feed(self, inputs: Sequence[int]) -> None:
        """Bring inputs at their first use into a known state, read back: excitation on, shunt relay open."""
        new = [channel_input for channel_input in inputs if channel_input not in self._fed]
        if not new or self._only_look:
            return
        self._session.command(f"SOUR:VOLT {written(self._excitation_v)},{channels(new)}", f"ROUT:OPEN {channels(new)}")
        for channel_input in new:
            self._expect_excitation(channel_input)
            self._expect_relay(channel_input, False)
        self._fed.update(new)

    def _expect_excitation(self, channel_input: int) -> None:
        got_v = self._excitation_readback_v(channel_input)
        self._session.check(
            math.isclose(got_v, self._excitation_v, rel_tol=_EXCITATION_STEP),
            f"SOUR:VOLT? {channels([channel_input])}",
            f"{got_v:g} V",
            f"it was set to {self._excitation_v:g} V",
            "look for a short in the bridge, or set an excitation the instrument has",
        )

    def _expect_relay(self, channel_input: int, closed: bool) -> None:
        query = f"ROUT:CLOS? {channels([channel_input])}"
        is_closed = self._session.ask(query, replies.boolean)
        self._session.check(
            is_closed == closed,
            query,
            f"the shunt relay is {'closed' if is_closed else 'open'}",
            f"it was told to {'close' if closed else 'open'}",
            "look for a stuck relay",
        )

    def _excitation_readback_v(self, channel_input: int) -> float:
        query = f"SOUR:VOLT? {channels([channel_input])}"
        volt = self._session.ask(query, replies.number)
        self._session.check(
            math.isfinite(volt),
            query,
            "overload or not-a-number",
            "an excitation is a finite voltage",
            "look for a fault on the amplifier",
        )
        return volt
