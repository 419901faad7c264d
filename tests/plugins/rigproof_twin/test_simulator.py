"""The simulator behind the door: repeatable byte for byte, in process and served, clear about what it cannot do."""

from __future__ import annotations

import json
import socket
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest

from rigproof.documents import load_rig
from rigproof.errors import DocumentError, UsageError
from rigproof.plugins import Registry
from rigproof.run.plan import Plan
from rigproof.simulation import Planted, Simulation
from rigproof_twin.beam import weights
from rigproof_twin.document import read_twin
from rigproof_twin.draw import Streams
from rigproof_twin.simulator import SimulatedRig, StrainRig
from rigproof_twin.survey import survey

BEAM = Path(__file__).parents[3] / "rigs" / "beam"
PUMP, BRIDGE, METER = (f"TCPIP::192.0.2.{n}::5025::SOCKET" for n in (16, 11, 14))


def opened(spool: Plan, folder: Path, seed: int = 0, flaws: Sequence[Planted] = ()) -> SimulatedRig:
    rig = StrainRig().open(spool.rig, folder / "twin.yaml", seed, flaws)
    assert isinstance(rig, SimulatedRig)
    return rig


def talk(rig: SimulatedRig) -> list[bytes]:
    """A small measurement at the wire: zero, raise, read, shut in, wait, read, vent, read."""
    replies = []

    def say(resource: str, *messages: str) -> None:
        exchange = rig.bench.connect(resource, bus=True)
        for message in messages:
            exchange.write(message.encode())
            if "?" in message:
                replies.append(exchange.read(10_000, None, 60.0)[0])

    read = ("CONF:VOLT:RAT (@1,2)", "SENS:SWE:POIN 5;TINT 0.01", "FORM REAL,64", "READ?")
    say(BRIDGE, "*IDN?", *read)
    say(PUMP, "SOUR:PRES:SLEW 5E4", "SOUR:PRES 25E5", "OUTP ON")
    rig.clock.wait(80.0)
    say(BRIDGE, *read)
    say(METER, "MEAS:PRES? (@1)")
    say(PUMP, "ROUT:OPEN (@1)")
    rig.clock.wait(600.0)
    say(BRIDGE, *read)
    say(METER, "MEAS:PRES? (@1)")
    say(PUMP, "OUTP OFF", "OUTP?")
    rig.clock.wait(10.0)
    say(METER, "MEAS:PRES? (@1)")
    return replies


def test_the_same_seed_gives_the_same_bytes(spool: Plan, spool_folder: Path) -> None:
    assert talk(opened(spool, spool_folder, 5)) == talk(opened(spool, spool_folder, 5))
    assert opened(spool, spool_folder, 5).truth() == opened(spool, spool_folder, 5).truth()


def test_another_seed_gives_another_rig(spool: Plan, spool_folder: Path) -> None:
    one, other = opened(spool, spool_folder, 5), opened(spool, spool_folder, 6)
    assert one.truth()["part wall m"] != other.truth()["part wall m"]
    assert talk(one)[1:] != talk(other)[1:]


def test_identity_is_the_rig_s(spool: Plan, spool_folder: Path) -> None:
    assert talk(opened(spool, spool_folder))[0].startswith(b"Test bay,four-input bridge amplifier,B-0107,")


def test_truth_lies_within_what_the_rig_states(spool: Plan, spool_folder: Path) -> None:
    for seed in range(20):
        truth = opened(spool, spool_folder, seed).truth()
        assert truth["part outside diameter m"] == pytest.approx(0.2191, rel=0.002)
        assert truth["part elastic modulus pa"] == pytest.approx(206e9, rel=0.02)
        assert truth["hoop gauge factor"] == pytest.approx(2.08, rel=0.005)
        assert truth["axial packet ohm"] == pytest.approx(350.0, rel=0.003)
        assert truth["bridge input 1 gain error"] == pytest.approx(0.0, abs=5e-4)
        assert truth["transmitter input 1 offset"] == pytest.approx(0.0, abs=2000.0)


@pytest.mark.network
def test_a_served_rig_answers_and_lets_go(spool: Plan, spool_folder: Path) -> None:
    rig = opened(spool, spool_folder)
    service = rig.serve(0)
    assert service == rig.serve(0)
    assert set(service.ports) == {instrument.resource for instrument in spool.rig.instruments.values()}
    with socket.create_connection(("127.0.0.1", service.ports[BRIDGE]), timeout=5.0) as line:
        line.sendall(b"*IDN?\n")
        assert b"B-0107" in line.recv(200)
    with socket.create_connection(("127.0.0.1", service.clock_port), timeout=5.0) as line:
        line.sendall(b"ports?\n")
        assert json.loads(line.recv(4000)) == dict(service.ports)
    rig.close()
    rig.close()
    with pytest.raises(OSError, match="refused"):
        socket.create_connection(("127.0.0.1", service.clock_port), timeout=5.0)


