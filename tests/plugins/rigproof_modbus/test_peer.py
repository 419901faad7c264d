"""The drivers against pymodbus's own server: an independent other side over TCP."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from rigproof.errors import InstrumentError
from rigproof.instruments import NOT_ASKED, Identity

from .conftest import PRESSURE, meter, source, words

pytestmark = pytest.mark.network
Serve = Callable[..., str]


def at(table: str, address: int, data_type: str, unit: str, **more: str) -> dict[str, str]:
    order = {} if "16" in data_type else {"word order": "high first"}
    extra = {key.replace("_", " "): value for key, value in more.items()}
    return {"table": table, "address": str(address), "type": data_type, "unit": unit} | order | extra


def test_every_data_type_and_both_word_orders(serve: Serve) -> None:
    holding = [
        *words(">h", -120),
        *words(">H", 65416),
        *words(">i", -70000),
        *words(">I", 3_000_000_000),
        *words(">f", 35.75),
        *words(">d", 0.1),
        *words(">f", 35.75)[::-1],
        *words(">d", 0.1)[::-1],
        *words(">i", -70000)[::-1],
    ]
    where = serve([False] * 8, [False] * 8, holding, [0] * 4)
    low = {"word_order": "low first"}
    inputs = {
        "1": at("holding", 0, "int16", "Pa"),
        "2": at("holding", 1, "uint16", "Pa"),
        "3": at("holding", 2, "int32", "Pa"),
        "4": at("holding", 4, "uint32", "Pa"),
        "5": at("holding", 6, "float32", "bar"),
        "6": at("holding", 8, "float64", "Pa"),
        "7": at("holding", 12, "float32", "bar", **low),
        "8": at("holding", 14, "float64", "Pa", **low),
        "9": at("holding", 18, "int32", "Pa", **low),
    }
    driver = meter(where, inputs=inputs)
    assert driver.open() == Identity("", "", "", NOT_ASKED)
    readings = driver.read(range(1, 10), 2, 0.0)
    expected = [-120.0, 65416.0, -70000.0, 3e9, 3_575_000.0, 0.1, 3_575_000.0, 0.1, -70000.0]
    assert readings.shape == (2, 9)
    assert readings[0] == pytest.approx(expected, rel=1e-15)
    driver.close()


def test_scale_offset_and_unit(serve: Serve) -> None:
    where = serve([False] * 8, [False] * 8, [2150, 4095, 29315], [0] * 4)
    inputs = {
        "1": at("holding", 0, "int16", "°C", scale="0.01"),
        "2": at("holding", 1, "uint16", "mbar", scale="0.5", offset="-1000"),
        "3": at("holding", 2, "uint16", "°C", scale="0.01", offset="-273.15"),
    }
    readings = meter(where, inputs=inputs).read([1, 2, 3], 1, 0.0)
    assert readings[0] == pytest.approx([21.5, (4095 * 0.5 - 1000) * 100.0, 20.0], abs=1e-9)


@pytest.mark.parametrize(
    ("registers", "kind", "order", "told"),
    [
        (words(">f", 25.0)[::-1], "float32", "high first", "2.*e-41 as float32, high first"),
        (words(">f", 25.0), "float32", "low first", "2.*e-41 as float32, low first"),
        ([0xF7B2, 0x7B2F], "float32", "high first", r"-7.*e\+33 as float32"),
        (words(">f", 9.9e37), "float32", "high first", r"9\.9e\+37 .*or write it as `overload:` if it is one"),
        (words(">d", 25.0)[::-1], "float64", "high first", "8.*e-320 as float64, high first"),
    ],
)
def test_what_no_instrument_has_measured_is_a_fault_of_the_map(
    serve: Serve, registers: list[int], kind: str, order: str, told: str
) -> None:
    where = serve([False] * 8, [False] * 8, [0] * 4, registers)
    written = at("input", 0, kind, "bar") | {"word order": order}
    with pytest.raises(InstrumentError, match=rf"read input 0 .*: {told}") as caught:
        meter(where, inputs={"1": written}).read([1], 1, 0.0)
    assert "correct `address:` (counted from 0), `type:` or `word order:`" in str(caught.value)


@pytest.mark.parametrize("value", [0.0, -0.0, 1.2e-38, -1e29, 35.75])
def test_a_small_or_large_value_is_taken(serve: Serve, value: float) -> None:
    where = serve([False] * 8, [False] * 8, [0] * 4, words(">f", value))
    read = meter(where, inputs={"1": at("input", 0, "float32", "bar")}).read([1], 1, 0.0)
    assert read[0, 0] == pytest.approx(value * 1e5, rel=1e-6, abs=0.0)


def test_a_stated_overload_may_be_any_number(serve: Serve) -> None:
    where = serve([False] * 8, [False] * 8, [0] * 4, [*words(">f", 9.9e37), 0, 1])
    inputs = {
        "1": at("input", 0, "float32", "bar") | {"overload": "9.9e37"},
        "2": at("input", 2, "float32", "bar") | {"overload": "0x00000001"},
    }
    assert np.isnan(meter(where, inputs=inputs).read([1, 2], 1, 0.0)).all()


def test_overload_and_not_a_number(serve: Serve) -> None:
    raw = [32767, 0x8000, *words(">f", float("nan")), *words(">f", 9999.9), *words(">f", float("-inf")), 100]
    where = serve([False] * 8, [False] * 8, [0] * 4, raw)
    inputs = {
        "1": at("input", 0, "int16", "bar") | {"overload": "32767"},
        "2": at("input", 1, "int16", "bar") | {"overload": ["32767", "0x8000"]},
        "3": at("input", 2, "float32", "bar"),
        "4": at("input", 4, "float32", "bar") | {"overload": "9999.9"},
        "5": at("input", 6, "float32", "bar"),
        "6": at("input", 8, "int16", "bar") | {"overload": "32767"},
    }
    readings = meter(where, inputs=inputs).read(range(1, 7), 1, 0.0)
    assert np.isnan(readings[0, :5]).all()
    assert readings[0, 5] == 100e5


def test_a_source_is_driven_and_made_safe(serve: Serve) -> None:
    where = serve([False, True, True, *[False] * 5], [True] * 8, [0] * 16, [0] * 4)
    pump = source(where)
    pump.open()
    assert pump.is_safe()
    pump.rise_to(35.75e5, 0.5e5)
    assert not pump.is_safe()
    assert pump.settled()
    pump.isolate(True)
    pump.isolate(False)
    told = meter(where, inputs={"1": PRESSURE | {"table": "holding"}, "2": at("holding", 2, "float32", "bar")})
    assert told.read([1, 2], 1, 0.0).tolist() == [[35.75e5, 30e5]]  # bar; 0.5 bar/s is 30 bar/min
    pump.go_safe()
    assert pump.is_safe()
    pump.close()
    pump.go_safe()  # on a fresh connection
    assert pump.errors() == []


def test_what_the_device_does_not_have(serve: Serve) -> None:
    where = serve([False] * 8, [False] * 8, [0] * 4, [0] * 4)
    lost = meter(where, inputs={"1": PRESSURE | {"address": "30001"}})
    with pytest.raises(InstrumentError) as told:
        lost.read([1], 1, 0.0)
    message = str(told.value)
    assert message.startswith(f"meter: read input 30001 (unit 1 at {where}): exception 2, illegal data address; ")
    assert "Is 30001 a reference? Then it is address 0 of the input table" in message
    assert meter(where).read([1], 1, 0.0).tolist() == [[0.0]]
