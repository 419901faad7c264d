"""rigs/branch, whose ohmmeter, thermometer and pump are described in rig.yaml alone: check, runs, what is missing."""

from __future__ import annotations

import importlib.util
import json
import shutil
from importlib.machinery import ModuleSpec
from pathlib import Path

import pytest

from rigproof.__main__ import run
from rigproof.commands.simulated import bench_reach
from rigproof.documents import fit, load_procedure, load_rig
from rigproof.errors import ExitCode
from rigproof.plugins import Registry, load_registry
from rigproof.run.accepting import run_and_judge
from rigproof.run.plan import Plan
from rigproof.run.progress import Silent
from rigproof.run.simulated import find_simulator
from rigproof.serial_ports import Port
from rigproof_scpi import resources
from rigproof_scpi.driver import VisaDriver

BRANCH = Path(__file__).parents[3] / "rigs" / "branch"
STEPS = """\
rigproof: procedure/1
name: x
steps:
  - resistance: {}
  - balance: {settle: 2 s}
  - cycles: {source: pump, to: 30 bar, times: 2, levels: 2, exercise: 0, dwell: 1 s, rest: 1 s, readings: 4}
"""


def machine(
    monkeypatch: pytest.MonkeyPatch, *libraries: str, ports: list[str] | None = None, below: bool = True
) -> None:
    """A computer without an IVI library, with these Python libraries and serial ports; `below`: and what they need."""
    real = importlib.util.find_spec

    def find_spec(name: str) -> ModuleSpec | None:
        if name in {"serial", "usb", "gpib", "gpib_ctypes"}:
            return real("json") if name in libraries else None
        return real(name)

    monkeypatch.setattr(resources, "find_spec", find_spec)
    monkeypatch.setattr(resources, "_with_pyvisa_py", lambda: True)
    monkeypatch.setattr(resources, "_ports", lambda: ports)
    monkeypatch.setattr(resources, "_has", lambda _: below)


def test_a_whole_acceptance(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["run", str(BRANCH), "--simulated", "--out", str(tmp_path / "run")]) == ExitCode.ACCEPT
    verdict = json.loads((tmp_path / "run" / "verdict.json").read_text("utf-8"))
    firmwares = {one["name"]: one["firmware"] for one in verdict["instruments"]}
    assert firmwares["thermometer"] == "not asked"
    assert {firmwares[name] for name in firmwares if name != "thermometer"} == {"simulated"}
    assert run(["verify", str(tmp_path / "run")]) == ExitCode.ACCEPT


def test_a_defect_is_found_through_described_instruments(tmp_path: Path) -> None:
    flawed = ["run", str(BRANCH), "--simulated", "--flaw", "wrong-gauge-factor", "--out", str(tmp_path / "run")]
    assert run(flawed) == ExitCode.REJECT


@pytest.mark.network
def test_the_same_rig_over_sockets(registry: Registry, tmp_path: Path) -> None:
    """Also the thermometer that only talks, while the client steers the clock."""
    rig = load_rig(BRANCH / "rig.yaml", registry)
    procedure = load_procedure(text=STEPS, registry=registry)
    fit(rig, procedure)
    simulated = registry.simulators["strain rig"].open(rig, BRANCH / "twin.yaml", 0, ())
    try:
        served = simulated.serve(0)
        with bench_reach(f"127.0.0.1:{served.clock_port}", rig) as reach:
            verdict = run_and_judge(Plan(rig, procedure, registry), reach, tmp_path, Silent())
    finally:
        simulated.close()
    assert verdict.verdict == "accept", verdict.why
    assert verdict.simulated


