"""Command maps, serial lines and resource names in rig.yaml: every fault at its place, with what to do."""

from __future__ import annotations

from pathlib import Path

import pytest
from pyvisa import rname

from rigproof.documents import load_both, load_rig
from rigproof.documents.rig import Rig
from rigproof.errors import DocumentError
from rigproof.plugins import Registry
from rigproof.quantities import WrittenError
from rigproof_scpi.command_map import MeterMap, SourceMap
from rigproof_scpi.resources import resource

BRANCH = Path(__file__).parents[3] / "rigs" / "branch"
TEXT = (BRANCH / "rig.yaml").read_text("utf-8")
OHM, TALK, PUMP = (f"instruments.{name}.settings" for name in ("ohmmeter", "thermometer", "pump"))
RATE = 'rate: {send: "RAMP {rate}", unit: bar/min, ask: "RAMP", reply: "{rate} BAR/MIN"}'
TARGET = 'target: {send: "GOTO {value}", ask: "GOTO", reply: "{value} BAR"}'
SAFE = '      safe: {send: ["STOP", "VENT"], ask: "MODE", is: "VENTED", is not: "*"}\n'
ISOLATE = '      isolate: {send: "VALVE SHUT", send back: "VALVE OPEN", ask: "VALVE", is: "SHUT", is not: "OPEN"}\n'
ID = 'identity: {ask: "ID?", reply: "{maker}/{model}/{serial number}/{firmware}"}'
READ = 'read: {ask: "R{input}?", reply: "R{input}={value} OHM", overload: "R{input}=OPEN"}'
LISTEN = 'read: {listen: "*,{value},C", overload: "*,-----,C"}'

