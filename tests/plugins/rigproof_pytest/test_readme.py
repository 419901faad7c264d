"""The authors' page: its tests run, its advice is the kit's, its rig reads, its tables are whole."""

from __future__ import annotations

import importlib.util
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from rigproof.__main__ import cli
from rigproof.clock import WallClock
from rigproof.documents import fit, load_procedure, load_rig
from rigproof.errors import DocumentError
from rigproof.instruments import Reads, able
from rigproof.journal import read_journal
from rigproof.plugins import Registry
from rigproof.run.accepting import run_and_judge
from rigproof.run.opening import Reach, make_driver, open_instrument
from rigproof.run.plan import Plan
from rigproof.run.progress import Silent
from rigproof.run.simulated import reach_of, simulation
from rigproof.verdict.record import Verdict
from rigproof_pytest import DriverContract, Instrument
from rigproof_pytest.kit import Kit
from rigproof_pytest.peer import Peer

pytest_plugins = ["pytester"]

ROOT = Path(__file__).parents[3]
SPOOL = ROOT / "tests" / "rigs" / "spool"
PAGE = (ROOT / "plugins" / "rigproof_pytest" / "README.md").read_text("utf-8")


def snippet(mark: str) -> str:
    """The one block of the page that stands below this mark."""
    (found,) = re.findall(rf"<!-- {re.escape(mark)} -->\n```\w+\n(.*?)```", PAGE, re.DOTALL)
    return str(found)


@pytest.fixture
def package(pytester: pytest.Pytester) -> Path:
    """The module that `rigproof new driver` makes, importable, and the page's test of it."""
    made = CliRunner().invoke(cli, ["new", "driver", "load indicator", "--in", str(pytester.path)])
    assert made.exit_code == 0, made.output
    module = pytester.path / "rigproof_load_indicator.py"
    (pytester.path / "rigproof-load-indicator" / module.name).rename(module)
    pytester.makepyfile(test_page=snippet("test: load indicator"))
    return module


def test_the_tests_of_the_page_pass(package: Path, pytester: pytest.Pytester) -> None:
    outcomes = pytester.runpytest_inprocess("-q", "-W", "error", "test_page.py").parseoutcomes()
    assert set(outcomes) == {"passed", "skipped"}
    assert outcomes["passed"] > 20


def test_the_advice_on_the_page_is_what_the_kit_says(package: Path, pytester: pytest.Pytester) -> None:
    (forgotten,) = re.findall(r"<!-- advice: (.*) -->", PAGE)
    text = package.read_text("utf-8")
    assert text.count(forgotten) == 1
    package.write_text(text.replace(forgotten, ""), "utf-8")
    result = pytester.runpytest_inprocess("-q", "test_page.py")
    assert result.parseoutcomes()["failed"] == 1
    assert snippet(f"advice: {forgotten}") in result.stdout.str()


def test_the_source_of_the_page_passes(with_sound: pytest.Pytester) -> None:
    with_sound.makepyfile(my_pump="from sound import Pump as Pump\n", test_page=snippet("test: pump"))
    outcomes = with_sound.runpytest_inprocess("-q", "-W", "error", "test_page.py").parseoutcomes()
    assert set(outcomes) == {"passed", "skipped"}


def test_the_turntable_of_the_page_passes(pytester: pytest.Pytester) -> None:
    pytester.makepyfile(test_page=snippet("test: turntable"))
    outcomes = pytester.runpytest_inprocess("-q", "-W", "error", "test_page.py").parseoutcomes()
    assert set(outcomes) == {"passed"}
    assert outcomes["passed"] > 10


def test_the_driver_with_habits_passes_in_every_state(pytester: pytest.Pytester) -> None:
    pytester.makepyfile(my_travel=snippet("driver: travel indicator"), test_page=snippet("test: travel indicator"))
    outcomes = pytester.runpytest_inprocess("-q", "-W", "error", "test_page.py").parseoutcomes()
    assert set(outcomes) == {"passed", "skipped"}
    assert outcomes["passed"] > 40


@pytest.mark.network
def test_the_rig_of_the_page_reads_the_instrument(package: Path, registry: Registry) -> None:
    driver = module_at(package).LoadIndicatorDriver
    with_mine = replace(registry, drivers=registry.drivers | {driver.kind: driver})
    rig = load_rig(text=rig_text(), registry=with_mine)
    table = {"ID?": "own make,load indicator,0001,1.0", "F1?": "+0012.34 kN"}
    peer = Peer(Instrument(table), b"\r", b"\r")
    instrument, channel = rig.instruments["cell"], rig.channels["load"]
    there = {instrument.resource: f"TCPIP::127.0.0.1::{peer.port}::SOCKET"}
    made = make_driver(rig, instrument, Reach(WallClock(), "@py", addresses=there))
    try:
        assert open_instrument(instrument, made, Reach(WallClock())).serial_number == "0001"
        meter = able(made, Reads)
        assert meter is not None
        assert meter.read([channel.input], 2, 0.0).tolist() == [[12340.0], [12340.0]]
    finally:
        made.close()
        peer.close()


