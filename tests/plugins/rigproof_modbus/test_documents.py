"""Register maps in rig.yaml: every fault at its place, with a remedy."""

from __future__ import annotations

import pytest

from rigproof.documents import load_rig
from rigproof.errors import DocumentError
from rigproof.plugins import Registry
from rigproof.quantities import WrittenError
from rigproof.steps.base import isolates
from rigproof_modbus.resource import Serial, Tcp, parse_resource
from rigproof_modbus.settings import MeterSettings, SourceSettings

from .spool import changed

VALVE = "      valve: {table: coil, address: 2, open: 1, shut: 0}\n"
SETTLED = "      settled: {table: input, address: 9, bit: 0, equals: 1}\n"
ACTUAL = "      actual: {table: input, address: 10, type: uint16, scale: 0.01, unit: bar}\n"
WITHIN = "      settled within: 0.2 bar\n"
SAFE = """\
      safe state:
        - {table: coil, address: 0, value: 0, reads back: {table: input, address: 9, bit: 1, equals: 0}}
        - {table: coil, address: 1, value: 1}                                 # vent open
"""
INPUT = "1: {table: input, address: 0, type: float32, word order: low first, unit: bar}"
PUMP, METER = "instruments.pump.settings", "instruments.transmitter.settings"

# What to replace by what; where that is a fault; what it says; what the remedy says.
WRONG = [
    (SAFE, "", PUMP, "'safe state' is missing", "safe state"),
    (SAFE, "      safe state: []\n", f"{PUMP}.safe state", "without a safe state", "list every write"),
    (SAFE, "      safe state: [{table: coil, address: 0, value: 1}]\n",
     f"{PUMP}.safe state", "no entry takes back what `enable` sets", "stopped value of coil 1, coil 0"),
    (SAFE, SAFE + "        - {table: coil, address: 0, value: 1}\n",
     f"{PUMP}.safe state", "coil 0 is written twice", "write it once"),
    (SAFE, SAFE.replace("address: 1, value: 1", "address: 1, value: 2"),
     f"{PUMP}.safe state[2].value", "2 is no value of a coil", "0 or 1"),
    (SAFE, SAFE.replace("table: coil, address: 1", "table: discrete, address: 1"),
     f"{PUMP}.safe state[2].table", "the discrete table can only be read", "coil or holding"),
    (SAFE, SAFE.replace("bit: 1, equals: 0", "bit: 16, equals: 0"),
     f"{PUMP}.safe state[1].reads back.bit", "16", ""),
    (SAFE, SAFE.replace("bit: 1, equals: 0", "bit: 1, equals: 2"),
     f"{PUMP}.safe state[1].reads back.equals", "2 is no state of one bit", "0 or 1"),
    (VALVE, VALVE.replace("shut: 0", "shut: 1"), f"{PUMP}.valve.shut", "open and shut are both 1", "the two values"),
    (SETTLED + ACTUAL + WITHIN, "", PUMP, "nothing says when", "add `settled: {…}`"),
    (WITHIN, "", PUMP, "`settled within` is missing", "both"),
    (ACTUAL, "", f"{PUMP}.settled within", "`actual` is missing", "both"),
    (WITHIN, "      settled within: 0.2\n", f"{PUMP}.settled within", "'0.2'", "bar"),
    (WITHIN, "      settled within: 1 kN\n", "sources.pump.instrument", "settled within is a force", "settings"),
    ("scale: 0.001, unit: bar}", "scale: -0.001, unit: bar}", f"{PUMP}.target", "turns the load round", "above 0"),
    ("scale: 0.001, unit: bar}", "scale: 0.001, unit: kN}",
     "sources.pump.instrument", "target is in kN, which is no unit of gauge pressure", "settings"),
    ("unit: bar/min", "unit: bar", "sources.pump.instrument", "rate is in bar, which is no unit of pressure rate", ""),
    ("target: {table: holding", "target: {table: input", f"{PUMP}.target.table", "can only be read", "holding"),
    (INPUT, INPUT.replace("1: {", "2: {"), "channels.pressure.input", "has no input 1; it has 2", "agree"),
    (INPUT, INPUT.replace("bar", "°C"), "channels.pressure.input", "no unit of gauge pressure", "agree"),
    (INPUT, INPUT.replace("1: {", "a: {"), f"{METER}.inputs", "'a' is no input", "number the inputs"),
    (INPUT, INPUT.replace("unit: bar", "unit: baar"), f"{METER}.inputs.1.unit", "'baar' is no unit", "'bar'"),
    (INPUT, INPUT.replace(", word order: low first", ""), f"{METER}.inputs.1", "takes 2 registers", "manual"),
    (INPUT, INPUT.replace("float32", "float"), f"{METER}.inputs.1.type", "float", ""),
    (INPUT, INPUT.replace("address: 0", "address: 400001"), f"{METER}.inputs.1.address", "400001", "is address 0"),
    (INPUT, INPUT.replace("address: 0", "register: 0"), f"{METER}.inputs.1.register", "unknown key", ""),
    ("unit id: 7", "unit id: 300", f"{PUMP}.unit id", "300 is no unit id", "1 to 247"),
    ("unit id: 7", "unit id: seven", f"{PUMP}.unit id", "'seven' is no whole number", ""),
    ("identity: ask\n", "identity: maybe\n", f"{METER}.identity", "maybe", ""),
    ("identity: ask\n", "identity: cannot say\n", f"{METER}.serial number object", "not asked", "`identity: ask`"),
    ("serial number object: 0x80", "serial number object: 3", f"{METER}.serial number object", "3", ""),
    ("resource: tcp://192.0.2.21\n", "resource: TCPIP::192.0.2.21::502::SOCKET\n",
     "instruments.pump.resource", "no place of a Modbus instrument", "write tcp://"),
    ("resource: tcp://192.0.2.21\n", "resource: serial:///dev/ttyUSB0?baud rate=9601\n",
     "instruments.pump.resource", "'9601' is not possible", "9600"),
    ("resource: tcp://192.0.2.21\n", "resource: serial:///dev/ttyUSB0?parity=E\n",
     "instruments.pump.resource", "'E' is not possible", "even"),
    ("resource: tcp://192.0.2.21\n", "resource: tcp://192.0.2.21:70000\n",
     "instruments.pump.resource", "port 70000", "mostly 502"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "where", "said", "remedy"), WRONG)
