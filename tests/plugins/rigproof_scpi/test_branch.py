"""rigs/branch, whose ohmmeter, thermometer and pump are described in rig.yaml alone: check, runs, what is missing."""

from __future__ import annotations

import importlib.util
import json
from importlib.machinery import ModuleSpec
from pathlib import Path

import pytest

from rigproof.__main__ import run
from rigproof.commands.simulated import bench_reach
from rigproof.documents import fit, load_procedure, load_rig
from rigproof.errors import ExitCode
from rigproof.plugins import Registry
from rigproof.run.accepting import run_and_judge
from rigproof.run.plan import Plan
from rigproof.run.progress import Silent
from rigproof_scpi import resources

BRANCH = Path(__file__).parents[3] / "rigs" / "branch"
STEPS = """\
rigproof: procedure/1
name: x
steps:
  - resistance: {}
  - balance: {settle: 2 s}
  - cycles: {source: pump, to: 30 bar, times: 2, levels: 2, exercise: 0, dwell: 1 s, rest: 1 s, readings: 2}
"""


def machine(monkeypatch: pytest.MonkeyPatch, *libraries: str, ports: list[str] | None = None) -> None:
    """A computer without an IVI library, with these Python libraries and serial ports."""
    real = importlib.util.find_spec

    def find_spec(name: str) -> ModuleSpec | None:
        if name in {"serial", "usb", "gpib", "gpib_ctypes"}:
            return real("json") if name in libraries else None
        return real(name)

    monkeypatch.setattr(resources, "find_spec", find_spec)
    monkeypatch.setattr(resources, "_with_pyvisa_py", lambda: True)
    monkeypatch.setattr(resources, "_ports", lambda: ports)


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
        with bench_reach(f"127.0.0.1:{served.clock_port}") as reach:
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
    place = f"{BRANCH / 'rig.yaml'}:71:15: instruments.ohmmeter.resource"
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


def test_another_visa_library_brings_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    machine(monkeypatch)
    monkeypatch.setattr(resources, "_with_pyvisa_py", lambda: False)
    assert resources.obstacle("GPIB0::9::INSTR") == ""


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
