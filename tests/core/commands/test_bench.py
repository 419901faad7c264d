"""Foreign eyes: the served bench answers to PyVISA's socket backend and to a SCPI client that is not ours."""

from __future__ import annotations

import json
import shutil
import signal
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from rigproof.__main__ import run
from rigproof.commands.simulated import bench_reach
from rigproof.errors import ExitCode, UsageError
from rigproof.run.accepting import run_and_judge
from rigproof.run.plan import Plan
from rigproof.run.progress import Silent
from rigproof.verdict.record import Verdict

pytestmark = pytest.mark.network
BRIDGE, TRANSMITTER = "TCPIP::192.0.2.11::5025::SOCKET", "TCPIP::192.0.2.14::5025::SOCKET"


@pytest.fixture
def served(spool_folder: Path) -> Iterator[dict[str, object]]:
    command = [sys.executable, "-m", "rigproof", "bench", str(spool_folder), "--port", "0", "--json"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        yield json.loads(process.stdout.readline())
        process.send_signal(signal.SIGINT)
        assert process.wait(timeout=20) == 0


def test_the_same_run_over_sockets_gives_the_same_verdict(
    served: dict[str, object], accept: Callable[..., Verdict], spool: Plan, tmp_path: Path
) -> None:
    (tmp_path / "near").mkdir()
    (tmp_path / "far").mkdir()
    near = accept(spool, tmp_path / "near")
    with bench_reach(f"127.0.0.1:{served['clock']}", spool.rig) as reach:
        far = run_and_judge(spool, reach, tmp_path / "far", Silent())
    assert far.verdict == near.verdict == "accept"
    assert far.simulated
    for a, b in zip(far.checks, near.checks, strict=True):
        assert (a.name, a.subject, a.finding) == (b.name, b.subject, b.finding)
        if a.measured is not None and b.measured is not None and a.name != "insulation":
            assert abs(a.measured - b.measured) <= 4 * a.u + 1e-12


@pytest.mark.foreign
@pytest.mark.skipif(
    shutil.which("lxi") is None, reason="lxi-tools is not installed (Debian: apt-get install lxi-tools)"
)
def test_a_foreign_client_reads_identity_and_pressure(served: dict[str, object]) -> None:
    ports = served["ports"]
    assert isinstance(ports, dict)
    assert _lxi(ports[BRIDGE], "*IDN?").split(",")[2] == "B-0107"
    assert abs(float(_lxi(ports[TRANSMITTER], "MEASURE:PRESSURE? (@1)"))) < 0.1e5
    assert _lxi(ports[TRANSMITTER], "SYST:ERR?").startswith("0,")


def _lxi(port: int, message: str) -> str:
    command = ["lxi", "scpi", "-a", "127.0.0.1", "-p", str(port), "-r", "-t", "5", message]
    return subprocess.run(command, check=True, capture_output=True, text=True, timeout=20).stdout.strip()


@pytest.mark.parametrize("address", ["127.0.0.1:1", "nonsense", "127.0.0.1:x"])
def test_nobody_there(spool: Plan, address: str) -> None:
    with pytest.raises(UsageError, match="--bench"), bench_reach(address, spool.rig):
        pass


@pytest.mark.parametrize("command", [["run"], ["check", "--connect"]])
def test_what_the_bench_does_not_serve_is_never_opened(
    served: dict[str, object],
    spool_folder: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    command: list[str],
) -> None:
    """At its own resource there may be a real instrument: here a listener that nobody may come to."""
    with socket.create_server(("127.0.0.1", 0)) as listener:
        rig = tmp_path / "rig"
        shutil.copytree(spool_folder, rig)
        written = (rig / "rig.yaml").read_text("utf-8")
        own = f"TCPIP::127.0.0.1::{listener.getsockname()[1]}::SOCKET"
        (rig / "rig.yaml").write_text(written.replace("TCPIP::192.0.2.15::5025::SOCKET", own), "utf-8")
        out = ["--out", str(tmp_path / "out")] if command == ["run"] else []
        assert run([*command, str(rig), "--bench", f"127.0.0.1:{served['clock']}", *out]) == ExitCode.WRONG_INPUT
        assert f"the bench does not serve thermometer ({own})" in capsys.readouterr().err
        listener.settimeout(0.2)
        with pytest.raises(TimeoutError):
            listener.accept()
