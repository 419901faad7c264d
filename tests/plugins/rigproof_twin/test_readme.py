"""The page: its list is the twin's, its snippets run, its bench is served, checked and run."""

from __future__ import annotations

import re
import shlex
import signal
import subprocess
import sys
import types
from dataclasses import replace
from pathlib import Path

import pytest

from rigproof.__main__ import run
from rigproof.commands import bench
from rigproof.documents import load_rig
from rigproof.errors import ExitCode, UsageError
from rigproof.plugins import Registry
from rigproof.run.looking import look
from rigproof.run.simulated import reach_of, simulation
from rigproof.simulation import StandIn
from rigproof_twin.instruments.terminals import QUANTITIES
from rigproof_twin.roles import METERS, SOURCES

ROOT = Path(__file__).parents[3]
PAGE = (ROOT / "plugins" / "rigproof_twin" / "README.md").read_text("utf-8")
GUIDE = (ROOT / "plugins" / "rigproof_pytest" / "README.md").read_text("utf-8")
MAPS = (ROOT / "plugins" / "rigproof_scpi" / "COMMAND_MAP.md").read_text("utf-8")
RIG = """\
rigproof: rig/1
name: one indicator
part: {model: cylinder, outside diameter: 219.1 mm, wall: 4.5 mm, ends: closed, gauge surface: outside, filling: water,
       material: {name: carbon steel, elastic modulus: 206 GPa, poisson ratio: 0.29, expansion: 11.7 ppm/K,
                  yield strength: 235 MPa}}
channels: {travel: {measures: length, instrument: indicator, input: 1, accuracy: {fixed: 0.1 mm}}}
instruments:
  indicator:
    driver: described meter
    resource: TCPIP::192.0.2.9::7711::SOCKET
    settings:
      quantity: length
      unit: mm
      identity: {ask: "ID?", reply: "{maker},{model},{serial number},{firmware}"}
      read: {ask: "P{input}?", reply: "{value} mm"}
"""


def snippet(mark: str) -> str:
    (found,) = re.findall(rf"<!-- {mark} -->\n```\w+\n(.*?)```", PAGE, re.DOTALL)
    return str(found)


def module(mark: str) -> types.ModuleType:
    made = types.ModuleType("snippet")
    exec(compile(snippet(mark), f"README.md, {mark}", "exec"), made.__dict__)
    return made


def words(text: str) -> set[str]:
    """Of a list in a sentence."""
    return {word for word in re.split(r",\s+|\s+and\s+", text.replace("\n", " ")) if word}


def test_the_lists_of_quantities_are_whole() -> None:
    (listed,) = re.findall("<!-- quantities -->(.*?)<!-- end -->", PAGE, re.DOTALL)
    assert words(listed) == set(QUANTITIES)
    (listed,) = re.findall(r"The bundled simulated rig knows (.*?); ", GUIDE, re.DOTALL)
    assert words(listed) == set(QUANTITIES)
    (listed,) = re.findall(r"answers these very\s+messages, for (.*?)\. The", MAPS, re.DOTALL)
    assert words(listed) == {*METERS, *SOURCES}


def test_the_stand_in_of_the_page_says_what_is_there() -> None:
    """2 bar make 0.16 mm of the page's 0.8 mm at 10 bar."""
    kind = module("stand-in").SimulatedTravel
    assert issubclass(kind, StandIn)
    assert kind.at_load is not StandIn.at_load
    assert kind.at_load(None, 1, 10e5) == pytest.approx(0.8e-3)
    assert kind.at_load(None, 1, 2e5) == pytest.approx(0.16e-3)


@pytest.mark.network
def test_the_bench_of_the_page_is_served_checked_and_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    lines = [shlex.split(line, comments=True) for line in snippet("bench").splitlines()]
    (serve, check, take) = ([word for word in line if word != "rigproof"] for line in lines)
    default = next(option.default for option in bench.command.params if option.name == "port")
    assert check[-1] == f"127.0.0.1:{default}"
    command = [sys.executable, "-m", "rigproof", *serve, "--port", "0"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as served:
        assert served.stdout is not None
        assert served.stdout.readline().startswith("SIMULATED")
        clock = served.stdout.readline().split()[0]
        out = str(tmp_path / "over-sockets")
        here = {f"127.0.0.1:{default}": clock, "over-sockets": out}
        assert run([here.get(word, word) for word in check]) == ExitCode.ACCEPT
        assert run([*(here.get(word, word) for word in take), "--quiet"]) == ExitCode.ACCEPT
        for other in (["--flaw", "soft-bond"], ["--simulated"]):
            assert run([*(here.get(word, word) for word in take[:-1]), f"{out}2", *other]) == ExitCode.WRONG_INPUT
        served.send_signal(signal.SIGINT)
        assert served.wait(timeout=20) == 0


@pytest.mark.network
def test_the_simulator_of_the_page_is_looked_at(registry: Registry, tmp_path: Path) -> None:
    """After 50 s at 1 µm/s the pointer stands 0.05 mm on."""
    (mine,) = module("simulator").rigproof_simulators()
    known = replace(registry, simulators=registry.simulators | {mine.kind: mine})
    (tmp_path / "twin.yaml").write_text("rigproof: twin/1\nsimulator: my bay\n", "utf-8")
    rig = load_rig(text=RIG, registry=known)
    made = simulation(rig, tmp_path, known, 0, ())
    try:
        (first,) = look(rig, reach_of(made))
        made.clock.wait(50.0)
        (second,) = look(rig, reach_of(made))
        with pytest.raises(UsageError, match="use --simulated"):
            made.serve(0)
    finally:
        made.close()
    assert first.well
    assert first.answer == "own make, indicator, 7"
    moved_mm = float(second.readings["travel"].split()[0]) - float(first.readings["travel"].split()[0])
    assert moved_mm == pytest.approx(0.05, abs=0.01)