# What to replace by what; where that is a fault; what it says; what the remedy says.
WRONG = [
    (ID, "identity: unknown", f"{OHM}.identity", "'unknown' is no way to ask", "cannot say"),
    (ID, 'identity: {ask: "ID?", reply: "*"}', f"{OHM}.identity.reply", "confirms nothing", "what the reply says"),
    (ID, "", OHM, "'identity' is missing", ""),
    (ID, ID.replace("{maker}", "{make}"), f"{OHM}.identity.reply", "'{make}' is no place", "'maker'"),
    (ID, ID.replace("ID?", "ID{input}?"), f"{OHM}.identity.ask", "'{input}' is no place", "none"),
    (ID, ID.replace("{maker}/", "{maker}"),
     f"{OHM}.identity.reply", "nothing stands between", "text that parts them"),
    ("quantity: resistance", "quantity: resistence", f"{OHM}.quantity", "no kind of quantity", "'resistance'"),
    ("quantity: resistance", "quantity: temperature", f"{OHM}.unit", "'Ω' is no unit of temperature", "°C"),
    ("unit: Ω", "unit: ohms", f"{OHM}.unit", "'ohms' is no unit of resistance", "Ω"),
    (LISTEN, f"greeting: HELLO\n      {LISTEN}", TALK, "is never told or asked anything", "without `greeting`"),
    ("scale: 0.01 ", "scale: 0 ", f"{TALK}.scale", "a scale of 0", "one count"),
    ("scale: 0.01 ", "scale: ten ", f"{TALK}.scale", "'ten'", ""),
    ("delay: 10 ms", "delay: 2 min", f"{OHM}.delay", "2 min", "60 s"),
    ("delay: 10 ms", "delay: 10", f"{OHM}.delay", "10", ""),
    ("delay: 10 ms", "delai: 10 ms", f"{OHM}.delai", "unknown key", "delay"),
    ("terminator: CR LF", "terminator: CRLF", f"{OHM}.terminator", "CRLF", ""),
    ("terminator: CR LF", "terminator: none",
     f"{OHM}.terminator", "nothing but a terminator ends", "LF, CR or CR LF"),
    ("data bits: 7", "data bits: 9", f"{OHM}.line.data bits", "9", ""),
    ("parity: even", "parity: Even", f"{OHM}.line.parity", "Even", ""),
    ("baud rate: 9600", "baud rate: 9601", f"{OHM}.line.baud rate", "no port knows 9601 baud", "4800, 7200, 9600, "),
    ("baud rate: 9600", "baud: 9600", f"{OHM}.line.baud", "unknown key", "baud rate"),
    ("terminator: CR\n      delay", "line: {}\n      delay",
     f"{PUMP}.line", "belongs to a serial line", "leave it out"),
    ('error: {ask: "ERR?", none: "0"}', 'error: {ask: "ERR?", none: "*"}',
     f"{OHM}.error.none", "confirms nothing", "what the reply says"),
    ('error: {ask: "ERR?", none: "0"}', 'error: {ask: "ERR?", none: []}',
     f"{OHM}.error.none", "list is empty", "one text"),
    ('error: {ask: "ERR?", none: "0"}', 'error: {ask: "ERR?"}', f"{OHM}.error", "'none' is missing", ""),
    (READ, 'read: {ask: "R{input}?"}', f"{OHM}.read", "`ask` and `reply` belong together", "both"),
    (READ, "read: {}", f"{OHM}.read", "asked for or listened for", "`listen` alone"),
    (READ, READ.replace("{value}", "*"), f"{OHM}.read.reply", "has no {value}", "where it stands"),
    (READ, READ.replace("{value} OHM", "{value}0"), f"{OHM}.read.reply", "part of the number", "leave digits"),
    (READ, READ.replace("R{input}?", "R{channel}?"), f"{OHM}.read.ask", "'{channel}' is no place", "{input}"),
    (READ, READ.replace("R{input}?", "R1?"), "channels.hoop resistance.input", "input 1 only", "make the two agree"),
    (READ, READ.replace("=OPEN", "=OPEN\\r"),
     f"{OHM}.read.overload", "characters that no instrument", "`terminator`"),
    (READ, READ.replace("=OPEN", "=OPEN}"), f"{OHM}.read.overload", "brace without its partner", "{value}"),
    (READ, READ.replace("R{input}?", ""), f"{OHM}.read.ask", "this message is empty", "write what is said"),
    (LISTEN, LISTEN.replace("listen:", 'select: "CH{input}", listen:'),
     f"{TALK}.read", "never told anything", "leave `select` out"),
    (LISTEN, f"acknowledged: OK\n      {LISTEN}", TALK, "never told or asked", "`acknowledged`"),
    (READ, READ.replace("ask:", 'select: ["CH{channel}"], ask:'), f"{OHM}.read.select", "no place", "{input}"),
    (READ, READ.replace("ask:", "select: [], ask:"), f"{OHM}.read.select", "list is empty", "one text"),
    (READ, READ.replace("overload:", 'busy: "*", overload:'), f"{OHM}.read.busy", "confirms nothing", "reply says"),
    (READ, READ.replace('"R{input}?"', '["CH{input}", "RD"]'), f"{OHM}.read.ask", "is one text", "`select`"),
    (ID, f'acknowledged: "*"\n      {ID}', f"{OHM}.acknowledged", "confirms nothing", "what the reply says"),
    (ID, f'acknowledged: ["M{{channel}} OK"]\n      {ID}', f"{OHM}.acknowledged", "no place", "{message}, {input}"),
    (ID, f'acknowledged: ["SET {{value}}"]\n      {ID}', f"{OHM}.acknowledged", "no place", "{message}, {input}"),
    (RATE, f'acknowledged: ["SET {{input}}"]\n      {RATE}',
     f"{PUMP}.acknowledged", "no place", "{message}, {value}, {rate}"),
    (LISTEN, LISTEN.replace("listen:", 'ask: "T?", listen:'),
     f"{TALK}.read", "asked for or listened for", "`listen` alone"),
    ("identity: cannot say\n", 'identity: {ask: "ID?", reply: "{maker}"}\n',
     TALK, "never told or asked", "cannot say"),
    ("resource: ASRL/dev/ttyUSB1::INSTR", "resource: TCPIP::192.0.2.15::INSTR",
     f"{TALK}.line", "serial line", "leave"),
    ("quantity: temperature\n      unit: °C\n", "quantity: force\n      unit: N\n",
     "channels.wall.input", "gives force by its map", "agree"),
    (SAFE, "", PUMP, "'safe' is missing", ""),
    (SAFE, SAFE.replace('ask: "MODE", ', ""), f"{PUMP}.safe", "'ask' is missing", ""),
    (SAFE, SAFE.replace('"VENTED"', '"*"'), f"{PUMP}.safe.is", "confirms nothing", "what the reply says"),
    (SAFE, SAFE.replace('["STOP", "VENT"]', "[]"), f"{PUMP}.safe.send", "list is empty", "one text"),
    (ISOLATE, ISOLATE.replace('"OPEN"}', '"*"}'),
     f"{PUMP}.isolate.is not", "confirms nothing", "what the reply says"),
    (RATE, RATE.replace("bar/min", "bar"), f"{PUMP}.rate.unit", "'bar' is no unit of pressure rate", "'bar/s'"),
    (RATE, RATE.replace(' {rate}", unit', '", unit'),
     PUMP, "no message of `rate` or `target` has {rate}", "write {rate}"),
    (RATE, RATE.replace(', reply: "{rate} BAR/MIN"', ""), f"{PUMP}.rate", "belong together", "neither"),
    (TARGET, TARGET.replace(' {value}", ask', '", ask'), PUMP, "no message of `target` has {value}", "write {value}"),
    ("unit: bar\n", "unit: bar\n      decimals: 12\n", f"{PUMP}.decimals", "12", ""),
    ("unit: bar\n", "unit: bar\n      scale: -1\n", f"{PUMP}.scale", "turns the load round", "above 0"),
    ("quantity: gauge pressure\n      unit: bar", "quantity: resistance\n      unit: Ω",
     f"{PUMP}.rate", "resistance has no rate", "a force"),
    ("quantity: gauge pressure\n      unit: bar\n", "quantity: force\n      unit: kN\n",
     f"{PUMP}.rate.unit", "no unit of force rate", ""),
    ("resource: GPIB0::13::INSTR", "resource: GPIB0::31::INSTR",
     "instruments.insulation tester.resource", "no address on GPIB", "0 to 30"),
    ("resource: ASRL/dev/ttyUSB0::INSTR", "resource: /dev/ttyUSB0",
     "instruments.ohmmeter.resource", "no VISA resource name", "ASRL/dev/ttyUSB0::INSTR"),
    ("::4001::SOCKET", "::70000::SOCKET", "instruments.pump.resource", "port 70000", "1 to 65535"),
]  # fmt: skip