def test_every_fault_has_its_place_and_its_remedy(
    registry: Registry, old: str, new: str, where: str, said: str, remedy: str
) -> None:
    with pytest.raises(DocumentError) as told:
        load_rig(text=changed((old, new)), name="rig.yaml", registry=registry)
    (fault,) = [fault for fault in told.value.faults if said in fault.message]
    assert fault.where.startswith(where)
    assert remedy in fault.remedy
    assert fault.remedy or not remedy
    assert fault.line > 80


def test_several_faults_are_told_at_once(registry: Registry) -> None:
    with pytest.raises(DocumentError) as told:
        load_rig(
            text=changed((SAFE, ""), ("unit: bar/min", "unit: barmin"), (", word order: low first", "")),
            registry=registry,
        )
    assert len(told.value.faults) == 3


PORT = "serial:///dev/ttyUSB0"


def at_one_port(pump: str) -> str:
    """The rig with transmitter and thermometer at one serial port as a standard line, and the pump there, too."""
    to_tcp = "resource: tcp://192.0.2.20:502\n"
    return changed(("resource: tcp://192.0.2.21\n", f"resource: {pump}\n")).replace(to_tcp, f"resource: {PORT}\n")


@pytest.mark.parametrize(
    ("pump", "said", "remedy"),
    [
        (f"{PORT}?baud rate=9600", "19200 baud, parity even, stop bits 1 for 'transmitter', and at 9600", "same"),
        (f"{PORT}?parity=odd", "and at 19200 baud, parity odd, stop bits 1 here", "same baud rate, parity and stop"),
        (f"{PORT}?stop bits=2", "and at 19200 baud, parity even, stop bits 2 here", "for all instruments on one line"),
    ],
)  # fmt: skip
def test_units_on_one_line_agree(registry: Registry, pump: str, said: str, remedy: str) -> None:
    with pytest.raises(DocumentError) as told:
        load_rig(text=at_one_port(pump), name="rig.yaml", registry=registry)
    (fault,) = told.value.faults
    assert fault.where == "instruments.pump.resource"
    assert said in fault.message
    assert remedy in fault.remedy
    assert fault.line > 80


def test_units_that_agree_share_a_line(registry: Registry) -> None:
    """Defaults that are written out are no difference."""
    rig = load_rig(text=at_one_port(f"{PORT}?stop bits=1&parity=even"), registry=registry)
    assert {rig.instruments[name].resource for name in ("transmitter", "thermometer")} == {PORT}


def test_another_instrument_at_a_modbus_port(registry: Registry) -> None:
    text = at_one_port(PORT).replace("TCPIP::192.0.2.11::5025::SOCKET", "ASRL/dev/ttyUSB0::INSTR")
    assert "ASRL" in text
    with pytest.raises(DocumentError) as told:
        load_rig(text=text, name="rig.yaml", registry=registry)
    (fault,) = told.value.faults
    assert "/dev/ttyUSB0 is the port of '" in fault.message
    assert "already, which speaks " in fault.message
    assert fault.remedy == "give each instrument a port of its own"


def test_a_right_map_is_read(registry: Registry) -> None:
    rig = load_rig(text=changed(), registry=registry)
    pump, meter = rig.instruments["pump"].settings, rig.instruments["transmitter"].settings
    assert isinstance(pump, SourceSettings)
    assert isinstance(meter, MeterSettings)
    assert (meter.serial_number_object, meter.inputs[1].unit.factor) == (128, 1e5)
    assert [str(write.state) for write in pump.safe_state] == ["input 9 bit 1", "coil 1"]
    assert [write.state.equals for write in pump.safe_state] == [0, 1]


def test_a_source_without_a_valve_says_so_before_a_hold(registry: Registry) -> None:
    with_valve, without = (load_rig(text=changed(*changes), registry=registry) for changes in ((), ((VALVE, ""),)))
    assert isolates(with_valve, "pump")
    assert not isolates(without, "pump")


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("tcp://192.0.2.20", Tcp("192.0.2.20", 502)),
        ("tcp://gateway.bay-2:1502", Tcp("gateway.bay-2", 1502)),
        ("tcp://[2001:db8::1]:502", Tcp("2001:db8::1", 502)),
        ("serial:///dev/ttyUSB0", Serial("/dev/ttyUSB0", 19200, "E", 1)),
        ("serial:///dev/ttyS1?baud rate=9600&parity=none", Serial("/dev/ttyS1", 9600, "N", 2)),
        ("serial://COM3?parity=odd&stop bits=2", Serial("COM3", 19200, "O", 2)),
    ],
)
def test_places(text: str, where: Tcp | Serial) -> None:
    assert parse_resource(text) == where


@pytest.mark.parametrize("text", ["", "tcp://", "tcp://a:0", "tcp://a b", "serial://", "serial:///x?baud", "udp://a",
                                  "serial:///x?baud rate=9600&baud rate=9600", "serial:///x?speed=9600"])  # fmt: skip
def test_no_places(text: str) -> None:
    with pytest.raises(WrittenError) as told:
        parse_resource(text)
    assert told.value.remedy
