"""Sound drivers of invented instruments over plain sockets, with their contracts; the tests break them one by one.

Copied beside each test file that pytester writes, and imported there, as are the instruments.
"""

from __future__ import annotations

import math
import re
import select
import socket
from collections.abc import Iterator, Sequence
from contextlib import suppress

import numpy as np
import pytest
from sound_instruments import Bench, Selector  # type: ignore[import-not-found]  # copied beside this file

from rigproof.errors import InstrumentError
from rigproof.instruments import (
    Driver,
    Excites,
    FloatArray,
    Identity,
    Loads,
    Reads,
    Rotates,
    Settings,
    Shunts,
    TestsInsulation,
)
from rigproof.people import Question
from rigproof_pytest import DriverContract

NUMBER = re.compile(r"([+-]\d{3}\.\d{2}) kPa")
LEAKED: list[socket.socket] = []  # connections that a broken driver forgets; closed when its test is over


class Lined(Driver):
    """A line to an instrument that ends messages and replies with LF."""

    _line: socket.socket | None = None

    def open(self) -> Identity:
        self._drop()
        self._connect()
        fields = self._ask("ID").split(",")
        self._expect(len(fields) == 4, "ID", "four fields")
        return Identity(*fields)

    def close(self) -> None:
        self._drop()

    def _doubt(self) -> None:
        self._drop()

    def _drop(self) -> None:
        line, self._line = self._line, None
        if line is not None:
            with suppress(OSError):
                line.close()

    def errors(self) -> list[str]:
        found: list[str] = []
        while (entry := self._error()) and len(found) < 100:
            found.append(entry)
        return found

    def _error(self) -> str:
        entry = self._ask("ER")
        self._expect(re.fullmatch(r"0|E\d+ [a-z ]+", entry) is not None, "ER", "0 or an error")
        return "" if entry == "0" else entry

    def _connect(self) -> None:
        host, port = self.connection.resource.split(":")
        try:
            self._line = socket.create_connection((host, int(port)), timeout=self.connection.timeout_s)
        except OSError as error:
            raise InstrumentError(self.connection.name, f"nobody at {self.connection.resource}: {error}") from error

    def _ask(self, question: str) -> str:
        if self._line is None:
            raise InstrumentError(self.connection.name, f"{question}: the line is closed; open it first")
        try:
            self._expect_quiet(self._line)
            self._line.sendall(question.encode() + b"\n")
            return self._text(self._hear(self._line))
        except (OSError, ValueError) as error:
            self._doubt()
            raise InstrumentError(self.connection.name, f"{question}: {error}") from error

    def _expect_quiet(self, line: socket.socket) -> None:
        if select.select([line], [], [], 0.0)[0]:
            raise ValueError("a reply that nobody asked for is waiting, or the line is closed")

    def _hear(self, line: socket.socket) -> bytes:
        reply = b""
        while not reply.endswith(b"\n"):
            data = line.recv(4096)
            if not data:
                raise ValueError(f"the line closed after {reply!r}")
            reply += data
        return reply

    def _text(self, reply: bytes) -> str:
        if reply.count(b"\n") != 1:
            raise ValueError(f"more than one reply: {reply!r}")
        return reply[:-1].decode("ascii")

    def _expect(self, holds: bool, question: str, rule: str) -> None:
        if not holds:
            self._doubt()
            raise InstrumentError(self.connection.name, f"{question}: the reply must be {rule}")


class Sets(Lined):
    """Sets something in `open`, and nothing where it looks or connects again."""

    def look(self) -> Identity:
        return Lined.open(self)

    def resume(self) -> Identity:
        self.close()
        return self.look()


class Reader(Lined, Reads):
    """Reads pressure at two inputs."""

    @classmethod
    def unreadable(cls, settings: Settings, channel_input: int, kind: str) -> str:
        return "" if channel_input in (1, 2) and kind == "gauge pressure" else "it has pressure at inputs 1 and 2"

    def read(self, inputs: Sequence[int], count: int, interval_s: float) -> FloatArray:
        if not inputs or not set(inputs) <= {1, 2} or count < 1 or not 0 <= interval_s < math.inf:
            raise InstrumentError(self.connection.name, f"inputs={inputs}, count={count}: ask for inputs 1 and 2")
        rows = []
        for _ in range(count):
            rows.append([self._reading(number) for number in inputs])
            self.connection.clock.wait(interval_s)
        self._look_at_errors()
        return np.array(rows, dtype=np.float64)

    def _look_at_errors(self) -> None:
        pass

    def _reading(self, number: int) -> float:
        raise NotImplementedError


