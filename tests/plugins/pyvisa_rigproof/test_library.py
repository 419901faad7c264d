"""The backend under PyVISA: what a driver sees, and the traps of PyVISA (1.16) that a backend falls into."""

from __future__ import annotations

import random
import subprocess
import sys
import threading
import warnings
from collections.abc import Callable, Iterator
from typing import cast

import numpy as np
import pytest
import pyvisa
from pyvisa import constants
from pyvisa.constants import BufferOperation, StatusCode
from pyvisa.errors import InvalidSession, VisaIOError
from pyvisa.resources import MessageBasedResource, SerialInstrument
from pyvisa.typing import VISASession

from pyvisa_rigproof import WRAPPER_CLASS, RigLibrary
from rigproof.errors import UsageError
from rigproof_twin.instruments import SimulatedInstrument, build
from rigproof_twin.interface import Appearance
from rigproof_twin.registry import Bench, add, remove
from rigproof_twin.still import StillWorld

SOCKET = "TCPIP0::192.0.2.11::5025::SOCKET"
BUS = "GPIB0::5::INSTR"
SERIAL = "ASRL3::INSTR"
LAN = "TCPIP::192.0.2.12::INSTR"  # canonical: TCPIP0::192.0.2.12::inst0::INSTR

Open = Callable[..., MessageBasedResource]


class Rig:
    """One bridge amplifier per resource name, on one clock, and PyVISA over it."""

    def __init__(self) -> None:
        self.world = StillWorld()
        self.clock = self.world.clock
        look = Appearance("Test bay", "bridge", "B-1", "1.0", latency_s=0.002)
        self.instruments: dict[str, SimulatedInstrument] = {
            name: build("bridge amplifier", self.world, look, np.random.default_rng(1))
            for name in (SOCKET, BUS, SERIAL, LAN)
        }
        self.token = add(Bench(self.clock, self.instruments))
        self.manager = pyvisa.ResourceManager(f"{self.token}@rigproof")
        self.library = cast(RigLibrary, self.manager.visalib)

    def open(self, name: str, **settings: object) -> MessageBasedResource:
        resource = self.manager.open_resource(name, **settings)  # type: ignore[arg-type]
        assert isinstance(resource, MessageBasedResource)
        return resource

    def lines(self, name: str) -> MessageBasedResource:
        return self.open(name, read_termination="\n", write_termination="\n")


@pytest.fixture
def rig() -> Iterator[Rig]:
    rig = Rig()
    yield rig
    rig.manager.close()
    remove(rig.token)


def status_of(call: Callable[[], object]) -> StatusCode:
    with pytest.raises(VisaIOError) as caught:
        call()
    return StatusCode(caught.value.error_code)


def note_of(call: Callable[[], object]) -> str:
    with pytest.raises(VisaIOError) as caught:
        call()
    return str(caught.value.__notes__[0])


# What a driver sees


@pytest.mark.parametrize("name", [SOCKET, BUS, SERIAL, LAN])
def test_an_instrument_answers_on_every_interface(rig: Rig, name: str) -> None:
    resource = rig.lines(name)
    assert resource.query("*IDN?") == "Test bay,bridge,B-1,1.0"
    assert resource.last_status in {StatusCode.success, StatusCode.success_termination_character_read}
    assert rig.clock.now() == pytest.approx(0.002)