def simulated(registry: Registry, pytester: pytest.Pytester, change: str = "") -> Verdict:
    """A short run of the simulated spool whose thermometer is the page's; `change` comes behind the page's driver."""
    path = pytester.makepyfile(my_surface=snippet("driver: surface thermometer") + change)
    driver = module_at(path).SurfaceThermometer
    with_mine = replace(registry, drivers=registry.drivers | {driver.kind: driver})
    text = (SPOOL / "rig.yaml").read_text("utf-8").replace("driver: thermometer", f"driver: {driver.kind}")
    rig = load_rig(text=text, registry=with_mine)
    hold = "to: 35.75 bar, stages: [50 %, 100 %], dwell: 2 s, hold: 30 s, rest: 5 s, readings: 10"
    text = f"rigproof: procedure/1\nname: x\nsteps:\n  - proof: {{source: pump, {hold}}}\n"
    procedure = load_procedure(text=text, registry=with_mine)
    fit(rig, procedure)
    made = simulation(rig, SPOOL, with_mine, 3, ())
    try:
        return run_and_judge(Plan(rig, procedure, with_mine), reach_of(made), pytester.mkdir("out"), Silent())
    finally:
        made.close()


def test_the_stand_in_of_the_page_is_run_simulated(registry: Registry, pytester: pytest.Pytester) -> None:
    """twin.yaml: 20 °C at the start, 2 mK of noise; rig.yaml names who must answer, and so does the stand-in."""
    verdict = simulated(registry, pytester)
    assert verdict.end.startswith("finished"), verdict.why
    (about,) = [each for each in verdict.instruments if each.name == "thermometer"]
    assert (about.driver, about.serial_number, about.firmware) == ("surface thermometer", "T-0031", "simulated")
    entries = read_journal(pytester.path / "out" / "journal.jsonl").entries
    blocks = [entry.data["values"] for entry in entries if entry.kind == "samples"]
    water = [value for values in blocks for value in values.get("water", ())]
    assert len(water) > 5
    assert all(abs(value - 20.0) < 0.2 and value == round(value, 2) for value in water)
    assert len(set(water)) > 1


def test_the_stand_in_of_the_page_serves_the_contract_too(pytester: pytest.Pytester) -> None:
    pytester.makepyfile(
        my_surface=snippet("driver: surface thermometer"), test_page=snippet("test: surface thermometer")
    )
    outcomes = pytester.runpytest_inprocess("-q", "-W", "error", "test_page.py").parseoutcomes()
    assert set(outcomes) == {"passed", "skipped"}
    assert outcomes["passed"] > 20


def test_a_defect_of_a_stand_in_is_told_as_one(registry: Registry, pytester: pytest.Pytester) -> None:
    broken = "\nSimulatedThermometer.answer = lambda self, message: 1 / 0\n"
    verdict = simulated(registry, pytester, broken)
    assert verdict.verdict == "void"
    assert "thermometer: WHO: its stand-in SimulatedThermometer raised ZeroDivisionError" in " ".join(verdict.why)


def test_a_stand_in_reads_and_does_no_more(registry: Registry, pytester: pytest.Pytester) -> None:
    loads = "\nfrom rigproof.instruments import Shunts\nclass Relays(SurfaceThermometer, Shunts):\n    pass\n"
    loads += "SurfaceThermometer = Relays\n"
    with pytest.raises(DocumentError, match="driver 'surface thermometer' has a stand-in and Shunts"):
        simulated(registry, pytester, loads)


def rig_text() -> str:
    """The spool with the page's instrument and channel in it."""
    text = (ROOT / "tests" / "rigs" / "spool" / "rig.yaml").read_text("utf-8")
    for section in ("channels", "instruments"):
        added = re.sub("^(?=.)", "  ", snippet(f"rig: {section}"), flags=re.MULTILINE)
        text = text.replace(f"\n{section}:\n", f"\n{section}:\n{added}", 1)
    return text


def module_at(path: Path) -> Any:
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_whatever_may_be_stated_is_on_the_page() -> None:
    stated = [name for name, kind in Kit.__annotations__.items() if kind.startswith("ClassVar")]
    assert len(stated) > 10
    assert [name for name in stated if f"`{name}`" not in PAGE] == []


def test_every_contract_test_is_on_the_page_and_no_other() -> None:
    there = {name for name in dir(DriverContract) if name.startswith("test_")}
    assert set(re.findall(r"`(test_\w+)`", PAGE)) == there