class Meter(Reader):
    kind = "sound meter"

    def _look_at_errors(self) -> None:
        if errors := self.errors():
            raise InstrumentError(self.connection.name, "; ".join(errors))

    def _reading(self, number: int) -> float:
        deadline_s = self.connection.clock.now() + 10.0
        while (reply := self._ask(f"P{number}")) == "BUSY":
            self._expect(self.connection.clock.now() < deadline_s, "P", "a number within 10 s")
            self.connection.clock.wait(0.1)
        return self._value(reply)

    def _value(self, reply: str) -> float:
        if reply == "OVER":
            return math.nan
        match = NUMBER.fullmatch(reply)
        self._expect(match is not None, "P", f"a number in kPa, not {reply}")
        return float(match[1]) * 1000  # type: ignore[index]


class Registered(Meter):
    """Its errors are bits of a register, which a reading of it clears."""

    kind = "sound meter with a register"

    def errors(self) -> list[str]:
        reply = self._ask("EB")
        match = re.fullmatch(r"E:([0-9A-F]{2})", reply)
        self._expect(match is not None, "EB", "E: and two hexadecimal digits")
        return [f"error bit {bit}" for bit in range(8) if int(match[1], 16) >> bit & 1]  # type: ignore[index]


class Averaging(Settings):
    """What rig.yaml says of the meter with channels."""

    average: int = 4


class Named(Sets, Reader):
    """Its unit and average must be set, and its replies name their input."""

    kind = "sound meter with channels"
    settings_model = Averaging

    def open(self) -> Identity:
        found = super().open()
        self._set_unit()
        self._set_average()
        return found

    def _set_unit(self) -> None:
        self._expect(self._ask("UNIT KPA") == "OK", "UNIT", "OK")

    def _set_average(self) -> None:
        message = f"AV {self.settings.average}"  # type: ignore[attr-defined]
        self._expect(self._ask(message) == f"{message} SET", message, "the message and SET")

    def _reading(self, number: int) -> float:
        return self._value(self._ask(f"C{number}"), number)

    def _value(self, reply: str, number: int) -> float:
        match = re.fullmatch(rf"CH{number} ([+-]\d{{3}}\.\d{{2}})", reply)
        self._expect(match is not None, "C", f"CH, the input and a number, not {reply}")
        return float(match[1]) * 1000  # type: ignore[index]


class Selected(Registered):
    """An input is selected before it is read; whatever is set is acknowledged with the message itself."""

    kind = "sound meter with a selector"

    def open(self) -> Identity:
        found = super().open()
        self._tell("UNIT KPA")
        return found

    def look(self) -> Identity:
        return Lined.open(self)

    def resume(self) -> Identity:
        return Lined.open(self)

    def _reading(self, number: int) -> float:
        self._tell(f"M{number}")
        return self._value(self._ask("R"))

    def _tell(self, message: str) -> None:
        self._acknowledged(message, self._ask(message))

    def _acknowledged(self, message: str, reply: str) -> None:
        self._expect(reply == f"{message} OK", message, f"{message} OK, not {reply}")


class Switch(Lined, Shunts):
    kind = "sound switch"

    def shunt(self, channel_input: int, closed: bool) -> None:
        self._expect(self._ask(f"R{channel_input}={int(closed)}") == "OK", "R=", "OK")
        self._expect(self._ask(f"R{channel_input}?") == str(int(closed)), "R?", "the relay as it was told to be")


class Fed(Settings):
    """What rig.yaml says of the amplifier."""

    volts: float


