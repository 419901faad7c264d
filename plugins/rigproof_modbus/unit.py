"""One unit on a line: numbers, states and identity, with every failure as an `InstrumentError`."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from rigproof.errors import InstrumentError
from rigproof.instruments import NOT_ASKED, Connection, Identity
from rigproof.quantities import WrittenError

from .client import Line, LineError, Refused, line_to, release
from .maps import BITS, At, InputAt, NumberAt, StateAt, WriteAt
from .resource import Serial, parse_resource
from .settings import ModbusSettings

T = TypeVar("T")

# MODBUS Application Protocol V1.1b3, 7: what the codes mean and, in our words, what to do.
EXCEPTIONS = {
    1: ("illegal function", "the instrument has no such table; correct `table:`"),
    2: ("illegal data address", "the instrument has nothing there; correct `address:`, counted from 0, and `type:`"),
    3: ("illegal data value", "stay within the instrument's range, and check `type:` and `scale:`"),
    4: ("server device failure", "check `unit id:` and `address:`, then look for a fault on the instrument"),
    5: ("acknowledge, still at work", "give the instrument time"),
    6: ("server device busy", "end what else keeps the instrument busy"),
    8: ("memory parity error", "have the instrument repaired"),
    10: ("gateway path unavailable", "check the gateway's own settings"),
    11: ("gateway target device failed to respond", "check `unit id:`, and the line behind the gateway"),
}
OF_THE_UNIT = {4, 10, 11}  # codes by which a server or gateway says that it has no such unit
REFERENCES = ((10001, 19999, "discrete"), (30001, 39999, "input"), (40001, 49999, "holding"))


class Unit:
    """The exchanges of one driver with its unit. It belongs to one thread; constructing it touches nothing."""

    def __init__(self, connection: Connection, settings: ModbusSettings) -> None:
        self._connection = connection
        self._settings = settings
        self._line: Line | None = None

    def open(self) -> Identity:
        """A fresh connection, and who is there."""
        try:
            self.reconnect()
            return self._identity() if self._settings.identity == "ask" else Identity("", "", "", NOT_ASKED)
        except InstrumentError:
            self.close()
            raise

    def close(self) -> None:
        """Let go of the line; never raises, may be called twice."""
        line, self._line = self._line, None
        if line is not None:
            release(line)

    def reconnect(self) -> None:
        """A fresh connection, on which no old reply can be waiting; sends nothing."""
        self._exchange("connect", lambda line: line.connect())

    def renew(self) -> None:
        """Let the next exchange be on a fresh connection; never raises."""
        if self._line is not None:
            self._line.close()

    def last_word(self, to: WriteAt) -> None:
        """Write at once where replies are in doubt: it may still arrive. Never raises; confirms nothing."""
        if self._line is not None and self._line.in_doubt:
            self._line.shout(to.table, self._settings.unit_id, to.address, to.value)

    def number(self, at: NumberAt) -> list[int]:
        """The registers of a number."""
        return self._exchange(
            f"read {at}", lambda line: line.words(at.table, self._settings.unit_id, at.address, at.words), at
        )

    def measured(self, at: NumberAt) -> list[int]:
        """The registers of a number that an instrument may have measured."""
        words = self.number(at)
        came = at.unlike_a_value(words)
        remedy = "correct `address:` (counted from 0), `type:` or `word order:`"
        remedy += ", or write it as `overload:` if it is one" if isinstance(at, InputAt) else ""
        self.check(not came, f"read {at}", came, "no measured value is that small or that large", remedy)
        return words

    def value(self, at: At) -> int:
        """A bit as 0 or 1, or a register."""
        unit = self._settings.unit_id
        if at.table in BITS:
            return self._exchange(f"read {at}", lambda line: line.bit(at.table, unit, at.address), at)
        return self._exchange(f"read {at}", lambda line: line.words(at.table, unit, at.address, 1), at)[0]

    def is_so(self, state: StateAt) -> bool:
        """True when the state holds."""
        return state.holds(self.value(state))

    def set_number(self, at: NumberAt, words: list[int]) -> None:
        """Write the registers of a number."""
        self._exchange(
            f"write {words} to {at}", lambda line: line.write_words(self._settings.unit_id, at.address, words), at
        )

    def write(self, to: WriteAt) -> None:
        """Write a coil or a register; whether it took is for `is_so` to say."""
        unit, asked = self._settings.unit_id, f"write {to.value} to {to}"
        if to.table == "coil":
            self._exchange(asked, lambda line: line.write_bit(unit, to.address, to.value), to)
        else:
            self._exchange(asked, lambda line: line.write_words(unit, to.address, [to.value]), to)

    def check(self, holds: bool, asked: str, came: str, rule: str, remedy: str) -> None:
        """Raise `InstrumentError` unless what was read back `holds`."""
        if not holds:
            raise self.fault(asked, came, rule, remedy)

    def fault(self, asked: str, came: str, rule: str, remedy: str) -> InstrumentError:
        """An error that names place, value, rule and remedy."""
        place = f"unit {self._settings.unit_id} at {self._connection.resource}"
        return InstrumentError(self._connection.name, f"{asked} ({place}): {came}; {rule}; {remedy}")

    def _identity(self) -> Identity:
        unit, serial = self._settings.unit_id, self._settings.serial_number_object
        asked = "read the device identification"
        objects = self._exchange(asked, lambda line: line.objects(unit))
        number = b""
        if serial is not None:
            number = self._exchange(f"{asked}, object {serial}", lambda line: line.object(unit, serial))
        maker, model, firmware = (self._text(asked, objects.get(wanted, b"")) for wanted in (0, 1, 2))
        self.check(
            bool(maker and model),
            asked,
            f"maker {maker!r} and model {model!r}",
            "objects 0 and 1 are mandatory",
            "write `identity: cannot say` for an instrument without one",
        )
        return Identity(maker, model, self._text(asked, number), firmware)

    def _text(self, asked: str, value: object) -> str:
        text = value.decode("latin-1").strip("\0 ") if isinstance(value, bytes) else ""
        fair = text.isascii() and text.isprintable()
        self.check(fair, asked, repr(value), "an object is printable ASCII", "write `identity: cannot say`")
        return text

    def _exchange(self, asked: str, talk: Callable[[Line], T], at: At | None = None) -> T:
        try:
            return talk(self._reached())
        except LineError as error:
            raise self.fault(asked, error.came, "an instrument must answer each request", error.remedy) from error
        except Refused as error:
            meaning, remedy = EXCEPTIONS.get(error.code, ("not of the standard", "look it up in the manual"))
            if at is None:
                unit = "check `unit id:`, or " if error.code in OF_THE_UNIT else ""
                remedy = f"{unit}write `identity: cannot say`, or correct `serial number object:`"
            elif error.code == 2:
                remedy += _counted_from_one(at)
            raise self.fault(
                asked, f"exception {error.code}, {meaning}", "the instrument must have what is asked", remedy
            ) from error

    def _reached(self) -> Line:
        """The line; a driver that is not open gets one, so that a source can be made safe in any state."""
        if self._line is None:
            try:
                where = parse_resource(self._connection.resource)
            except WrittenError as error:
                raise LineError(error.message, error.remedy) from None
            if isinstance(where, Serial) and not 1 <= self._settings.unit_id <= 247:
                raise LineError(f"unit id {self._settings.unit_id} on a serial line", "write 1 to 247")
            self._line = line_to(where, self._connection.timeout_s)
        return self._line


def _counted_from_one(at: At) -> str:
    """A hint where an address looks like a reference of the manual."""
    for first, last, table in REFERENCES:
        if first <= at.address <= last:
            return f". Is {at.address} a reference? Then it is address {at.address - first} of the {table} table"
    return ""