def test_the_environment_points_unchanged_code_at_the_rig(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PYVISA_LIBRARY", f"{rig.token}@rigproof")
    assert pyvisa.ResourceManager().visalib is rig.library


def test_a_block_comes_unharmed_byte_for_byte(rig: Rig) -> None:
    rig.world.bridge_vv = {1: float(np.frombuffer(b"\x0a\x0d\x00\x80\xff\x0a\x0a\x0a", ">f8")[0]), 2: 1.0}
    for name in (BUS, LAN):
        resource = rig.open(name, write_termination="\n")
        resource.write("CONF:VOLT:RAT (@2,1);:SENS:SWE:POIN 3000;TINT 1E-4;:FORM REAL,64")
        values = resource.query_binary_values("READ?", "d", is_big_endian=True)
        assert np.reshape(values, (3000, 2)).tolist() == [[1.0, rig.world.bridge_vv[1]]] * 3000  # 48 kB: three chunks


def test_a_timeout_costs_virtual_time_only_and_says_why(rig: Rig) -> None:
    resource = rig.lines(SOCKET)
    resource.timeout = 1500
    resource.write("SENS:SWE:POIN 1000;TINT 1;:READ?")
    assert "the reply is 1000 s away, the timeout is 1.5 s" in note_of(resource.read)
    assert rig.clock.now() == pytest.approx(1.5)
    assert resource.last_status == StatusCode.error_timeout
    resource.timeout = 1_000_000
    assert resource.read().count(",") == 999
    assert rig.clock.now() == pytest.approx(1000.002)


def test_a_dead_instrument_times_out(rig: Rig) -> None:
    resource = rig.lines(SOCKET)
    rig.instruments[SOCKET].alive = False
    assert status_of(lambda: resource.query("*IDN?")) == StatusCode.error_timeout
    assert rig.clock.now() == 2.0  # PyVISA's default
    assert note_of(resource.read) == "simulated: the instrument is dead"


def test_no_timeout_at_all_gives_up_at_once_instead_of_hanging(rig: Rig) -> None:
    resource = rig.lines(BUS)
    resource.set_visa_attribute(constants.ResourceAttribute.timeout_value, constants.VI_TMO_INFINITE)
    assert status_of(resource.read) == StatusCode.error_timeout
    assert rig.clock.now() == 0.0


def test_device_clear_on_a_bus_and_discarding_on_a_stream(rig: Rig) -> None:
    bus, stream = rig.lines(BUS), rig.lines(SOCKET)
    bus.write("*IDN?")
    bus.clear()
    assert bus.query("SYST:ERR?") == '0,"No error"'
    for discard in (stream.clear, lambda: stream.flush(BufferOperation.discard_read_buffer)):
        stream.write("*IDN?")
        rig.clock.wait(1.0)
        discard()
        assert stream.query("*OPC?") == "1"
    stream.flush(BufferOperation.flush_write_buffer)


def test_the_status_byte_by_serial_poll(rig: Rig) -> None:
    bus = rig.lines(BUS)
    bus.write("FOO")
    bus.write("*OPC?")
    assert bus.stb == 4
    rig.clock.wait(0.002)
    assert bus.stb == 4 | 16
    assert bus.read() == "1"
    assert status_of(rig.lines(SOCKET).read_stb) == StatusCode.error_nonsupported_operation


def test_two_sessions_share_a_bus_but_not_a_stream(rig: Rig) -> None:
    one, two = rig.lines(BUS), rig.lines(BUS)
    one.write("*OPC?")
    assert two.read() == "1"
    stream, other = rig.lines(SOCKET), rig.lines(SOCKET)
    stream.write("*OPC?")
    assert status_of(other.read) == StatusCode.error_timeout
    assert stream.read() == "1"


def test_interrupted_queries_on_a_bus(rig: Rig) -> None:
    bus = rig.lines(BUS)
    bus.write("*IDN?")
    bus.write("*OPC?")
    assert bus.read() == "1"
    assert bus.query("SYST:ERR?") == '-410,"Query INTERRUPTED"'


def test_a_message_without_end_waits_for_more(rig: Rig) -> None:
    bus = rig.open(BUS)
    bus.send_end = False
    bus.write_raw(b"*OP")
    bus.send_end = True
    bus.write_raw(b"C?")
    assert bus.read() == "1\n"


# Traps


def test_pyvisa_finds_the_backend_by_its_name() -> None:
    assert WRAPPER_CLASS is RigLibrary
    assert pyvisa.highlevel.get_wrapper_class("rigproof") is RigLibrary
    assert "simulated" in RigLibrary.get_debug_info()["Purpose"]


def test_importing_the_backend_does_not_load_the_twin() -> None:
    code = "import pyvisa_rigproof, sys; sys.exit(any(m.startswith('rigproof_twin') for m in sys.modules))"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


@pytest.mark.parametrize("specification", ["@rigproof", "nobody@rigproof"])
def test_an_unknown_token_says_so(specification: str) -> None:
    for _ in range(2):  # the second time the library object is there already
        with pytest.raises(UsageError, match="this process has no simulated rig"):
            pyvisa.ResourceManager(specification)


def test_a_removed_rig_opens_nothing_more(rig: Rig) -> None:
    resource = rig.lines(SOCKET)
    remove(rig.token)
    with pytest.raises(UsageError, match="no simulated rig"):
        rig.lines(BUS)
    assert resource.query("*OPC?") == "1"


def test_handles_count_from_one_and_leave_the_random_stream_alone(rig: Rig) -> None:
    state = random.getstate()
    sessions = [rig.manager.session, *(rig.lines(SOCKET).session for _ in range(3))]
    assert sessions == [1, 2, 3, 4]
    assert random.getstate() == state


def test_opening_what_is_not_there_raises(rig: Rig) -> None:
    assert status_of(lambda: rig.open("TCPIP::192.0.2.99::5025::SOCKET")) == StatusCode.error_resource_not_found
    assert status_of(lambda: rig.manager.open_bare_resource("nonsense")) == StatusCode.error_invalid_resource_name
    locked = constants.AccessModes.exclusive_lock
    assert status_of(lambda: rig.open(SOCKET, access_mode=locked)) == StatusCode.error_nonsupported_operation
    assert rig.library.last_status == StatusCode.error_nonsupported_operation


@pytest.mark.parametrize("written", ["TCPIP::192.0.2.11::5025::SOCKET", "tcpip0::192.0.2.11::5025::SOCKET", SOCKET])
def test_names_are_compared_in_their_canonical_form(rig: Rig, written: str) -> None:
    assert rig.lines(written).query("*OPC?") == "1"


def test_listing_honours_the_query(rig: Rig) -> None:
    lan = "TCPIP0::192.0.2.12::inst0::INSTR"
    assert rig.manager.list_resources() == (BUS, SERIAL, lan)  # sockets are no INSTR
    assert rig.manager.list_resources("?*") == (SOCKET, BUS, SERIAL, lan)
    assert rig.manager.list_resources("TCPIP?*SOCKET") == (SOCKET,)
    assert rig.manager.list_resources("USB?*") == ()
    assert rig.manager.list_resources_info("GPIB?*")[BUS].resource_class == "INSTR"


def test_a_socket_without_read_termination_times_out(rig: Rig) -> None:
    socket = rig.open(SOCKET, write_termination="\n")
    assert "neither their number nor a stop byte" in note_of(lambda: socket.query("*IDN?"))
    socket.write("*OPC?")
    assert socket.read_bytes(2) == b"1\n"
    socket.set_visa_attribute(constants.ResourceAttribute.suppress_end_enabled, False)
    assert socket.query("*OPC?") == "1\n"  # as told, it takes what has come for a message


def test_a_serial_line_stops_at_lf_by_default_even_inside_a_block(rig: Rig) -> None:
    serial = rig.open(SERIAL, write_termination="\n")
    assert isinstance(serial, SerialInstrument)
    assert serial.query("*OPC?") == "1\n"
    rig.world.bridge_vv = {1: float(np.frombuffer(b"\x3f\x0a\x00\x00\x00\x00\x00\x00", ">f8")[0])}
    serial.write("FORM REAL,64;:READ?")
    assert serial.read_raw() == b"#18\x3f\x0a"
    assert serial.read_bytes(7) == b"\0" * 6 + b"\n"
    serial.end_input = constants.SerialTermination.none
    assert status_of(lambda: serial.query("*OPC?")) == StatusCode.error_timeout


def test_chunks_are_put_together_without_warning(rig: Rig) -> None:
    resource = rig.lines(BUS)
    for chunk in (1, 2, 3, 5, 23, 24, 25):  # the reply has 24 bytes
        resource.chunk_size = chunk
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            assert resource.query("*IDN?") == "Test bay,bridge,B-1,1.0"


def test_a_full_buffer_says_that_there_may_be_more(rig: Rig) -> None:
    for resource in (rig.lines(SOCKET), rig.lines(BUS)):
        resource.write("*IDN?")
        with resource.ignore_warning(StatusCode.success_max_count_read):
            assert rig.library.read(resource.session, 4) == (b"Test", StatusCode.success_max_count_read)
        assert resource.read_raw() == b" bay,bridge,B-1,1.0\n"


def test_end_comes_before_the_termination_character(rig: Rig) -> None:
    bus, stream = rig.lines(BUS), rig.lines(SOCKET)
    bus.query("*OPC?")
    assert bus.last_status == StatusCode.success
    stream.query("*OPC?")
    assert stream.last_status == StatusCode.success_termination_character_read


def test_closing_everything_in_any_order(rig: Rig) -> None:
    one, two = rig.lines(SOCKET), rig.lines(BUS)
    session = one.session
    one.close()
    one.close()
    assert status_of(lambda: rig.library.close(session)) == StatusCode.error_invalid_object
    assert status_of(lambda: rig.library.read(session, 1)) == StatusCode.error_invalid_object
    assert status_of(lambda: rig.library.close(cast(VISASession, 999))) == StatusCode.error_invalid_object
    rig.manager.close()
    with pytest.raises(InvalidSession):
        two.query("*OPC?")
    again = pyvisa.ResourceManager(f"{rig.token}@rigproof")
    resource = again.open_resource(BUS)
    assert isinstance(resource, MessageBasedResource)
    assert resource.query("*OPC?") == "1\n"
    again.close()


def test_settings_survive_but_a_new_connection_knows_nothing_of_old_replies(rig: Rig) -> None:
    stream = rig.lines(SOCKET)
    stream.write("SENS:SWE:POIN 7;:*IDN?")
    stream.close()
    stream = rig.lines(SOCKET)
    assert stream.query("SENS:SWE:POIN?") == "7"


def test_attributes(rig: Rig) -> None:
    resource = rig.open(SOCKET)
    assert resource.timeout == 2000
    assert resource.resource_name == SOCKET
    assert resource.resource_class == "SOCKET"
    assert resource.interface_type == constants.InterfaceType.tcpip
    read_only, foreign = constants.ResourceAttribute.resource_name, constants.ResourceAttribute.asrl_baud_rate
    where = resource.session
    assert status_of(lambda: rig.library.set_attribute(where, read_only, "x")) == StatusCode.error_attribute_read_only
    assert status_of(lambda: rig.library.set_attribute(where, foreign, 9600)) == StatusCode.error_nonsupported_attribute
    assert status_of(lambda: rig.library.get_attribute(where, foreign)) == StatusCode.error_nonsupported_attribute
    serial = rig.open(SERIAL)
    assert isinstance(serial, SerialInstrument)
    serial.baud_rate = 19200
    assert serial.baud_rate == 19200


def test_events_locks_and_triggers_are_refused_as_not_there(rig: Rig) -> None:
    resource = rig.lines(BUS)
    event, queue = constants.EventType.service_request, constants.EventMechanism.queue
    for call in (
        lambda: resource.enable_event(event, queue),
        lambda: resource.wait_on_event(event, 10),
        lambda: resource.install_handler(event, lambda *_: None),
        resource.lock_excl,
        resource.assert_trigger,
    ):
        assert status_of(call) == StatusCode.error_nonsupported_operation
    resource.disable_event(event, queue)
    resource.discard_events(event, queue)


def test_a_read_that_timed_out_under_another_termination_does_not_spoil_later_ones(rig: Rig) -> None:
    """PyVISA leaves the other termination set (a defect); a driver that sets it again gets its replies."""
    resource = rig.lines(SOCKET)
    resource.write("*OPC?")
    assert status_of(lambda: resource.read(termination="\r")) == StatusCode.error_timeout
    resource.read_termination = "\n"
    assert resource.query("*OPC?") == "1"


def test_the_same_seed_gives_the_same_bytes(rig: Rig) -> None:
    def run() -> list[str]:
        world = StillWorld()
        look = Appearance("Test bay", "bridge", "B-1", "1.0", noise=3e-8)
        token = add(Bench(world.clock, {BUS: build("bridge amplifier", world, look, np.random.default_rng(5))}))
        manager = pyvisa.ResourceManager(f"{token}@rigproof")
        resource = cast(MessageBasedResource, manager.open_resource(BUS))
        replies = [resource.query("MEAS:VOLT:RAT? (@1,2)") for _ in range(3)]
        manager.close()
        remove(token)
        return replies

    assert run() == run()


def test_threads_with_a_session_each_get_their_own_replies(rig: Rig) -> None:
    wrong: list[str] = []

    def talk(resource: MessageBasedResource, channel_input: int) -> None:
        resource.write(f"SOUR:VOLT {channel_input},(@{channel_input})")
        replies = [resource.query(f"SOUR:VOLT? (@{channel_input})") for _ in range(100)]
        wrong.extend(reply for reply in replies if float(reply) != channel_input)

    threads = [threading.Thread(target=talk, args=(rig.lines(SOCKET), n)) for n in (1, 2, 3, 4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert wrong == []
