"""The bench over TCP: messages as any socket instrument takes them, and the control port."""

from __future__ import annotations

import json
import os
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, closing, suppress
from datetime import UTC, datetime

import numpy as np
import pytest
import pyvisa
from pyvisa.resources import TCPIPSocket

from rigproof.errors import UsageError
from rigproof_twin.instruments import KINDS, build
from rigproof_twin.interface import Appearance
from rigproof_twin.registry import Bench
from rigproof_twin.serve import HOST, Server
from rigproof_twin.still import StillWorld

pytestmark = pytest.mark.network

BRIDGE, OHMMETER = "TCPIP::192.0.2.11::5025::SOCKET", "GPIB0::5::INSTR"


@pytest.fixture
def bench() -> Bench:
    world = StillWorld()
    look = Appearance("Test bay", "sim", "1", "1.0", latency_s=0.001)
    kinds = {BRIDGE: "bridge amplifier", OHMMETER: "ohmmeter"}
    return Bench(world.clock, {name: build(k, world, look, np.random.default_rng(1)) for name, k in kinds.items()})


@pytest.fixture
def server(bench: Bench) -> Iterator[Server]:
    server = Server(bench)
    yield server
    server.close()


class Client:
    """A plain socket that talks lines."""

    def __init__(self, port: int) -> None:
        self.socket = socket.create_connection((HOST, port), timeout=10.0)
        self.lines = self.socket.makefile("rb")

    def ask(self, message: str) -> str:
        self.socket.sendall(message.encode() + b"\n")
        return self.lines.readline().decode().removesuffix("\n")

    def close(self) -> None:
        self.lines.close()
        self.socket.close()

    def __enter__(self) -> Client:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def free_ports(number: int) -> int:
    """The first of `number` free ports in a row, below those that the system hands out to others meanwhile."""
    for first in range(20_000 + os.getpid() % 10_000, 32_000):
        with ExitStack() as stack, suppress(OSError):
            for port in range(first, first + number):
                stack.enter_context(closing(socket.create_server((HOST, port))))
            return first
    raise AssertionError("no free ports")


def test_an_instrument_answers_lines(server: Server) -> None:
    with Client(server.ports[OHMMETER]) as client:
        assert client.ask("*IDN?") == "Test bay,sim,1,1.0"
        client.socket.sendall(b"FOO\n*ESR?\r\nSYST:")
        assert client.lines.readline() == b"160\n"
        assert client.ask("ERR?") == '-113,"Undefined header;FOO"'


def test_each_connection_gets_its_own_replies_at_once_and_one_after_the_other(server: Server) -> None:
    port = server.ports[OHMMETER]
    with Client(port) as one, Client(port) as two:
        one.socket.sendall(b"MEAS:FRES? (@1)\n")
        assert two.ask("MEAS:FRES? (@2)") == "3.505000000E+02"
        assert one.lines.readline() == b"3.500000000E+02\n"
    for _ in range(3):
        with Client(port) as client:
            assert client.ask("MEAS:FRES? (@3)") == "1.077900000E+02"


def test_many_clients_at_once_never_get_each_others_replies(server: Server) -> None:
    wrong: list[str] = []

    def talk(channel_input: int, expected: str) -> None:
        with Client(server.ports[OHMMETER]) as client:
            wrong.extend(r for _ in range(50) if (r := client.ask(f"MEAS:FRES? (@{channel_input})")) != expected)

    with Client(server.clock_port):  # steered time: no waiting
        values = {1: "3.500000000E+02", 2: "3.505000000E+02", 3: "1.077900000E+02", 4: "9.9E37"}
        threads = [threading.Thread(target=talk, args=item) for item in values.items()]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    assert wrong == []


def test_time_passes_by_itself_until_the_control_port_is_taken(bench: Bench, server: Server) -> None:
    with Client(server.ports[BRIDGE]) as client:
        started = time.monotonic()
        client.ask("*OPC?")
        before_s = bench.clock.now()
        assert client.ask("SENS:SWE:POIN 20;TINT 0.01;:FORM ASC;:READ?").count(",") == 19
        assert 0.2 <= bench.clock.now() - before_s <= time.monotonic() - started  # the measuring took its time
        with Client(server.clock_port) as control:
            assert float(control.ask("now?")) == bench.clock.now()
            before_s, started = bench.clock.now(), time.monotonic()
            assert client.ask("SENS:SWE:POIN 1000;TINT 1;:READ?").count(",") == 999
            assert time.monotonic() - started < 5.0
            assert bench.clock.now() == pytest.approx(before_s + 1000.001)
        client.ask("*OPC?")
        assert bench.clock.now() == pytest.approx(before_s + 1000.002)  # still steered after the client has gone