def test_check_says_what_this_machine_lacks_and_where(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    machine(monkeypatch)
    assert run(["check", str(BRANCH)]) == ExitCode.ACCEPT  # a rig may be checked at another desk
    said = capsys.readouterr().out
    place = f"{BRANCH / 'rig.yaml'}:240:15: instruments.ohmmeter.resource"
    assert f"{place}: ASRL needs pyserial, which is not installed here: pip install pyserial" in said
    assert "instruments.insulation tester.resource: GPIB needs a GPIB library" in said
    assert "instruments.bridge" not in said


def test_check_says_which_ports_there_are(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    machine(monkeypatch, "serial", "gpib", ports=["/dev/ttyS0", "/dev/ttyUSB1"])
    assert run(["check", str(BRANCH), "--json"]) == ExitCode.ACCEPT
    cautions = json.loads(capsys.readouterr().out)["cautions"]
    (said,) = [caution for caution in cautions if "serial port" in caution]
    assert said.endswith(
        "instruments.ohmmeter.resource: no serial port '/dev/ttyUSB0' on this machine (here: /dev/ttyS0, "
        "/dev/ttyUSB1): plug it in or correct the name"
    )


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("USB0::0x1234::0x0001::SN::INSTR", "USB needs pyusb, which is not installed here: pip install pyusb"),
        ("GPIB0::9::INSTR", "gpib-ctypes"),
        ("ASRL3::INSTR", "pyserial"),
        ("TCPIP::192.0.2.1::INSTR", ""),
        ("TCPIP::192.0.2.1::5025::SOCKET", ""),
    ],
)
def test_what_each_interface_needs(monkeypatch: pytest.MonkeyPatch, name: str, said: str) -> None:
    machine(monkeypatch)
    found = resources.obstacle(name)
    assert said in found
    assert bool(said) == bool(found)
    machine(monkeypatch, "usb", "gpib_ctypes", "serial")
    assert resources.obstacle(name) == ""


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("USB0::0x1234::0x0001::SN::INSTR", "USB needs libusb, which is not found here: install it from the system's"),
        ("GPIB0::9::INSTR", "GPIB needs the library of an interface card, which is not found here"),
    ],
)
def test_what_a_library_needs_in_its_turn(monkeypatch: pytest.MonkeyPatch, name: str, said: str) -> None:
    machine(monkeypatch, "usb", "gpib_ctypes", below=False)
    assert said in resources.obstacle(name)


