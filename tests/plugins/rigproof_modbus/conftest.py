"""Peers for the drivers: pymodbus's own server, and a scripted one that misbehaves; register maps to talk by."""

from __future__ import annotations

import asyncio
import socket
import struct
import threading
from collections.abc import Callable, Iterator
from typing import Any, TypeVar

import pytest
from pymodbus.server import ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice

from rigproof.clock import WallClock
from rigproof.instruments import Connection, Driver
from rigproof_modbus.meter import ModbusMeter
from rigproof_modbus.settings import MeterSettings, SourceSettings
from rigproof_modbus.source import ModbusSource

HOST = "127.0.0.1"
PRESSURE = {"table": "input", "address": "0", "type": "float32", "word order": "high first", "unit": "bar"}
PUMP: dict[str, Any] = {
    "identity": "cannot say",
    "target": {"table": "holding", "address": "0", "type": "float32", "word order": "high first", "unit": "bar"},
    "rate": {"table": "holding", "address": "2", "type": "float32", "word order": "high first", "unit": "bar/min"},
    "enable": [
        {"table": "coil", "address": "1", "value": "0"},
        {"table": "coil", "address": "0", "value": "1"},
    ],
    "safe state": [
        {"table": "coil", "address": "0", "value": "0"},
        {"table": "coil", "address": "1", "value": "1"},
    ],
    "valve": {"table": "coil", "address": "2", "open": "1", "shut": "0"},
    "settled": {"table": "discrete", "address": "0", "equals": "1"},
}


def connection(resource: str, name: str = "meter", timeout_s: float = 2.0) -> Connection:
    return Connection(name, resource, "", timeout_s, WallClock())


def meter(resource: str, timeout_s: float = 2.0, **settings: Any) -> ModbusMeter:
    written = {"identity": "cannot say", "inputs": {"1": PRESSURE}} | {
        k.replace("_", " "): v for k, v in settings.items()
    }
    return kept(ModbusMeter(connection(resource, "meter", timeout_s), MeterSettings.model_validate(written)))


def source(resource: str, timeout_s: float = 2.0, **settings: Any) -> ModbusSource:
    written = PUMP | {key.replace("_", " "): value for key, value in settings.items()}
    return kept(ModbusSource(connection(resource, "pump", timeout_s), SourceSettings.model_validate(written)))


_made: list[Driver] = []
D = TypeVar("D", bound=Driver)


def kept(driver: D) -> D:
    """The driver, closed when the test is over."""
    _made.append(driver)
    return driver


@pytest.fixture(autouse=True)
def _closed() -> Iterator[None]:
    yield
    while _made:
        _made.pop().close()


def registers(address: int, words: list[int]) -> SimData:
    return SimData(address, values=words, datatype=DataType.REGISTERS)


def bits(count: int, values: list[bool]) -> SimData:
    return SimData(0, values=values, datatype=DataType.BITS)


def words(layout: str, number: float) -> list[int]:
    """A number as registers, high word first, by struct alone."""
    data = struct.pack(layout, number)
    return list(struct.unpack(f">{len(data) // 2}H", data))


class Serving:
    """pymodbus's server, in a thread with a loop of its own."""

    def __init__(self, make: Callable[[], Any]) -> None:
        self._ready = threading.Event()
        self._make = make
        self._thread = threading.Thread(target=lambda: asyncio.run(self._serve()), daemon=True)
        self._thread.start()
        assert self._ready.wait(10.0)

    async def _serve(self) -> None:
        self._loop = asyncio.get_running_loop()
        self.server = self._make()
        await self.server.serve_forever(background=True)
        self._done = asyncio.Event()
        self._ready.set()
        await self._done.wait()
        await self.server.shutdown()

    @property
    def port(self) -> int:
        port: int = self.server.transport.sockets[0].getsockname()[1]
        return port

    def close(self) -> None:
        self._loop.call_soon_threadsafe(self._done.set)
        self._thread.join(10.0)


@pytest.fixture
def serve() -> Iterator[Callable[..., str]]:
    """A function: tables of unit 1 (coils, discrete inputs, holding and input registers) -> a resource to open."""
    running: list[Serving] = []

    def start(coils: list[bool], discrete: list[bool], holding: list[int], inputs: list[int]) -> str:
        device = SimDevice(
            1,
            simdata=(
                [bits(len(coils), coils)],
                [bits(len(discrete), discrete)],
                [registers(0, holding)],
                [registers(0, inputs)],
            ),
        )
        running.append(Serving(lambda: ModbusTcpServer(device, address=(HOST, 0))))
        return f"tcp://{HOST}:{running[-1].port}"

    yield start
    for server in running:
        server.close()


class Scripted:
    """A peer that answers each request with what it is told: bytes, a function of the request, or None for silence."""

    def __init__(self, *answers: bytes | Callable[[bytes], bytes] | None) -> None:
        self._answers = list(answers)
        self._listener = socket.create_server((HOST, 0))
        self.resource = f"tcp://{HOST}:{self._listener.getsockname()[1]}"
        self.requests: list[bytes] = []
        self.connections = 0
        self._open: list[socket.socket] = []
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def _serve(self) -> None:
        while True:
            try:
                connection, _ = self._listener.accept()
            except OSError:
                return
            self.connections += 1
            self._open.append(connection)
            threading.Thread(target=self._talk, args=(connection,), daemon=True).start()

    def _talk(self, connection: socket.socket) -> None:
        try:
            while request := connection.recv(300):
                self.requests.append(request)
                answer = self._answers.pop(0) if self._answers else None
                data = answer(request) if callable(answer) else answer
                if data == b"":
                    connection.shutdown(socket.SHUT_RDWR)
                elif data is not None:
                    connection.sendall(data)
        except OSError:
            return

    def close(self) -> None:
        self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        self._thread.join(5.0)
        for connection in self._open:
            connection.close()


def framed(pdu: bytes, unit: int | None = None, transaction: int = 0) -> Callable[[bytes], bytes]:
    """A reply with this PDU and the header that belongs to the request (or another unit, another transaction)."""

    def answer(request: bytes) -> bytes:
        number = int.from_bytes(request[:2], "big") + transaction
        return struct.pack(">HHHB", number, 0, len(pdu) + 1, request[6] if unit is None else unit) + pdu

    return answer


@pytest.fixture
def scripted() -> Iterator[Callable[..., Scripted]]:
    peers: list[Scripted] = []

    def start(*answers: bytes | Callable[[bytes], bytes] | None) -> Scripted:
        peers.append(Scripted(*answers))
        return peers[-1]

    yield start
    for peer in peers:
        peer.close()
