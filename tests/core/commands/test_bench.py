"""Foreign eyes: the served bench answers to PyVISA's socket backend and to a SCPI client that is not ours."""

from __future__ import annotations

import json
import shutil
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from rigproof.__main__ import run
from rigproof.commands import simulated
from rigproof.commands.simulated import bench_reach
from rigproof.errors import ExitCode, UsageError
from rigproof.plugins import load_registry
from rigproof.run.accepting import run_and_judge
from rigproof.run.plan import Plan, make_plan
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


@pytest.mark.parametrize(
    "reply", [b"", b"-113,undefined\n", b"7\n", b"\xff\n"], ids=["silent", "error", "7", "no text"]
)
def test_another_port_than_the_clocks_is_told_at_once(
    spool: Plan, monkeypatch: pytest.MonkeyPatch, reply: bytes
) -> None:
    """That of an instrument, say, which does not know the question."""
    monkeypatch.setattr(simulated, "_ANSWERS_WITHIN_S", 0.2)
    with socket.create_server(("127.0.0.1", 0)) as listener:

        def answer() -> None:
            connection, _ = listener.accept()
            with connection:
                connection.recv(100)
                connection.sendall(reply)
                connection.recv(100)  # until the other side has gone

        thread = threading.Thread(target=answer)
        thread.start()
        address = f"127.0.0.1:{listener.getsockname()[1]}"
        told = f"--bench {address}: what answers there is no clock of a bench; give the clock port"
        with pytest.raises(UsageError, match=told), bench_reach(address, spool.rig):
            pass
        thread.join(timeout=10)


def written_anew(spool_folder: Path, folder: Path, *changes: tuple[str, str]) -> Path:
    """A copy of the spool with changes of its rig.yaml."""
    shutil.copytree(spool_folder, folder)
    written = (folder / "rig.yaml").read_text("utf-8")
    for old, new in changes:
        assert old in written
        written = written.replace(old, new)
    (folder / "rig.yaml").write_text(written, "utf-8")
    return folder


def at_its_ports(served: dict[str, object]) -> list[tuple[str, str]]:
    """The addresses in rig.yaml, and the ports that the bench prints."""
    ports = served["ports"]
    assert isinstance(ports, dict)
    return [(resource, f"TCPIP::127.0.0.1::{port}::SOCKET") for resource, port in ports.items()]


def test_a_live_run_at_the_ports_of_a_bench_is_refused_before_anything_is_kept(
    served: dict[str, object],
    spool_folder: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """No record, no alarm, and the way on, which then finds them."""
    folder, out = written_anew(spool_folder, tmp_path / "rig", *at_its_ports(served)), tmp_path / "out"
    assert run(["check", str(folder)]) == ExitCode.ACCEPT
    cautioned = capsys.readouterr().out
    assert "At ports of this machine: bridge, ohmmeter, insulation tester, transmitter, thermometer, pump." in cautioned
    assert ", and what is said above is to be minded" in cautioned
    assert run(["run", str(folder), "--out", str(out)]) == ExitCode.WRONG_INPUT
    told = "".join(capsys.readouterr())
    mixed = written_anew(spool_folder, tmp_path / "mixed", at_its_ports(served)[0])
    assert run(["run", str(mixed)]) == ExitCode.WRONG_INPUT
    both = capsys.readouterr().err
    assert "a simulated instrument answers here" in both
    assert "is an address for examples (RFC 5737)" in both
    port = dict(at_its_ports(served))[BRIDGE]
    assert ": instruments.bridge.resource: a simulated instrument answers here, as `rigproof bench` serves it" in told
    assert port in told
    assert "add --bench HOST:PORT to the command" in told
    assert "!!!" not in told
    assert "caution" not in told
    assert not out.exists()
    looked = ["check", str(folder), "--connect", "--bench", f"127.0.0.1:{served['clock']}"]
    assert run(looked) == ExitCode.ACCEPT
    assert "B-0107" in capsys.readouterr().out
    assert run([*looked[:-1], f"localhost:{served['clock']}"]) == ExitCode.ACCEPT


@pytest.mark.parametrize("command", [["run"], ["check", "--connect"]])
def test_a_bench_that_serves_another_rig_is_refused(
    served: dict[str, object],
    spool_folder: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    command: list[str],
) -> None:
    """The same instruments at the same addresses, and another wall; how the document is written does not matter."""
    bench = ["--bench", f"127.0.0.1:{served['clock']}"]
    other = written_anew(
        spool_folder, tmp_path / "another one", ("4.52 mm", "4.6 mm"), ("above: 38 bar", "above: 37 bar")
    )
    out = ["--out", str(tmp_path / "out")] if command == ["run"] else []
    assert run([*command, str(other), *bench, *out]) == ExitCode.WRONG_INPUT
    told = capsys.readouterr().err
    assert f"--bench {bench[1]}: the bench serves 'Pipe spool DN 200 of a heat network, test bay' (" in told
    assert f"{spool_folder / 'rig.yaml'}), and there 'part.wall', 'interlocks.overpressure' are not as in" in told
    assert f" {other / 'rig.yaml'}: nothing was opened" in told
    assert f"nothing was opened; end it, and serve this rig: `rigproof bench '{other}'`" in told
    assert not (tmp_path / "out").exists()


def test_how_rig_yaml_is_written_does_not_make_another_rig(
    served: dict[str, object], spool_folder: Path, tmp_path: Path
) -> None:
    same = written_anew(
        spool_folder, tmp_path / "same", ("# packet", "# of the packet"), ("ends: closed", "ends:  'closed'")
    )
    plan = make_plan(same, load_registry())
    with bench_reach(f"127.0.0.1:{served['clock']}", plan.rig) as reach:
        assert reach.simulated


@pytest.mark.parametrize("reply", ["error: rig?: unknown", "7", "{}", '{"name": "x", "file": "y"}'])
def test_a_bench_that_cannot_tell_its_rig_is_believed(spool: Plan, reply: str) -> None:
    """A simulator of somebody's own has a clock of its own."""
    told = {"addresses?": json.dumps({each.resource: "x" for each in spool.rig.instruments.values()}), "rig?": reply}
    with socket.create_server(("127.0.0.1", 0)) as listener:

        def answer() -> None:
            connection, _ = listener.accept()
            with connection, connection.makefile("rw") as lines:
                for line in lines:
                    lines.write(told[line.strip()] + "\n")
                    lines.flush()

        thread = threading.Thread(target=answer)
        thread.start()
        with bench_reach(f"127.0.0.1:{listener.getsockname()[1]}", spool.rig) as reach:
            assert reach.simulated
        thread.join(timeout=10)


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
