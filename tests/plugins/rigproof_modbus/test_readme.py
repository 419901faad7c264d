"""The user's page: its instruments are read, simulated and driven as written, and it names every key there is."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from rigproof.documents import load_rig
from rigproof.instruments import Loads, Reads, able
from rigproof.plugins import Registry
from rigproof.run.opening import make_driver, open_instrument
from rigproof.run.simulated import reach_of
from rigproof_modbus import maps, settings
from rigproof_modbus.resource import parse_resource

from .spool import SPOOL

PAGE = (Path(__file__).parents[3] / "plugins" / "rigproof_modbus" / "README.md").read_text("utf-8")
INSTRUMENTS = re.findall(r"<!-- rig: instruments -->\n```yaml\n(.*?)```", PAGE, re.DOTALL)
RESOURCES = re.findall(r"^    resource: (\S.*)$", PAGE, re.MULTILINE)


def rig_text() -> str:
    """The spool with the instruments of the page in the place of its transmitter, thermometer and pump."""
    text = (SPOOL / "rig.yaml").read_text("utf-8")
    kept = text[: text.index("  transmitter:\n    driver")]
    kept = kept.replace("instrument: thermometer\n    input: 1", "instrument: transmitter\n    input: 2")
    return (
        kept
        + "".join(re.sub("^(?=.)", "  ", one, flags=re.MULTILINE) for one in INSTRUMENTS)
        + (text[text.index("sources:\n") :])
    )


@pytest.mark.network
def test_the_instruments_of_the_page_work(registry: Registry, tmp_path: Path) -> None:
    assert len(INSTRUMENTS) == 2
    rig = load_rig(text=rig_text(), registry=registry)
    (tmp_path / "twin.yaml").write_text("rigproof: twin/1\nsimulator: strain rig\n", "utf-8")
    simulated = registry.simulators["strain rig"].open(rig, tmp_path / "twin.yaml", 0, ())
    reach = reach_of(simulated)
    drivers = {name: make_driver(rig, rig.instruments[name], reach) for name in ("transmitter", "pump")}
    try:
        serial = [open_instrument(rig.instruments[name], made, reach).serial_number for name, made in drivers.items()]
        assert serial == ["P-0220", ""]
        pump, meter = able(drivers["pump"], Loads), able(drivers["transmitter"], Reads)
        assert pump is not None
        assert meter is not None
        assert pump.is_safe()
        pump.rise_to(10e5, 0.5e5)
        assert not pump.settled()
        simulated.clock.wait(120.0)
        assert pump.settled()
        pressure, water = meter.read([1, 2], 1, 0.0)[0]
        assert pressure == pytest.approx(10e5, rel=0.01)
        assert water == pytest.approx(20.0, abs=1.0)
        pump.isolate(True)
        pump.go_safe()
        assert pump.is_safe()
    finally:
        for driver in drivers.values():
            driver.close()
        simulated.close()


def test_the_places_of_the_page_are_places() -> None:
    assert len(RESOURCES) == 2
    for resource in RESOURCES:
        parse_resource(resource)


def test_every_key_is_on_the_page() -> None:
    models = (settings.MeterSettings, settings.SourceSettings, maps.InputAt, maps.StateAt, maps.WriteAt, maps.ValveAt)
    keys = {field.alias or name for model in models for name, field in model.model_fields.items()}
    assert sorted(key for key in keys if f"{key}:" not in PAGE and f"`{key}`" not in PAGE) == []


@pytest.mark.parametrize(("reference", "table", "address"), [("30001", "input", 0), ("40017", "holding", 16)])
def test_the_references_of_the_page(reference: str, table: str, address: int) -> None:
    from rigproof_modbus.unit import REFERENCES

    assert re.search(rf"{reference} is\s+`table: {table}, address: {address}`", PAGE)
    assert [int(reference) - first for first, last, name in REFERENCES if first <= int(reference) <= last] == [address]
