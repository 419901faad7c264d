"""A rig whose instruments were never written down: nothing is opened, and both ways on are named."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from rigproof.__main__ import run
from rigproof.clock import WallClock
from rigproof.documents.bench import WrittenIdentity
from rigproof.errors import DocumentError, ExitCode, InstrumentError
from rigproof.instruments import Driver, Identity
from rigproof.run import looking
from rigproof.run.looking import look
from rigproof.run.opening import Reach, expect_named
from rigproof.run.plan import Plan
from rigproof.run.unwritten import FILL_IN, for_examples, refuse_unwritten


@pytest.mark.parametrize(
    ("resource", "address"),
    [
        ("TCPIP::192.0.2.11::5025::SOCKET", "192.0.2.11"),
        ("tcp://198.51.100.7:502", "198.51.100.7"),
        ("TCPIP0::203.0.113.254::inst0::INSTR", "203.0.113.254"),
        ("TCPIP::10.192.0.2::5025::SOCKET", ""),
        ("TCPIP::192.0.20.11::5025::SOCKET", ""),
        ("TCPIP::1.192.0.2.1::5025::SOCKET", ""),
        ("GPIB0::5::INSTR", ""),
        ("by hand", ""),
    ],
)
def test_addresses_that_no_instrument_has(resource: str, address: str) -> None:
    """RFC 5737, 3: TEST-NET-1, -2 and -3 (from memory)."""
    assert for_examples(resource) == address


def test_a_run_at_addresses_for_examples_is_refused_before_anything_is_opened(
    spool_folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["run", str(spool_folder), "--out", str(tmp_path / "out")]) == ExitCode.WRONG_INPUT
    told = capsys.readouterr().err
    assert ": instruments.bridge.resource: 192.0.2.11 is an address for examples (RFC 5737): nothing stands th" in told
    assert ", and so with ohmmeter, insulation tester," in told
    assert "write the instrument's own; on the simulated rig: --simulated" in told
    assert list(tmp_path.iterdir()) == []


def test_both_kinds_are_told_at_once(spool_folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shutil.copytree(spool_folder, tmp_path / "rig")
    file = tmp_path / "rig" / "rig.yaml"
    file.write_text(file.read_text("utf-8").replace("certificate: 2026-0311", f"certificate: {FILL_IN}"), "utf-8")
    assert run(["run", str(tmp_path / "rig"), "--out", str(tmp_path / "out")]) == ExitCode.WRONG_INPUT
    told = capsys.readouterr().err
    address, open_ = told.index("is an address for examples"), told.index("still stands for certificate of bridge, and")
    assert address < open_  # as they stand in the document
    assert told.count("on the simulated rig: --simulated") == 2


def test_a_rig_with_addresses_of_its_own_is_let_through(spool: Plan) -> None:
    own = {
        name: each.model_copy(update={"resource": f"GPIB0::{number}::INSTR"})
        for number, (name, each) in enumerate(spool.rig.instruments.items(), 1)
    }
    refuse_unwritten(replace(spool.rig, instruments=own))
    own["pump"] = spool.rig.instruments["pump"]
    with pytest.raises(DocumentError, match=r"instruments.pump.resource: 192\.0\.2\.16 is an address"):
        refuse_unwritten(replace(spool.rig, instruments=own))


def test_a_look_sends_nothing_to_an_address_for_examples(spool: Plan, monkeypatch: pytest.MonkeyPatch) -> None:
    def opened(*_: object) -> Driver:
        raise AssertionError("a driver was made")

    monkeypatch.setattr(looking, "make_driver", opened)
    (found,) = look(spool.rig, Reach(clock=WallClock()), ["pump"])
    assert not found.well
    assert found.answer.startswith("192.0.2.16 is an address for examples, and nothing was sent there")


def test_a_look_tells_the_serial_number_that_is_still_to_be_written(spool: Plan) -> None:
    wanted = WrittenIdentity.model_validate({"serial number": FILL_IN})
    still = spool.rig.instruments["pump"].model_copy(update={"identity": wanted})
    told = "serial number is 'W-0009', the rig names 'fill in': write 'W-0009' there, if this is the instrument meant"
    with pytest.raises(InstrumentError, match=told):
        expect_named(still, Identity("Test bay", "water pressure source", "W-0009", "1.0"))