def changed(registry: Registry, *changes: tuple[str, str]) -> Rig:
    text = TEXT
    for old, new in changes:
        assert text.count(old) == 1, (old, text.count(old))
        text = text.replace(old, new)
    return load_rig(text=text, name="rig.yaml", registry=registry)


@pytest.mark.parametrize(("old", "new", "where", "said", "remedy"), WRONG)
def test_every_fault_has_its_place_and_its_remedy(
    registry: Registry, old: str, new: str, where: str, said: str, remedy: str
) -> None:
    with pytest.raises(DocumentError) as told:
        changed(registry, (old, new))
    faults = [fault for fault in told.value.faults if said in fault.message]
    assert faults, [f"{fault.where}: {fault.message}" for fault in told.value.faults]
    assert faults[0].where.startswith(where), faults[0].where
    assert remedy in faults[0].remedy, faults[0].remedy
    assert faults[0].line > 1


def test_several_faults_are_told_at_once(registry: Registry) -> None:
    with pytest.raises(DocumentError) as told:
        changed(registry, (SAFE, ""), ("unit: Ω", "unit: V"), ("parity: even", "parity: e"))
    assert {fault.where.split(".")[1] for fault in told.value.faults} == {"pump", "ohmmeter"}
    assert len(told.value.faults) == 3


