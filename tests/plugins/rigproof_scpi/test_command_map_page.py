"""The user's page: its instruments are read, simulated and driven as written, and it names every key there is."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
import yaml
from pydantic import BaseModel

from rigproof.documents import load_rig
from rigproof.documents.rig import Rig
from rigproof.instruments import Driver, Loads, Reads, able
from rigproof.plugins import Registry
from rigproof.run.opening import make_driver, open_instrument
from rigproof.run.simulated import reach_of
from rigproof_scpi import command_map, settings
from rigproof_scpi.resources import resource

ROOT = Path(__file__).parents[3]
PAGE = (ROOT / "plugins" / "rigproof_scpi" / "COMMAND_MAP.md").read_text("utf-8")
ASKED, SELECTS, TALKS, PUMP, LINE = re.findall(r"```yaml\n(.*?)```", PAGE, re.DOTALL)
SPOOL = (ROOT / "tests" / "rigs" / "spool" / "rig.yaml").read_text("utf-8")


def with_instrument(written: str) -> str:
    """The spool with an instrument of the page in the place of its own of that name."""
    name = written.split(":")[0].strip()
    text, number = re.subn(rf"(?m)^  {name}:\n    driver:.*\n(?:    .*\n)+", lambda _: written, SPOOL)
    assert number == 1
    return text


@pytest.fixture
def on_the_bench(registry: Registry, tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[tuple[Driver, Rig]]:
    """The driver of an instrument of the page, opened on the simulated spool."""
    rig = load_rig(text=with_instrument(request.param), registry=registry)
    (tmp_path / "twin.yaml").write_text("rigproof: twin/1\nsimulator: strain rig\n", "utf-8")
    simulated = registry.simulators["strain rig"].open(rig, tmp_path / "twin.yaml", 0, ())
    instrument = rig.instruments[request.param.split(":")[0].strip()]
    reach = reach_of(simulated)
    driver = make_driver(rig, instrument, reach)
    open_instrument(instrument, driver, reach)
    yield driver, rig
    driver.close()
    simulated.close()


@pytest.mark.parametrize("on_the_bench", [ASKED, SELECTS, TALKS], indirect=True, ids=["asked", "selects", "talks"])
def test_the_meters_of_the_page_read(on_the_bench: tuple[Driver, Rig]) -> None:
    driver, _ = on_the_bench
    meter = able(driver, Reads)
    assert meter is not None
    assert meter.read([1], 3, 0.1) == pytest.approx(20.0, abs=1.0)


@pytest.mark.parametrize("on_the_bench", [PUMP], indirect=True, ids=["pump"])
def test_the_source_of_the_page_loads(on_the_bench: tuple[Driver, Rig]) -> None:
    driver, _ = on_the_bench
    pump = able(driver, Loads)
    assert pump is not None
    assert pump.is_safe()
    pump.rise_to(10e5, 0.5e5)
    assert not pump.settled()
    driver.connection.clock.wait(120.0)
    assert pump.settled()
    pump.isolate(True)
    pump.isolate(False)
    assert not pump.is_safe()
    pump.go_safe()
    assert pump.is_safe()


def test_the_line_of_the_page_is_what_stands_when_it_is_left_out() -> None:
    written = settings.VisaSettings.model_validate(
        {key: {k: str(v) if k == "stop bits" else v for k, v in value.items()} if key == "line" else value
         for key, value in yaml.safe_load(LINE)["settings"].items()}
    )  # fmt: skip
    assert written.line == settings.Line()


def test_the_resource_names_of_the_page_are_names() -> None:
    names = re.findall(r"`((?:ASRL|USB|GPIB|TCPIP)[^` ]*::[^` ]*)`", PAGE)
    assert {resource(name.replace("PORT", "5025")).interface for name in names} == {
        "ASRL", "USB", "GPIB", "TCPIP", "SOCKET",
    }  # fmt: skip


def test_every_key_is_on_the_page() -> None:
    models: tuple[type[BaseModel], ...] = (
        command_map.MeterMap, command_map.SourceMap, command_map.Reading, command_map.Rate, command_map.State,
        command_map.Safe, command_map.Valve, command_map.Identifies, command_map.Complaints, settings.Line,
    )  # fmt: skip
    keys = {field.alias or name for model in models for name, field in model.model_fields.items()}
    assert sorted(key for key in keys if f"{key}:" not in PAGE and f"`{key}`" not in PAGE) == []
