"""The order in which the instruments of a rig are opened."""

from __future__ import annotations

from typing import Any

import pytest

from rigproof.run import opening
from rigproof.run.opening import open_all
from rigproof.run.plan import Plan
from rigproof_scpi.bridge_amplifier import BridgeAmplifier


def test_sources_come_first_and_people_last(spool: Plan, monkeypatch: pytest.MonkeyPatch) -> None:
    """Who types a wrong serial number must not keep the load from being seen."""
    assert next(iter(spool.rig.instruments)) == "bridge"
    monkeypatch.setattr(BridgeAmplifier, "asks_a_person", True)
    monkeypatch.setattr(opening, "make_driver", lambda *_: None)
    monkeypatch.setattr(opening, "open_instrument", lambda instrument, *_: instrument.name)
    nowhere: Any = None
    order: list[Any] = list(open_all(spool.rig, nowhere, {}))
    assert (order[0], order[-1]) == ("pump", "bridge")
    assert len(order) == len(spool.rig.instruments)