def test_a_missing_library_is_named_for_its_instrument(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Not power and cable, where the machine cannot even try."""
    folder = shutil.copytree(BRANCH, tmp_path / "branch")
    rig = folder / "rig.yaml"
    written = rig.read_text("utf-8").replace("TCPIP::192.0.2.11::INSTR", "USB0::4660::1::SN::INSTR")
    rig.write_text(written, "utf-8")
    machine(monkeypatch, "usb", below=False)
    only = [word for name in ("bridge", "thermometer") for word in ("--only", name)]
    assert run(["check", str(folder), "--connect", *only, "--json"]) == ExitCode.VOID
    told = json.loads(capsys.readouterr().out)
    assert any("USB needs libusb" in caution for caution in told["cautions"])
    bridge, thermometer = (each["answer"] for each in told["instruments"])
    assert (
        bridge
        == "USB needs libusb, which is not found here: install it from the system's packages (libusb-1.0-0 on Debian)"
    )
    assert "pip install pyserial" in thermometer


@pytest.mark.network
def test_instruments_that_greet(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The ohmmeter on its serial line, the pump on its socket; simulated in this process, and served."""
    folder = shutil.copytree(BRANCH, tmp_path / "branch")
    written = (folder / "rig.yaml").read_text("utf-8")
    for identity in ('identity: {ask: "ID?"', 'identity: {ask: "WHO"'):
        assert identity in written
        written = written.replace(identity, f'greeting: ["* READY", "SELF TEST *"]\n      {identity}')
    (folder / "rig.yaml").write_text(written, "utf-8")
    look = ["check", str(folder), "--connect", "--only", "ohmmeter", "--only", "pump", "--json"]
    registry = load_registry()
    rig = load_rig(folder / "rig.yaml", registry)
    served = find_simulator(folder, registry).open(rig, folder / "twin.yaml", 1, ())
    try:
        for words in (["--simulated"], ["--bench", f"127.0.0.1:{served.serve(0).clock_port}"]):
            assert run([*look, *words]) == ExitCode.ACCEPT
            found = json.loads(capsys.readouterr().out)["instruments"]
            assert [each["answer"].split(", ")[-1] for each in found] == ["R-0007", "W-0009"]
    finally:
        served.close()


def test_pyvisa_py_itself_says_what_it_can_open() -> None:
    """VICP is no interface of ours: what it needs, PyVICP, is hardly ever there, so that it stands for the missing."""
    assert resources._has("TCPIP SOCKET")
    assert resources._has("ASRL INSTR")
    assert resources._has("VICP INSTR") is (importlib.util.find_spec("pyvicp") is not None)
    for interface, module in (("USB INSTR", "usb"), ("GPIB INTFC", "gpib_ctypes")):
        if importlib.util.find_spec(module) is None:
            assert not resources._has(interface)


def test_another_visa_library_brings_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    """And its own names for serial ports."""
    machine(monkeypatch, ports=["/dev/ttyS0"])
    monkeypatch.setattr(resources, "_with_pyvisa_py", lambda: False)
    assert resources.obstacle("GPIB0::9::INSTR") == ""
    assert resources.obstacle("ASRL1::INSTR") == ""


@pytest.mark.parametrize(("library", "is_py"), [("@py", True), ("/usr/lib/libvisa.so@ivi", False)])
def test_which_library_pyvisa_takes(monkeypatch: pytest.MonkeyPatch, library: str, is_py: bool) -> None:
    monkeypatch.setenv("PYVISA_LIBRARY", library)
    assert resources._with_pyvisa_py() is is_py


def test_a_port_has_a_name_a_path_or_a_number(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "ttyLINK").touch()
    machine(monkeypatch, "serial", ports=["COM3", "/dev/ttyS0"])
    for port in ("COM3", "3", "/dev/ttyS0", f"{tmp_path}/ttyLINK"):
        assert resources.obstacle(f"ASRL{port}::INSTR") == ""
    assert "no serial port 'COM4'" in resources.obstacle("ASRLCOM4::INSTR")


@pytest.mark.parametrize(
    ("first", "second", "meant"),
    [
        ("ASRL3::INSTR", "ASRLCOM3::INSTR", "COM3"),
        ("ASRL/dev/ttyS0::INSTR", "asrl/dev/ttyS0", "/dev/ttyS0"),
    ],
)
def test_one_port_written_in_two_ways(first: str, second: str, meant: str) -> None:
    assert VisaDriver.serial_port(first) == VisaDriver.serial_port(second) == Port(meant, "text")
    assert VisaDriver.serial_port("GPIB0::9::INSTR") is None


def test_several_at_one_port_are_told(registry: Registry) -> None:
    """A line with addresses is sound; two that send by themselves are not, and nobody but the maps can tell."""
    text = (BRANCH / "rig.yaml").read_text("utf-8").replace("/dev/ttyUSB1", "/dev/ttyUSB0")
    procedure = load_procedure(BRANCH / "acceptance.yaml", registry)
    said = Plan(load_rig(text=text, registry=registry), procedure, registry).cautions
    (told,) = (each for each in said if "at one serial port" in each)
    assert told.endswith("one that sends by itself needs a port of its own.")
    assert ", /dev/ttyUSB0: right only where each question names" in told


@pytest.mark.network
def test_connect_asks_each_one(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", str(BRANCH), "--connect", "--simulated"]) == ExitCode.ACCEPT
    said = capsys.readouterr().out
    rows = {line.split("  ")[0]: line for line in said.splitlines()}
    assert "Test bay, scanning ohmmeter, R-0007" in rows["ohmmeter"]
    assert "wall " in rows["thermometer"]  # it cannot say who it is; its noise tells that it is there
    assert rows["pump"].endswith("; safe")
    assert "serial port" not in said
    assert "opened as for a run" not in said
