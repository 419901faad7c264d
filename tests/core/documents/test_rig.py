"""rig.yaml: a right one, and every wrong one at its place."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date
from hashlib import sha256

import pytest

from rigproof.documents import load_rig
from rigproof.documents.interlocks import Limit
from rigproof.documents.rig import Channel, Gauge
from rigproof.errors import Fault, PluginFault
from rigproof.models import PartModel
from rigproof.plugins import Registry

Faults = Callable[[str], list[Fault]]


def test_a_right_rig(kinds: Registry, rig_text: str) -> None:
    rig = load_rig(text=rig_text, name="plate/rig.yaml", registry=kinds)
    assert (rig.name, rig.file, rig.text) == ("A plate", "plate/rig.yaml", rig_text)
    assert rig.sha256 == sha256(rig_text.encode()).hexdigest()
    assert rig.part.kind == "plate"
    middle = rig.gauges["middle"]
    assert (middle.name, middle.at, middle.gauge_factor.value) == ("middle", "along", 2.08)
    assert (middle.transverse_sensitivity.value, middle.transverse_sensitivity.u) == (0.0, 0.0)
    assert middle.compensated_for is None
    channel = rig.channels["middle"]
    assert (channel.name, channel.reads, channel.input) == ("middle", "bridge output", 1)
    assert channel.accuracy.zero_drift is not None
    assert channel.accuracy.zero_drift.u_absolute == pytest.approx(0.05e-6 / 3**0.5)
    assert channel.accuracy.fixed is None
    room = rig.channels["room"]
    assert room.reads == "resistance"
    assert room.accuracy.fixed is not None
    assert room.accuracy.fixed.kind == "resistance"
    assert rig.channels["leak"].accuracy.of_reading is None
    tester = rig.instruments["tester"]
    assert (tester.driver.kind, tester.timeout.value) == ("tester", 5.0)
    assert tester.identity is not None
    assert (tester.identity.serial_number, tester.identity.model) == ("0107", None)
    assert tester.calibration is not None
    assert tester.calibration.due == date(2027, 3, 31)
    assert type(rig.instruments["amplifier"].settings).__name__ == "AmplifierSettings"
    assert rig.sources["press"].rate.value == 1000.0
    assert rig.sources["press"].rate.kind == "force rate"
    assert (rig.site, rig.part.serial_number, rig.part.drawing) == ("", None, None)
    overload = rig.interlocks["overload"]
    assert isinstance(overload, Limit)
    assert overload.below is None


def test_what_a_part_is_known_by(kinds: Registry, rig_text: str) -> None:
    """A number stays as it is written."""
    text = rig_text.replace("name: A plate", "name: A plate\nsite: Works A, bay 2")
    rig = load_rig(
        text=text.replace("model: plate", "model: plate\n  serial number: 0017\n  drawing: 1.10"), registry=kinds
    )
    assert (rig.site, rig.part.serial_number, rig.part.drawing) == ("Works A, bay 2", "0017", "1.10")


def test_a_rig_is_frozen(kinds: Registry, rig_text: str) -> None:
    rig = load_rig(text=rig_text, registry=kinds)
    with pytest.raises(AttributeError):
        rig.name = "another"  # type: ignore[misc]
    with pytest.raises(ValueError, match="frozen"):
        rig.gauges["middle"].at = "across"  # type: ignore[misc]


# What to replace in the right rig, by what; where that is a fault; what it says; what the remedy says.
WRONG = [
    ("name: A plate", "nam: A plate", "2:1", "nam", "unknown key 'nam'", "did you mean 'name'?"),
    ("name: A plate", "name:", "2:1", "name", "nothing is written here", "write a value"),
    ("name: A plate", "name: [a]", "2:7", "name", "a list is no text", "write a text"),
    ("name: A plate", "name: A plate\nsite: ' '", "3:7", "site", "' ' names nothing", "write what stands"),
    ("model: plate", "model: plate\n  drawing: " + 101 * "d", "5:12", "part.drawing", "more than 100 characters", ""),
    ("model: plate", "model: plate\n  serial no: 1", "5:3", "part.serial no", "unknown key", "'serial number'?"),
    ("safe below: 500 N", "safe below: 500 N, relief device: {set pressure: 40 bar}",
     "38:109", "sources.press.relief device", "opens at a gauge pressure, and this source loads by force", "a stop"),
    ("name: A plate\n", "", "1:1", "document", "the key 'name' is missing", "write `name: …`"),
    ("model: plate", "model: plat", "4:10", "part.model", "'plat' is no part model", "did you mean 'plate'?"),
    ("  model: plate\n", "", "3:1", "part", "the key 'model' is missing", "write `model: …`"),
    ("thickness: 10 mm ± 1 %", "thickness: 10", "5:14", "part.thickness", "'10' has no unit", "one of the units nm"),
    ("thickness: 10 mm", "thickness: 10,5 mm", "5:14", "part.thickness", "has a comma", "write a decimal point"),
    ("thickness: 10 mm ± 1 %", "thickness: 1:20", "5:14", "part.thickness", "':20' is no unit", "write one of"),
    ("thickness: 10 mm ± 1 %", "thickness: NO", "5:14", "part.thickness", "'NO' does not begin", "write it like"),
    ("thickness: 10 mm ± 1 %", "thickness: 0 mm", "5:14", "part.thickness", "out of bounds", "above 0 mm"),
    ("  thickness: 10 mm ± 1 %", "  thicknes: 10 mm",
     "5:3", "part.thicknes", "unknown key", "did you mean 'thickness'?"),
    ("  thickness: 10 mm ± 1 %\n", "", "3:1", "part", "the key 'thickness' is missing", "write `thickness"),
    ("thickness: 10 mm ± 1 %", "thickness: {value: 10 mm, U: 1 bar, k: 2}",
     "5:32", "part.thickness.U", "'bar' is", "nm"),
    ("elastic modulus", "elastic_modulus", "6:14", "part.material.elastic_modulus", "unknown key", "'elastic modulus'"),
    ("made by", "made_bye", "6:46", "part.material.made_bye", "unknown key", "did you mean 'made by'?"),
    (", gauge factor: 2.08 ± 0.5 %", "", "8:3", "gauges.middle", "the key 'gauge factor' is missing",
     "write `gauge factor: …` (such as 2.08 ± 0.5 %) here"),
    ("at: along", "at: alon", "8:16", "gauges.middle.at", "'alon' is no place on a plate", "did you mean 'along'?"),
    ("at: along", "at: along, name: x",
     "8:23", "gauges.middle.name", "unknown key 'name'", "known here: at, resistance"),
    ("resistance: 350 Ω", "resistance: 350 V", "8:35", "gauges.middle.resistance", "'V' is a unit of voltage", "kΩ"),
    ("resistance: 350 Ω", "resistance: 1e9 Ω",
     "8:35", "gauges.middle.resistance", "out of bounds", "at most 100 kΩ: gauges have 60 Ω to 10 kΩ"),
    ("gauge factor: 2.08", "gauge factor: 208",
     "8:64", "gauges.middle.gauge factor", "'208 ± 0.5 %' is out of bounds", "metal foil has about 2"),
    ("gauge factor: 2.08 ± 0.5 %", "gauge factor: 2.08 ± 3",
     "8:64", "gauges.middle.gauge factor", "reaches down to 0 or below", "limits of the packet"),
    ("gauge factor: 2.08 ± 0.5 %", "gauge factor: 2.08, transverse sensitivity: 0.4",
     "8:94", "gauges.middle.transverse sensitivity", "'0.4' is out of bounds", "some tenths of a per cent"),
    ("measures: strain", "measures: strane", "11:15", "channels.middle.measures", "no kind of quantity", "'strain'"),
    ("gauge: middle\n    red", "gauge: midle\n    red",
     "12:12", "channels.middle.gauge", "no gauge of the rig", "'middle'"),
    ("    gauge: middle\n    red", "    red",
     "12:16", "channels.middle.reduction", "needs to know its gauge", "add `gauge:`"),
    ("    reduction: {model: one gauge, wires: 3}\n", "",
     "10:3", "channels.middle", "a strain needs the reduction", "add"),
    ("model: one gauge, wires: 3", "model: wire", "13:16", "channels.middle.reduction", "a strain needs", "add one"),
    ("model: one gauge", "model: on gauge", "13:24", "channels.middle.reduction.model", "no reduction", "'one gauge'"),
    ("wires: 3", "wires: 4", "13:42", "channels.middle.reduction.wires", "'4' is above 3", "within the bounds"),
    ("measures: temperature", "measures: force", "24:16", "channels.room.reduction", "gives temperature", "correct"),
    ("amplifier\n    input: 1", "amplifer\n    input: 1",
     "14:17", "channels.middle.instrument", "no instrument", "'amplifier'"),
    ("amplifier\n    input: 1", "press\n    input: 1",
     "14:17", "channels.middle.instrument", "does not give readings", "name"),
    ("instrument: tester", "instrument: amplifier",
     "28:70", "channels.leak.instrument", "does not test insulation", "name"),
    ("input: 1\n    acc", "input: 0\n    acc", "15:12", "channels.middle.input", "'0' is below 1", "within the bounds"),
    ("input: 1\n    acc", "input: one\n    acc",
     "15:12", "channels.middle.input", "'one' is not a whole number", "digits"),
    ("of reading: 0.05 %", "of reading: 1 N", "16:28", "channels.middle.accuracy.of reading", "a unit of force", "%"),
    ("zero drift: 0.05 µV/V", "zero drift: 1 %", "16:48", "channels.middle.accuracy.zero drift", "is a share", "mV/V"),
    ("zero drift: 0.05 µV/V", "zero drift: 1 µε",
     "16:48", "channels.middle.accuracy.zero drift", "unit of strain", "mV/V"),
    ("zero drift: 0.05", "zero drft: 0.05",
     "16:36", "channels.middle.accuracy.zero drft", "unknown key", "'zero drift'"),
    ("of reading: 0.05 %", "of reading: 5",
     "16:28", "channels.middle.accuracy.of reading", "'5' without a % is 500 %", "write 5 % or 0.05"),
    ("    reduction: {model: wire}\n    instrument: amplifier\n    input: 3\n    accuracy: {fixed: 10 mΩ}",
     "    instrument: amplifier\n    input: 3\n    accuracy: {fixed: 273 K}",
     "26:23", "channels.room.accuracy.fixed", "'273 K' is out of bounds", "at most 20 K"),
    ("fixed: 10 mΩ", "fixed: 0.1 K", "27:23", "channels.room.accuracy.fixed", "and a resistance is wanted", "mΩ"),
    ("driver: tester", "driver: testr", "32:13", "instruments.tester.driver", "'testr' is no driver", "'tester'"),
    ("excitation: 2.5 V", "excitation: 2.5", "30:94", "instruments.amplifier.settings.excitation", "has no unit", "mV"),
    ("{excitation: 2.5 V}", "{}",
     "30:71", "instruments.amplifier.settings", "the key 'excitation' is missing", "write"),
    (", settings: {excitation: 2.5 V}", "",
     "30:3", "instruments.amplifier", "cannot do without settings", "`settings: {excitation: …}`"),
    ("due: 2027-03-31", "due: 20270331", "35:48", "instruments.tester.calibration.due", "is no date", "year-month-day"),
    ("due: 2027-03-31", "due: 2027-02-31",
     "35:48", "instruments.tester.calibration.due", "is no date", "year-month-day"),
    ("timeout: 10 s", "timeout: 10", "36:70", "instruments.press.timeout", "'10' has no unit", "for example '10 s'"),
    ("instrument: press, c", "instrument: tester, c", "38:23", "sources.press.instrument", "puts no load", "name"),
    ("channel: force, rate", "channel: room, rate",
     "38:39", "sources.press.channel", "is loaded by force", "name a channel"),
    ("channel: force, rate", "channel: forse, rate",
     "38:39", "sources.press.channel", "no channel of the rig", "'force'"),
    ("rate: 1 kN/s", "rate: 1 kN", "38:52", "sources.press.rate", "a force rate is wanted", "did you mean 'kN/s'"),
    ("rate: 1 kN/s", "rate: 0 kN/s", "38:52", "sources.press.rate", "is not above 0", "without a sign"),
    ("limit: 100 kN", "limit: 100 bar", "38:67", "sources.press.limit", "and a force is wanted", "kN"),
    ("safe below: 500 N", "safe below: 200 kN", "38:87", "sources.press.safe below", "not below the limit", "near 0"),
    (", above: 90 kN", "", "40:3", "interlocks.overload", "has no limit", "write `above:`"),
    ("above: 90 kN", "above: 90 %", "40:37", "interlocks.overload.above", "'%' is a unit of ratio", "kN"),
    ("above: 90 kN", "above: 1 kN, below: 2 kN", "40:50", "interlocks.overload.below", "always trip", "lower limit"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "place", "where", "said", "remedy"), WRONG)
def test_a_wrong_rig(
    rig_text: str, rig_faults: Faults, old: str, new: str, place: str, where: str, said: str, remedy: str
) -> None:
    assert rig_text.count(old) == 1
    found = {(f"{fault.line}:{fault.column}", fault.where): fault for fault in rig_faults(rig_text.replace(old, new))}
    assert (place, where) in found, list(found.values())
    fault = found[place, where]
    assert said in fault.message
    assert remedy in fault.remedy
    assert len(found) == 1 or old.startswith("channel: force"), "one cause, one fault"


def test_a_decimal_comma_inside_a_mapping_is_explained(rig_text: str, rig_faults: Faults) -> None:
    faults = rig_faults(rig_text.replace("10 mm ± 1 %", "{value: 10 mm, U: 0,5 %, k: 2}"))
    assert [(fault.column, fault.message) for fault in faults] == [(34, "unknown key '5 %'")]
    assert faults[0].remedy == "a comma ends an entry: write decimals with a point"


def test_all_faults_at_once_in_order(rig_text: str, rig_faults: Faults) -> None:
    text = rig_text
    for old, new in [
        ("model: plate", "model: plat"), ("at: along", "at: 3"), ("measures: strain", "measures: stress"),
        ("of reading: 0.05 %", "of reading: 5 V"), ("driver: press", "driver: pres"), ("limit: 100 kN", "limit: 100"),
        ("above: 90 kN", "above: 90"), ("excitation: 2.5 V", "excitation: on"),
    ]:  # fmt: skip
        text = text.replace(old, new)
    faults = rig_faults(text)
    assert [fault.line for fault in faults] == [4, 13, 16, 30, 36, 38, 40]
    assert [fault.where for fault in faults] == [
        "part.model", "channels.middle.reduction", "channels.middle.accuracy.of reading",
        "instruments.amplifier.settings.excitation", "instruments.press.driver", "sources.press.limit",
        "interlocks.overload.above",
    ]  # fmt: skip


def test_what_follows_from_another_fault_is_not_shown(rig_text: str, rig_faults: Faults) -> None:
    faults = rig_faults(rig_text.replace("measures: force", "measures: forse"))
    assert [fault.where for fault in faults] == ["channels.force.measures"]


def test_a_plugin_that_breaks_is_named(kinds: Registry, rig_text: str) -> None:
    plate = kinds.parts["plate"]

    class Broken(plate):  # type: ignore[misc, valid-type]
        def model_post_init(self, context: object, /) -> None:
            raise KeyError("lost")

    assert issubclass(Broken, PartModel)
    broken = Registry(parts={"plate": Broken}, reductions=kinds.reductions, drivers=kinds.drivers, steps=kinds.steps)
    with pytest.raises(PluginFault, match=r"Broken broke while it read a document: KeyError: 'lost'"):
        load_rig(text=rig_text, registry=broken)


def test_parts_of_a_rig_can_be_made_in_code() -> None:
    gauge = Gauge.model_validate({"name": "g", "at": "hoop", "resistance": "350 Ω", "gauge factor": "2 ± 1 %"})
    assert (gauge.name, gauge.gauge_factor.shape) == ("g", "rectangular")
    channel = Channel.model_validate({"name": "p", "measures": "gauge pressure", "instrument": "x", "input": 1})
    assert (channel.reads, channel.accuracy.fixed) == ("gauge pressure", None)


def test_a_rig_is_json_all_the_way(kinds: Registry, rig_text: str) -> None:
    rig = load_rig(text=rig_text, registry=kinds)
    assert json.loads(rig.gauges["middle"].model_dump_json(by_alias=True))["gauge factor"] == "2.08 ± 0.5 %"