def test_the_rig_is_read_as_written(registry: Registry) -> None:
    rig = changed(registry)
    pump, meter = rig.instruments["pump"].settings, rig.instruments["thermometer"].settings
    assert isinstance(pump, SourceMap)
    assert isinstance(meter, MeterMap)
    assert [wording.text for wording in pump.safe.send] == ["STOP", "VENT"]
    assert meter.to_base(2150.0) == 21.5
    assert meter.line is not None
    assert (meter.line.baud_rate, meter.line.data_bits, meter.line.parity) == (2400, 8, "none")


def test_a_source_without_a_valve_holds_no_proof(registry: Registry, tmp_path: Path) -> None:
    (tmp_path / "rig.yaml").write_text(TEXT.replace(ISOLATE, ""), "utf-8")
    (tmp_path / "acceptance.yaml").write_text((BRANCH / "acceptance.yaml").read_text("utf-8"), "utf-8")
    with pytest.raises(DocumentError, match="'pump' has no valve to shut the part off") as told:
        load_both(tmp_path, registry)
    (fault,) = told.value.faults
    assert fault.where == "steps[7].proof.source"
    assert "say in its settings how it is shut" in fault.remedy


NAMES = {
    "ASRL/dev/ttyUSB0::INSTR": ("ASRL", "/dev/ttyUSB0"),
    "ASRL/dev/serial/by-path/pci-0000:00:14.0-usb-0:1:1.0-port0::INSTR": (
        "ASRL",
        "/dev/serial/by-path/pci-0000:00:14.0-usb-0:1:1.0-port0",
    ),
    "ASRLCOM3::INSTR": ("ASRL", "COM3"),
    "asrl1": ("ASRL", "1"),
    "GPIB::9::INSTR": ("GPIB", ""),
    "GPIB1::9::3": ("GPIB", ""),
    "USB0::0x1234::0xABCD::SN-1::INSTR": ("USB", ""),
    "USB::0x1234::0xABCD::SN-1::0::RAW": ("USB", ""),
    "USB0::4660::65535::SN-1::0::INSTR": ("USB", ""),  # as pyvisa-py's list_resources writes them
    "TCPIP::192.0.2.1::INSTR": ("TCPIP", ""),
    "TCPIP0::meter.bay::hislip0::INSTR": ("TCPIP", ""),
    "TCPIP::192.0.2.1::5025::SOCKET": ("SOCKET", ""),
}


@pytest.mark.parametrize("name", NAMES)
def test_names_are_read_as_pyvisa_reads_them(name: str) -> None:
    found = resource(name)
    assert (found.interface, found.port) == NAMES[name]
    theirs = rname.ResourceName.from_string(name)
    assert theirs.interface_type == found.interface.replace("SOCKET", "TCPIP")
    assert found.is_stream == (found.interface in {"ASRL", "SOCKET"})


NO_NAMES = [
    "", "ASRL", "ASRL::INSTR", "GPIB0::INTFC", "GPIB0::-1::INSTR", "GPIB::9::31::INSTR", "PXI0::3::INSTR",
    "USB0::65536::0xABCD::SN::INSTR", "USB0::012::1::SN::INSTR", "ASRL/dev/a:::INSTR",
    "TCPIP::::INSTR", "TCPIP::a::0::SOCKET", "TCPIP::a b::INSTR",
    "tcp://192.0.2.1", "/dev/ttyUSB0", "USB0::0x1::0x2::SN::INSTR\n", "TCPIP::h::5025::SOCKET::INSTR",
]  # fmt: skip


@pytest.mark.parametrize("name", NO_NAMES)
def test_what_carries_no_messages_is_refused(name: str) -> None:
    with pytest.raises(WrittenError) as told:
        resource(name)
    assert told.value.remedy