def test_it_comes_in_by_the_door(registry: Registry) -> None:
    simulator = registry.simulators["strain rig"]
    assert [flaw.name for flaw in simulator.flaws()] == [flaw.name for flaw in StrainRig().flaws()]


def test_closing_forgets_the_rig(spool: Plan, spool_folder: Path) -> None:
    from rigproof_twin import registry as benches

    rig: Simulation = opened(spool, spool_folder)
    token = rig.visa_library.partition("@")[0]
    assert benches.find(token).clock is rig.clock
    rig.close()
    with pytest.raises(UsageError, match=token):
        benches.find(token)


@pytest.mark.parametrize(
    ("part", "message"),
    [
        (SimpleNamespace(kind="column"), "part.model: the twin has no physics for a column"),
        (SimpleNamespace(kind="cylinder", filling="air"), "part.filling: the twin has no physics for air"),
        (SimpleNamespace(kind="cylinder"), "has no field 'filling'"),
    ],
)
def test_a_part_it_does_not_know_is_told(spool: Plan, spool_folder: Path, part: object, message: str) -> None:
    rig = replace(spool.rig, part=part)  # type: ignore[arg-type]
    twin = read_twin(spool_folder / "twin.yaml", spool.rig)
    with pytest.raises((DocumentError, UsageError), match=message):
        survey(rig, twin, Streams(0))


def test_faults_of_twin_yaml_are_placed(spool: Plan, spool_folder: Path, tmp_path: Path) -> None:
    text = (spool_folder / "twin.yaml").read_text()
    text = text.replace("noise: 1 mΩ", "noise: 1 mbar").replace("  thermometer:", "  thermomether:")
    text = text.replace("offset: 600 µε", "offset: 600")
    (tmp_path / "twin.yaml").write_text(text)
    with pytest.raises(DocumentError) as caught:
        opened(spool, tmp_path)
    said = {fault.where: fault.message for fault in caught.value.faults}
    assert len(said) == 3
    assert "unit of" in said["instruments.ohmmeter.noise"]
    assert "no instrument of the rig" in said["instruments.thermomether"]
    assert "has no unit" in said["gauges.offset"]
    assert all(fault.line > 0 for fault in caught.value.faults)


def test_a_driver_for_which_it_has_no_instrument_is_told_at_its_place(
    spool: Plan, spool_folder: Path, tmp_path: Path
) -> None:
    from rigproof_scpi.thermometer import Thermometer

    class Probe(Thermometer):
        kind = "probe"

    probe = spool.rig.instruments["thermometer"].model_copy(update={"driver": Probe})
    rig = replace(spool.rig, instruments={**spool.rig.instruments, "thermometer": probe})
    twin = spool_folder / "twin.yaml"
    text = "".join(line for line in twin.read_text("utf-8").splitlines(True) if not line.startswith("  thermometer:"))
    (tmp_path / "twin.yaml").write_text(text, "utf-8")
    with pytest.raises(DocumentError) as caught:
        StrainRig().open(rig, tmp_path / "twin.yaml", 0, ())
    (fault,) = caught.value.faults
    assert (fault.where, fault.value) == ("instruments.thermometer.driver", "thermometer")
    assert fault.message == "the twin has no probe"
    assert "the twin knows bridge amplifier, " in fault.remedy
    assert "any driver with a `stand_in`; without `--simulated` nothing" in fault.remedy


@pytest.mark.parametrize(
    ("sources", "part", "message"),
    [
        ({"weights": "weights"}, "cylinder", "sources.weights.instrument: the twin hangs no weights on a cylinder"),
        ({"weights": "indicator"}, "cantilever", "sources.weights.instrument: the twin loads a cantilever by weights"),
    ],
)
def test_weights_where_it_hangs_none_are_told_at_their_place(
    registry: Registry, sources: dict[str, str], part: str, message: str
) -> None:
    beam = load_rig(BEAM / "rig.yaml", registry)
    loads = {name: beam.sources[name].model_copy(update={"instrument": by}) for name, by in sources.items()}
    rig = replace(beam, sources=loads, part=SimpleNamespace(kind=part))  # type: ignore[arg-type]
    with pytest.raises(DocumentError, match=message):
        weights(rig, Streams(0))