class Amplifier(Sets, Excites):
    kind = "sound amplifier"
    settings_model = Fed

    def open(self) -> Identity:
        found = super().open()
        self._expect(self._ask(f"F={self.settings.volts:g}") == "OK", "F=", "OK")  # type: ignore[attr-defined]
        return found

    def excitation_v(self, channel_input: int) -> float:
        reply = self._ask(f"F{channel_input}?")
        match = re.fullmatch(r"(\d\.\d\d) V", reply)
        self._expect(match is not None, "F?", "a voltage")
        return float(match[1])  # type: ignore[index]

    @classmethod
    def set_excitation_v(cls, settings: Settings) -> float | None:
        return settings.volts if isinstance(settings, Fed) else None


class Tester(Lined, TestsInsulation):
    kind = "sound tester"

    def insulation_ohm(self, channel_input: int, test_voltage_v: float, electrification_s: float) -> float:
        try:
            self._expect(self._ask(f"V={test_voltage_v:g}") == "OK", "V=", "OK")
            self.connection.clock.wait(electrification_s)
            reply = self._ask(f"M{channel_input}")
            match = re.fullmatch(r"(\d+) MOhm", reply)
            self._expect(match is not None or reply == "OVER", "M", "MOhm")
            return float(match[1]) * 1e6 if match else math.inf
        finally:
            self._off()

    def _off(self) -> None:
        try:
            self._expect(self._ask("V=0") == "OK", "V=0", "OK")
        except InstrumentError:
            self._connect()
            self._expect(self._ask("V=0") == "OK", "V=0", "OK")
            raise


class Pump(Lined, Loads):
    kind = "sound pump"

    def rise_to(self, target: float, rate_per_s: float) -> None:
        if not (math.isfinite(target) and 0 < rate_per_s < math.inf):
            raise InstrumentError(self.connection.name, f"target={target}, rate={rate_per_s}: give finite ones above 0")
        self._expect(self._ask(f"GO {target / 1e5:.3f} {rate_per_s / 1e5:.4f}") == "OK", "GO", "OK")

    def settled(self) -> bool:
        return self._either("BUSY", "0", "1")

    def isolate(self, isolated: bool) -> None:
        self._expect(self._ask("SHUT" if isolated else "FREE") == "OK", "SHUT", "OK")
        self._expect(self._either("VALVE", "shut", "free") == isolated, "VALVE", "as told")

    def go_safe(self) -> None:
        try:
            self._stop()
        except InstrumentError:
            self._fresh()
            self._stop()

    def is_safe(self) -> bool:
        if self._line is None:
            self._fresh()
        return self._either("STATE", "off", "on")

    def _stop(self) -> None:
        self._expect(self._ask("STOP") == "OK", "STOP", "OK")
        self._expect(self._either("STATE", "off", "on"), "STATE", "off: stop the pump by hand")

    def _either(self, question: str, yes: str, no: str) -> bool:
        reply = self._ask(question)
        self._expect(reply in (yes, no), question, f"{yes} or {no}")
        return reply == yes

    def _fresh(self) -> None:
        self._drop()
        self._connect()


class Table(Lined, Rotates):
    kind = "sound table"

    def rotate_to(self, angle_rad: float) -> None:
        if not math.isfinite(angle_rad):
            raise InstrumentError(self.connection.name, f"angle_rad={angle_rad}: give a finite one")
        self._expect(self._ask(f"TURN {self._sent(angle_rad)}") == "OK", "TURN", "OK")
        deadline = self.connection.clock.now() + 60.0
        while not self._near(self._angle(), angle_rad):
            if self.connection.clock.now() > deadline:
                raise InstrumentError(self.connection.name, f"did not turn to {math.degrees(angle_rad):g}° in 60 s")
            self.connection.clock.wait(1.0)

    def _sent(self, angle_rad: float) -> str:
        return f"{math.degrees(angle_rad):.2f}"

    def _near(self, shown_deg: float, angle_rad: float) -> bool:
        return abs(math.remainder(shown_deg - math.degrees(angle_rad), 360.0)) < 0.5

    def _angle(self) -> float:
        match = re.fullmatch(r"(-?\d+\.\d\d) deg", self._ask("ANGLE"))
        self._expect(match is not None, "ANGLE", "degrees")
        return float(match[1])  # type: ignore[index]