def test_the_control_port(bench: Bench, server: Server) -> None:
    with Client(server.clock_port) as control:
        now_s = float(control.ask("now?"))
        assert float(control.ask("wait 3600")) == now_s + 3600.0
        assert float(control.ask("wait 0.5\r")) == now_s + 3600.5
        assert control.ask("now?") == repr(bench.clock.now())
        assert datetime.fromisoformat(control.ask("utc?")) == bench.clock.utc()
        assert bench.clock.utc() > datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
        assert json.loads(control.ask("ports?")) == server.ports
        for wrong in ("wait -1", "wait", "wait nan", "wait inf", "wait soon"):
            assert control.ask(wrong) == f"error: {wrong.partition(' ')[0]} {wrong.partition(' ')[2]}: " + (
                "give seconds, 0 or more"
            )
        assert control.ask("sing") == "error: sing: say now?, wait SECONDS, utc?, ports?, addresses? or rig?"
        assert float(control.ask("now?")) == now_s + 3600.5


def test_a_dead_instrument_is_silent_while_others_answer(bench: Bench, server: Server) -> None:
    bench.instruments[OHMMETER].alive = False
    with Client(server.ports[OHMMETER]) as dead, Client(server.ports[BRIDGE]) as living:
        dead.socket.settimeout(0.2)
        dead.socket.sendall(b"*IDN?\n")
        with pytest.raises(TimeoutError):
            dead.socket.recv(100)
        assert living.ask("*OPC?") == "1"


def test_ports_follow_the_first_one_and_are_free_again_after_closing(bench: Bench) -> None:
    first = free_ports(3)
    for _ in range(2):
        server = Server(bench, first)
        assert (server.ports, server.clock_port) == ({BRIDGE: first + 1, OHMMETER: first + 2}, first)
        with Client(first + 1) as client:
            assert client.ask("*OPC?") == "1"
            server.close()
            assert client.lines.readline() == b""  # hung up
        with pytest.raises(ConnectionRefusedError):
            Client(first)
        server.close()


def test_closing_does_not_wait_for_a_measurement_to_end(bench: Bench) -> None:
    threads_before = set(threading.enumerate())
    server = Server(bench)
    with Client(server.ports[BRIDGE]) as client:
        client.socket.sendall(b"SENS:SWE:POIN 1000;TINT 3600;:READ?\n*OPC?\n")
        while bench.instruments[BRIDGE].busy_until_s < 1000.0:
            time.sleep(0.001)
        server.close()
        assert client.lines.readline() == b""
    assert threads_before == set(threading.enumerate())


def test_a_port_that_is_taken_is_named_and_nothing_stays_open(bench: Bench) -> None:
    port = free_ports(2) + 1
    with closing(socket.create_server((HOST, port))):
        with pytest.raises(UsageError, match=f"first_port={port - 1}: port {port} on 127.0.0.1 cannot be had"):
            Server(bench, port - 1)
        with closing(socket.create_server((HOST, port - 1))):
            pass
    for outside in (-1, 65_534, 70_000):
        with pytest.raises(UsageError, match=f"first_port={outside}: 3 ports in a row end at 65535"):
            Server(bench, outside)


def test_pyvisa_py_talks_to_it(server: Server) -> None:
    manager = pyvisa.ResourceManager("@py")
    resource = manager.open_resource(f"TCPIP::{HOST}::{server.ports[BRIDGE]}::SOCKET")
    assert isinstance(resource, TCPIPSocket)
    resource.read_termination = resource.write_termination = "\n"
    assert resource.query("*IDN?") == "Test bay,sim,1,1.0"
    resource.write("CONF:VOLT:RAT (@1,2);:SENS:SWE:POIN 50;TINT 1E-4;:FORM REAL,64")
    assert resource.query("SYST:ERR?") == '0,"No error"'
    resource.write("READ?")
    assert resource.read_bytes(5) == b"#3800"
    block = resource.read_bytes(801)
    assert np.frombuffer(block[:-1], ">f8").reshape(50, 2)[-1].tolist() == [1.25e-4, -3.5e-5]
    assert resource.query("*OPC?") == "1"
    resource.close()
    manager.close()


def test_all_kinds_can_be_served_together() -> None:
    world = StillWorld()
    names = {f"TCPIP::192.0.2.{n}::5025::SOCKET": kind for n, kind in enumerate(KINDS)}
    instruments = {
        name: build(kind, world, Appearance("Test bay", kind, "1", "1.0"), np.random.default_rng(1))
        for name, kind in names.items()
    }
    server = Server(Bench(world.clock, instruments))
    for name, kind in names.items():
        with Client(server.ports[name]) as client:
            assert client.ask("*IDN?") == f"Test bay,{kind},1,1.0"
    server.close()
