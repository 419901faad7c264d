"""The one place that knows pymodbus: a line to one or several units, and every failure of it as `LineError`.

pymodbus changes its interface within a major version, hence the pin in pyproject.toml and no import elsewhere.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from contextlib import suppress
from importlib.util import find_spec
from typing import Any

from rigproof.errors import RigproofError
from rigproof.serial_ports import refusal

from .resource import Serial, Tcp

INSTALL = 'pip install "rigproof[modbus]"'
MODEL_OBJECTS = 1  # read code: the basic objects (MODBUS Application Protocol V1.1b3, 6.21)
ONE_OBJECT = 4
MOST_LATE = 16  # pieces of late replies
ECHO_BYTES, ECHO_S = 8, 0.1  # of a write over RTU, and how long to wait for it when it does not matter


class _LastWord(logging.Handler):
    """Keeps the last error pymodbus logged: why a connection failed it says nowhere else."""

    said = ""

    def emit(self, record: logging.LogRecord) -> None:
        """Keep the message."""
        self.said = record.getMessage()


_log = _LastWord(logging.ERROR)
logging.getLogger("pymodbus").addHandler(_log)


def missing_library() -> str:
    """What must be installed first; "" when all is there."""
    lacking = [name for name in ("pymodbus", "serial") if find_spec(name) is None]
    return f"the library {' and '.join(lacking)} is not installed: {INSTALL}" if lacking else ""


def ports() -> list[str]:
    """The serial ports of this machine."""
    from serial.tools.list_ports import comports

    return sorted(port.device for port in comports())


class LineError(Exception):
    """An exchange that gave no usable reply: what came, and what to do."""

    def __init__(self, came: str, remedy: str) -> None:
        self.came, self.remedy = came, remedy
        super().__init__(f"{came}; {remedy}")


class Refused(Exception):
    """The instrument answered with an exception code."""

    def __init__(self, code: int) -> None:
        self.code = code
        super().__init__(str(code))


class Line:
    """A connection, made when it is needed. After a failed exchange the next one is on a fresh connection.

    A late reply over TCP carries its transaction's number. On a serial line nothing tells it from the reply to the
    next question: after a failed exchange nothing is believed before the line has been silent for one timeout.
    """

    def __init__(self, where: Tcp | Serial, timeout_s: float) -> None:
        self.where = where
        self.timeout_s = timeout_s
        self._client: Any = None  # of pymodbus, whose calls have no types
        self.in_doubt = False
        self.users = 0

    def close(self) -> None:
        """Let go; never raises."""
        client, self._client = self._client, None
        self.in_doubt = False
        if client is not None:
            with suppress(Exception):
                client.close()

    def connect(self) -> None:
        """A fresh connection; `LineError` when there is none to be had."""
        if lacking := missing_library():
            raise LineError(lacking, "then try again")
        was_in_doubt = self.in_doubt
        self.close()
        client = self._made()
        _log.said = ""
        try:
            there = client.connect()
        except RigproofError:
            raise  # a signal handler's word
        except Exception as error:
            raise self._unreachable(_words(error)) from error
        if not there:
            client.close()
            raise self._unreachable(_log.said.rpartition("failed: ")[2] or "nothing takes the connection")
        self._client = client
        if was_in_doubt and isinstance(self.where, Serial):
            self.in_doubt = True  # until the line is silent
            self._drain()
            self.in_doubt = False

    def shout(self, table: str, unit: int, address: int, value: int) -> None:
        """Send a write and wait for no reply, whatever state the connection is in; never raises."""
        client = self._client
        if client is None:
            return
        with suppress(Exception):
            if table == "coil":
                client.write_coil(address, bool(value), device_id=unit, no_response_expected=True)
            else:
                client.write_register(address, value, device_id=unit, no_response_expected=True)
            if isinstance(self.where, Serial):  # the next frame must not run into this one or its echo
                client.socket.timeout = ECHO_S
                client.socket.read(ECHO_BYTES)

    def words(self, table: str, unit: int, address: int, count: int) -> list[int]:
        """Read registers (functions 3 and 4)."""
        name, code = {
            "holding": ("read_holding_registers", 3),
            "input": ("read_input_registers", 4),
        }[table]
        reply = self._exchange(code, lambda c: getattr(c, name)(address, count=count, device_id=unit))
        return self._of_count(reply.registers, count)

    def bit(self, table: str, unit: int, address: int) -> int:
        """Read one coil or discrete input (functions 1 and 2): 0 or 1."""
        name, code = {"coil": ("read_coils", 1), "discrete": ("read_discrete_inputs", 2)}[table]
        reply = self._exchange(code, lambda c: getattr(c, name)(address, count=1, device_id=unit))
        return int(self._of_count(reply.bits[:1], 1)[0])

    def write_words(self, unit: int, address: int, words: list[int]) -> None:
        """Write holding registers: one with function 6, several at once with function 16."""
        if len(words) == 1:
            self._exchange(6, lambda c: c.write_register(address, words[0], device_id=unit))
        else:
            self._exchange(16, lambda c: c.write_registers(address, words, device_id=unit))

    def write_bit(self, unit: int, address: int, value: int) -> None:
        """Write one coil (function 5)."""
        self._exchange(5, lambda c: c.write_coil(address, bool(value), device_id=unit))

    def objects(self, unit: int) -> dict[int, bytes]:
        """The basic objects of the device identification (function 43, MEI type 14), by their numbers."""
        found: dict[int, bytes] = {}
        at = 0
        while True:
            reply = self._identification(unit, MODEL_OBJECTS, at)
            found |= reply.information
            at = int(reply.next_object_id)
            if not reply.more_follows or at in found:
                return found

    def object(self, unit: int, number: int) -> bytes:
        """One object of the device identification; b"" when the reply does not hold it."""
        reply = self._identification(unit, ONE_OBJECT, number)
        value = reply.information.get(number, b"")
        return value if isinstance(value, bytes) else b""

    def _identification(self, unit: int, code: int, number: int) -> Any:
        return self._exchange(43, lambda c: c.read_device_information(read_code=code, object_id=number, device_id=unit))

    def _exchange(self, function: int, ask: Callable[[Any], Any]) -> Any:
        """One request and its reply. Whatever ends it but a whole reply leaves the line in doubt."""
        if self._client is None or self.in_doubt:
            self.connect()
        self.in_doubt = True
        try:
            reply = ask(self._client)
        except RigproofError:
            raise
        except Exception as error:  # pymodbus's own, and what sockets and serial ports let out
            raise LineError(
                f"no whole reply within {self.timeout_s:g} s ({_words(error)})",
                f"check power, cable, {self._looked_at()}, or give a longer `timeout:` in rig.yaml",
            ) from error
        if reply.isError() and reply.function_code == function | 0x80:
            self.in_doubt = False
            raise Refused(int(reply.exception_code))
        if reply.function_code != function:
            raise self._garbled(f"a reply to function {reply.function_code} came to function {function}")
        self.in_doubt = False
        return reply

    def _drain(self) -> None:
        """Wait until a serial line has been silent for as long as a reply may take."""
        port = getattr(self._client, "socket", None)
        try:
            for _ in range(MOST_LATE):
                if port is None or not port.read(256):
                    return
        except OSError as error:
            raise self._unreachable(_words(error)) from error
        raise LineError("the serial line is never silent", "look for another master, or noise, on the line")

    def _of_count(self, values: list[Any], count: int) -> list[Any]:
        if len(values) != count:
            self.in_doubt = True
            raise self._garbled(f"{len(values)} values came where {count} were asked for")
        return values

    def _looked_at(self) -> str:
        """What in rig.yaml may keep a reply from coming."""
        if isinstance(self.where, Serial):
            return "`unit id:`, and in `resource:` the port, baud rate, parity and stop bits"
        return "`resource:` and `unit id:`"

    def _garbled(self, came: str) -> LineError:
        return LineError(came, "check that this is a Modbus instrument, and alone under its unit id")

    def _unreachable(self, came: str) -> LineError:
        remedy = "check power, cable and `resource:` in rig.yaml"
        if isinstance(self.where, Serial):
            where = self.where.device
            came, remedy = refusal(came, where, "in its `resource:`") or (came, remedy)
        else:
            where = f"{self.where.host} port {self.where.port}"
        return LineError(f"no connection to {where}: {came}", remedy)

    def _made(self) -> Any:
        from pymodbus.client import ModbusSerialClient, ModbusTcpClient

        where = self.where
        if isinstance(where, Tcp):
            return ModbusTcpClient(where.host, port=where.port, timeout=self.timeout_s, retries=0)
        return ModbusSerialClient(
            where.device,
            baudrate=where.baud,
            bytesize=8,
            parity=where.parity,
            stopbits=where.stop_bits,
            timeout=self.timeout_s,
            retries=0,
        )


_serial_lines: dict[str, Line] = {}  # the open serial ports: all units on one RS-485 line share its port


def line_to(where: Tcp | Serial, timeout_s: float) -> Line:
    """A line for one more user: of its own over TCP, shared on a serial port. Give it back with `release`."""
    if isinstance(where, Tcp):
        line = Line(where, timeout_s)
    else:
        line = _serial_lines.setdefault(where.device, Line(where, timeout_s))
        if isinstance(line.where, Serial) and line.where != where:
            raise LineError(
                f"{where.device} is open at {line.where.runs}, and {where.runs} is asked for",
                "write the same baud, parity and stop bits for all instruments on one line",
            )
    line.timeout_s = max(line.timeout_s, timeout_s)  # the slowest instrument's, from the next connection on
    line.users += 1
    return line


def release(line: Line) -> None:
    """Give a line back; the last user closes it."""
    line.users -= 1
    if line.users <= 0:
        line.close()
        for device in [device for device, known in _serial_lines.items() if known is line]:
            del _serial_lines[device]


def _words(error: Exception) -> str:
    return " ".join((str(error) or type(error).__name__).split()).rstrip(".")