class Turned(Driver, Rotates):
    """A person turns it, and types the angle in degrees."""

    kind = "sound person"
    asks_a_person = True

    def open(self) -> Identity:
        return Identity("", "", "", "not asked")

    def close(self) -> None:
        pass

    def errors(self) -> list[str]:
        return []

    def rotate_to(self, angle_rad: float) -> None:
        if not math.isfinite(angle_rad):
            raise InstrumentError(self.connection.name, f"angle_rad={angle_rad}: give a finite one")
        wanted = f"{math.degrees(angle_rad):.0f}"
        while self._ask(wanted) != wanted:
            pass

    def _ask(self, wanted: str) -> str:
        return self.connection.person.ask(Question("disc", "rotate", wanted, f"Turn it to {wanted} and type that:"))


class Contract(DriverContract):
    resource = "127.0.0.1:{port}"
    identity = Identity("own make", "bench", "7", "1.2")
    error_queue = {"ER": ("E12 bad word", "E13 bad number")}  # noqa: RUF012
    timeout_s = 0.3

    def instrument(self) -> Bench:
        return Bench()

    @pytest.fixture(autouse=True)
    def _tidy(self) -> Iterator[None]:
        yield
        while LEAKED:
            LEAKED.pop().close()


class MeterContract(Contract):
    inputs = (1, 2)
    measures = "gauge pressure"
    readings = {"+012.50 kPa": "12.5 kPa", "+101.00 kPa": "1.01 bar", "-000.70 kPa": "-7 mbar"}  # noqa: RUF012
    overloads = ("OVER",)
    refusals = ("E3",)
    busy = ("BUSY",)
    shows = {1: "12.5 kPa", 2: "-0.7 kPa"}  # noqa: RUF012


class RegisteredContract(MeterContract):
    error_queue = {}  # noqa: RUF012
    error_register = {"EB": ("E:05", "E:02", "E:80")}  # noqa: RUF012


class NamedContract(Contract):
    """A table; that the average comes before a reading is stated, that the unit is set stands in the table alone."""

    settings = {"average": 8}  # noqa: RUF012
    sends = ("AV 8",)
    otherwise = ({"average": 16}, ("AV 16",))
    inputs = (1, 2)
    measures = "gauge pressure"
    shows = {1: "12.5 kPa", 2: "-0.7 kPa"}  # noqa: RUF012
    readings = {"CH1 +012.50": "12.5 kPa", "CH1 -000.70": "-7 mbar"}  # noqa: RUF012

    def instrument(self) -> dict[str, str | bytes]:
        told: dict[str, str | bytes] = {"ID": "own make,bench,7,1.2", "ER": "0", "UNIT KPA": "OK", "AV 8": "AV 8 SET"}
        told["AV 16"] = "AV 16 SET"
        return told | {"C1": "CH1 +012.50", "C2": "CH2 -000.70"}


class SelectedContract(Contract):
    error_queue = {}  # noqa: RUF012
    error_register = {"EB": "E:05"}  # noqa: RUF012
    sends = ("UNIT KPA",)
    inputs = (1, 2)
    measures = "gauge pressure"
    shows = {1: "12.5 kPa", 2: "-0.7 kPa"}  # noqa: RUF012
    readings = {"+012.50 kPa": "12.5 kPa", "-000.70 kPa": "-7 mbar"}  # noqa: RUF012

    def instrument(self) -> Selector:
        return Selector()


class AmplifierContract(Contract):
    settings = {"volts": 2.5}  # noqa: RUF012
    sends = ("F=2.5",)
    otherwise = ({"volts": 5.0}, ("F=5",))
    excitation = "2.5 V"


class TesterContract(Contract):
    measures = "insulation resistance"
    readings = {"5000 MOhm": "5 GΩ", "20 MOhm": "20 MΩ"}  # noqa: RUF012
    overloads = ("OVER",)
    refusals = ("E3",)


class PumpContract(Contract):
    rise = ("10 bar", "0.5 bar/s")
    moving = {"BUSY": "1"}  # noqa: RUF012


class TurnedContract(Contract):
    identity = Identity("", "", "", "not asked")
    error_queue = {}  # noqa: RUF012
    resource = "by hand"
