"""A live run asks whoever answers on this machine whether it is simulated, and nobody else."""

from __future__ import annotations

import socket
from collections.abc import Callable
from dataclasses import replace

import pytest

from rigproof.documents import Rig
from rigproof.errors import DocumentError, InstrumentError
from rigproof.instruments import Driver, Identity
from rigproof.run.loopback import on_this_machine, refuse_bench
from rigproof.run.plan import Plan
from rigproof.simulation import SIMULATED_FIRMWARE
from rigproof_scpi.driver import ScpiDriver
from rigproof_scpi.pressure_source import PressureSource

HERE, ELSEWHERE = "TCPIP::127.0.0.1::5025::SOCKET", "TCPIP::10.0.0.5::5025::SOCKET"


@pytest.mark.parametrize(
    ("resource", "here"),
    [
        (HERE, True),
        ("TCPIP0::LocalHost::5025::SOCKET", True),
        ("tcp://127.0.0.2:502", True),
        ("TCPIP::0.0.0.0::5025::SOCKET", True),
        (f"TCPIP::{socket.gethostname()}::5025::SOCKET", True),
        (f"TCPIP::my{socket.gethostname()}::5025::SOCKET", False),
        ("TCPIP::10.0.0.0.0::5025::SOCKET", False),
        (ELSEWHERE, False),
        ("TCPIP::127.0.0.1.example::5025::SOCKET", False),
        ("TCPIP::10.127.0.0.1::5025::SOCKET", False),
        ("TCPIP::notlocalhost::5025::SOCKET", False),
        ("GPIB0::5::INSTR", False),
        ("by hand", False),
    ],
)
def test_what_is_on_this_machine(resource: str, here: bool) -> None:
    assert on_this_machine(resource) is here


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Which instruments were looked at; none may be opened, and each is let go."""
    called: list[str] = []

    def look(self: Driver) -> Identity:
        called.append(self.connection.name)
        if self.connection.name == "thermometer":
            raise InstrumentError("thermometer", "nobody is there")
        firmware = SIMULATED_FIRMWARE if self.connection.name == "pump" else "1.0"
        return Identity("Test bay", "x", "1", firmware)

    def opened(self: Driver) -> Identity:
        raise AssertionError(f"{self.connection.name} was opened")

    monkeypatch.setattr(ScpiDriver, "open", opened)
    monkeypatch.setattr(ScpiDriver, "look", look)
    return called


@pytest.fixture
def at(spool: Plan) -> Callable[..., Rig]:
    """The rig with these instruments on this machine, the others elsewhere."""

    def make(*names: str) -> Rig:
        placed = {
            name: each.model_copy(update={"resource": HERE if name in names else ELSEWHERE})
            for name, each in spool.rig.instruments.items()
        }
        return replace(spool.rig, instruments=placed)

    return make


def test_the_first_simulated_one_is_named_at_its_place(asked: list[str], at: Callable[..., Rig]) -> None:
    with pytest.raises(DocumentError, match=r"instruments\.pump\.resource: a simulated instrument answers here"):
        refuse_bench(at("thermometer", "transmitter", "pump"))
    assert asked == ["transmitter", "thermometer", "pump"]


def test_real_ones_and_absent_ones_are_let_through(asked: list[str], at: Callable[..., Rig]) -> None:
    refuse_bench(at("thermometer", "transmitter"))
    assert asked == ["transmitter", "thermometer"]
    refuse_bench(at())
    assert len(asked) == 2


def test_a_driver_that_cannot_only_look_is_left_to_the_run(
    asked: list[str], at: Callable[..., Rig], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(PressureSource, "look", Driver.look)
    refuse_bench(at("pump"))
    assert asked == []
