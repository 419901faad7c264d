"""Sound drivers pass the kit, and the kit behaves as a part of pytest: collection, -k, -n, --junitxml, hardware."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest

from rigproof_pytest import Instrument
from rigproof_pytest.peer import Peer

pytest_plugins = ["pytester"]

SOUND_TESTS = """
import sound

class TestMeter(sound.MeterContract):
    driver = sound.Meter

class TestNamed(sound.NamedContract):
    driver = sound.Named

class TestRegistered(sound.RegisteredContract):
    driver = sound.Registered

class TestSelected(sound.SelectedContract):
    driver = sound.Selected

class TestSwitch(sound.Contract):
    driver = sound.Switch

class TestAmplifier(sound.AmplifierContract):
    driver = sound.Amplifier

class TestTester(sound.TesterContract):
    driver = sound.Tester

class TestPump(sound.PumpContract):
    driver = sound.Pump

class TestTable(sound.Contract):
    driver = sound.Table

class TestTurned(sound.TurnedContract):
    driver = sound.Turned
"""


@pytest.fixture
def sound(with_sound: pytest.Pytester) -> pytest.Pytester:
    with_sound.makepyfile(test_it=SOUND_TESTS)
    return with_sound


def test_sound_drivers_pass(sound: pytest.Pytester) -> None:
    result = sound.runpytest_inprocess("-q", "-W", "error")
    outcomes = result.parseoutcomes()
    assert set(outcomes) == {"passed", "skipped"}, result.stdout.str()
    assert outcomes["passed"] > 80


def collected(pytester: pytest.Pytester, *arguments: str) -> list[str]:
    lines = pytester.runpytest_inprocess("--collect-only", "-q", *arguments).outlines
    return [line.partition("::")[2] for line in lines if "::" in line]


def test_only_what_names_a_driver_is_collected_and_only_for_its_abilities(sound: pytest.Pytester) -> None:
    sound.makepyfile(
        test_it=f"{SOUND_TESTS}\nfrom rigproof_pytest import DriverContract, Instrument\n"
        "class TestNothingYet(DriverContract):\n    pass\n"
    )
    found = collected(sound)
    assert {name.partition("::")[0] for name in found} == {
        f"Test{kind}"
        for kind in (
            "Meter",
            "Registered",
            "Named",
            "Selected",
            "Switch",
            "Amplifier",
            "Tester",
            "Pump",
            "Table",
            "Turned",
        )
    }
    assert "TestMeter::test_shape" in found
    assert "TestPump::test_shape" not in found
    assert "TestPump::test_go_safe_twice" in found
    assert "TestMeter::test_go_safe_twice" not in found
    assert "TestTester::test_the_voltage_is_off_afterwards" in found
    assert "TestSwitch::test_the_voltage_is_off_afterwards" not in found
    assert "TestTable::test_the_angle_is_read_back" in found
    assert "TestPump::test_the_angle_is_read_back" not in found


def test_one_that_asks_a_person_has_no_line_to_be_tried(sound: pytest.Pytester) -> None:
    found = {name.partition("::")[2] for name in collected(sound) if name.startswith("TestTurned")}
    assert {"test_the_angle_is_read_back", "test_close_never_raises", "test_it_never_sleeps"} <= found
    assert not {"test_timeout", "test_garbage", "test_hardware_says_who_it_is", "test_no_error_is_swallowed"} & found


def test_it_can_be_chosen_from_by_word_and_by_marker(sound: pytest.Pytester) -> None:
    assert collected(sound, "-k", "TestMeter and units") == ["TestMeter::test_units"]
    by_marker = collected(sound, "-m", "hardware", "--strict-markers")
    assert by_marker
    assert all("::test_hardware_" in name for name in by_marker)


def test_it_runs_in_parallel_and_writes_junit_xml(sound: pytest.Pytester) -> None:
    result = sound.runpytest_subprocess("-q", "-n", "2", "-k", "close or units", "--junitxml", "out.xml")
    assert result.ret == 0, result.stdout.str()
    suite = ET.parse(sound.path / "out.xml").getroot()[0]
    assert int(suite.attrib["tests"]) == result.parseoutcomes()["passed"] > 5


def test_hardware_is_skipped_with_a_reason(sound: pytest.Pytester, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("RIGPROOF_HARDWARE", raising=False)
    skipped = sound.runpytest_inprocess("-rs", "-m", "hardware", "-k", "TestMeter")
    assert set(skipped.parseoutcomes()) == {"skipped", "deselected"}
    skipped.stdout.fnmatch_lines(["*no instrument: set RIGPROOF_HARDWARE*"])


def test_hardware_is_tried_where_it_is_named_and_never_loaded(
    sound: pytest.Pytester, monkeypatch: pytest.MonkeyPatch
) -> None:
    table = {"ID": "own make,bench,7,1.2", "ER": "0", "P1": "+012.50 kPa", "P2": "OVER", "STOP": "OK", "STATE": "off"}
    peer = Peer(Instrument(table), b"\n", b"\n")
    monkeypatch.setenv("RIGPROOF_HARDWARE", f"127.0.0.1:{peer.port}")
    tried = sound.runpytest_inprocess("-m", "hardware", "-rP", "-k", "TestMeter or TestPump")
    peer.close()
    assert set(tried.parseoutcomes()) == {"passed", "deselected"}, tried.stdout.str()
    for told in ("it says: *bench*'7'*; no errors", "input 1 read 0.125 bar, *", "it was told * safe state*is there"):
        tried.stdout.fnmatch_lines_random([told])
    said = {one.message for one in peer.said}
    assert {b"ID", b"P1", b"P2", b"STOP"} <= said <= {message.encode() for message in table}


HARDWARE_FAULTS = {
    "nobody answers": ("Meter", "pass", {}, "test_hardware_says_who_it_is", "answers, within 5 s, as its manual says"),
    "an error is queued": (
        "Meter",
        "pass",
        {"ER": "E12 bad word"},
        "test_hardware_says_who_it_is",
        r"errors \['E12 bad",
    ),
    "infinity": (
        "Meter",
        "def read(self, *_): return np.full((3, 2), np.inf)",
        {},
        "test_hardware_reads",
        "each value a number or nan",
    ),
    "not safe": (
        "Pump",
        "def go_safe(self): pass",
        {"STATE": "on"},
        "test_hardware_goes_safe",
        "left the source in a state it does not call safe.*make it safe by hand",
    ),
}


@pytest.mark.parametrize("fault", HARDWARE_FAULTS)
def test_what_is_wrong_on_hardware_is_told_with_advice(
    with_sound: pytest.Pytester, monkeypatch: pytest.MonkeyPatch, fault: str
) -> None:
    kind, body, replies, test, advice = HARDWARE_FAULTS[fault]
    with_sound.makepyfile(
        test_it=f"import numpy as np\nimport sound\nclass Mine(sound.{kind}):\n    {body}\n"
        f"class TestMine(sound.{kind}Contract):\n    driver = Mine\n"
    )
    table = {"ID": "own make,bench,7,1.2", "ER": "0", "P1": "+012.50 kPa", "P2": "OVER"} | replies
    peer = Peer(Instrument(table), b"\n", b"\n")
    monkeypatch.setenv("RIGPROOF_HARDWARE", f"127.0.0.1:{peer.port}")
    if fault == "nobody answers":
        peer.go_away()
    result = with_sound.runpytest_inprocess("-q", "-m", "hardware", "-k", test)
    peer.close()
    assert result.parseoutcomes()["failed"] == 1
    assert re.search(advice, result.stdout.str(), re.DOTALL), result.stdout.str()


NEVER_ENERGIZED = """
import sound

class Dead(sound.Bench):
    energized = property(lambda self: False, lambda self, on: None)
    def answer(self, message):
        return "5000 MOhm" if message == "M1" else super().answer(message)

class TestTester(sound.TesterContract):
    driver = sound.Tester
    def instrument(self):
        return Dead()

class TestPump(sound.PumpContract):
    driver = sound.Pump
    def instrument(self):
        return Dead()
"""


def test_a_simulated_instrument_that_is_never_energized_shows_nothing(with_sound: pytest.Pytester) -> None:
    with_sound.makepyfile(test_it=NEVER_ENERGIZED)
    result = with_sound.runpytest_inprocess("-q", "-k", "goes_on or target")
    assert result.parseoutcomes()["failed"] == 2
    result.stdout.fnmatch_lines_random(
        ["*never energized while the driver waited*", "*energized = False, target = 1000000.0*"]
    )


def test_what_is_not_stated_is_asked_for(with_sound: pytest.Pytester) -> None:
    with_sound.makepyfile(
        test_it="import sound\n"
        "class TestMeter(sound.Contract):\n    driver = sound.Meter\n"
        "class TestPump(sound.Contract):\n    driver = sound.Pump\n"
    )
    result = with_sound.runpytest_inprocess("-q", "-k", "test_units or test_rise_to_returns_at_once")
    assert result.parseoutcomes()["failed"] == 2
    result.stdout.fnmatch_lines(["*readings or measures is not stated*"])
    result.stdout.fnmatch_lines(["*rise is not stated*"])


MISSTATED = {
    "kind": ("measures = 'displacement'", "test_units", "'displacement' is no kind of quantity.*is a \"length\""),
    "unit": (
        "readings = {'+012.50 kPa': '12.5 mm'}",
        "test_units",
        "TestMine: readings: .*12.5 mm.*a unit of its kind",
    ),
    "settings": ("settings = {'volts': 1}", "test_shape", r"settings = .*volts: .*read by Settings"),
    "message_end": (
        "message_end = '\\r'",
        "test_shape",
        r"opens with message_end = '\\n', and not with '\\r'.*correct message_end",
    ),
    "reply_end": (
        "reply_end = '\\r'",
        "test_shape",
        r"opens with reply_end = '\\n', and not with '\\r' as.*correct reply_end",
    ),
    "instrument": (
        "def instrument(self): return {'ID': 'own make,bench,7,1.2', 'ER': '0'}",
        "test_shape",
        r"mend: instrument\(\) of TestMine has no reply to 'P1': write it there",
    ),
}


@pytest.mark.parametrize("what", MISSTATED)
def test_what_is_misstated_is_told_with_advice_and_no_traceback(with_sound: pytest.Pytester, what: str) -> None:
    """An author's slip in the test class itself, and what the kit says of it."""
    stated, test, advice = MISSTATED[what]
    with_sound.makepyfile(
        test_it=f"import sound\nclass TestMine(sound.MeterContract):\n    driver = sound.Meter\n    {stated}\n"
    )
    result = with_sound.runpytest_inprocess("-q", "-k", test)
    assert result.parseoutcomes()["failed"] == 1
    assert re.search(advice, result.stdout.str(), re.DOTALL), result.stdout.str()
    assert not re.search(r"^E  ", result.stdout.str(), re.MULTILINE)


@pytest.mark.parametrize(
    ("stated", "advice"),
    [
        ("rise = ('10 bar', '0.5 bar')", "rise: .*0.5 bar"),
        ("load = 'length'", "load = 'length'.*a load is one of gauge pressure, force, torque"),
    ],
)
def test_a_misstated_load_is_told_with_advice(with_sound: pytest.Pytester, stated: str, advice: str) -> None:
    with_sound.makepyfile(
        test_it=f"import sound\nclass TestMine(sound.PumpContract):\n    driver = sound.Pump\n    {stated}\n"
    )
    result = with_sound.runpytest_inprocess("-q", "-k", "test_rise_to_returns_at_once")
    assert result.parseoutcomes()["failed"] == 1
    assert re.search(advice, result.stdout.str(), re.DOTALL), result.stdout.str()


def test_readings_of_hardware_are_shown(with_sound: pytest.Pytester, monkeypatch: pytest.MonkeyPatch) -> None:
    """In the unit of what is measured, to compare with the display: 12.5 kPa is 0.125 bar."""
    with_sound.makepyfile(test_it="import sound\nclass TestMine(sound.MeterContract):\n    driver = sound.Meter\n")
    peer = Peer(Instrument({"ID": "own make,bench,7,1.2", "ER": "0", "P1": "+012.50 kPa", "P2": "OVER"}), b"\n", b"\n")
    monkeypatch.setenv("RIGPROOF_HARDWARE", f"127.0.0.1:{peer.port}")
    result = with_sound.runpytest_inprocess("-rP", "-m", "hardware")
    peer.close()
    result.stdout.fnmatch_lines(["input 1 read 0.125 bar, 0.125 bar, 0.125 bar", "input 2 read no value, *"])


@pytest.mark.parametrize("test", ["test_units", "test_columns"])
def test_the_wrong_input_is_named_where_a_factor_would_mislead(with_sound: pytest.Pytester, test: str) -> None:
    with_sound.makepyfile(
        test_it="import sound\nclass Mine(sound.Meter):\n"
        "    def _reading(self, number): return super()._reading(3 - number)\n"
        "class TestMine(sound.MeterContract):\n    driver = Mine\n"
    )
    result = with_sound.runpytest_inprocess("-q", "-k", test)
    assert result.parseoutcomes()["failed"] == 1
    assert "Mine.read([1], 1, 0.0): gave -700: this is the reading of input 2" in result.stdout.str()
    assert "factor" not in result.stdout.str()


@pytest.mark.parametrize(
    ("shows", "told"),
    [("{1: '12.5 kPa'}", "states no reading of input 2"), ("{1: '1 Pa', 2: '1 Pa'}", "same reading at inputs 1 and 2")],
)
def test_readings_of_inputs_are_asked_for(with_sound: pytest.Pytester, shows: str, told: str) -> None:
    with_sound.makepyfile(
        test_it=f"import sound\nclass TestMine(sound.MeterContract):\n    driver = sound.Meter\n    shows = {shows}\n"
    )
    result = with_sound.runpytest_inprocess("-q", "-k", "test_columns")
    assert result.parseoutcomes()["failed"] == 1
    assert told in result.stdout.str()


@pytest.mark.parametrize(
    "stated", ["settings = {'volts': 1}", "message_end = '\\r'", "message_end = reply_end = '\\r'"]
)
def test_what_spoils_every_test_is_told_once(with_sound: pytest.Pytester, stated: str) -> None:
    with_sound.makepyfile(
        test_it=f"import sound\nclass TestMine(sound.MeterContract):\n    driver = sound.Meter\n    {stated}\n"
    )
    result = with_sound.runpytest_inprocess("-q", "-rs")
    assert result.parseoutcomes()["failed"] == 1
    assert result.parseoutcomes()["skipped"] > 20
    assert "passed" not in result.parseoutcomes()
    assert "nothing can be tried as stated: the first test that failed says why" in result.stdout.str()


OWN_DEFECTS = {
    "answers": (
        "MeterContract",
        "Meter",
        "def answer(self, message): return 1 / self.nothing",
        r"asked 'ID': raised Zero",
    ),
    "gives no text": (
        "MeterContract",
        "Meter",
        "def answer(self, message): return 5",
        r"asked 'ID': raised TypeError: 5 is",
    ),
    "calls a library": (
        "MeterContract",
        "Meter",
        "def answer(self, message): return json.loads('{')",
        r"raised JSONDec",
    ),
    "takes too much for granted": (
        "PumpContract",
        "Pump",
        "def answer(self, message): return str(1 / self.nothing) if 'GO' in message else super().answer(message)",
        r"asked 'GO [\d.e+]+ [\d.e+]+': raised Zero",
    ),
}


@pytest.mark.parametrize("defect", OWN_DEFECTS)
def test_a_defect_of_the_simulated_instrument_is_told_as_one_and_once(with_sound: pytest.Pytester, defect: str) -> None:
    """With its place in the author's file, and not as a time-out of the driver."""
    contract, driver, body, told = OWN_DEFECTS[defect]
    with_sound.makepyfile(
        test_it=f"import json, sound\nclass TestMine(sound.{contract}):\n    driver = sound.{driver}\n"
        f"    def instrument(self):\n        there = super().instrument()\n        class Broken(type(there)):\n"
        f"            nothing = 0\n            {body}\n        return Broken()\n"
    )
    result = with_sound.runpytest_inprocess("-q", "-W", "error")
    assert result.parseoutcomes()["failed"] == 1
    assert "errors" not in result.parseoutcomes()
    assert re.search(told, result.stdout.str())
    assert ("test_it.py:8)" in result.stdout.str()) is (defect != "gives no text")


def test_an_instrument_takes_its_time_on_the_clock_of_its_test(with_sound: pytest.Pytester) -> None:
    with_sound.makepyfile(
        test_it="import sound\nclass Slow(sound.MeterContract().instrument().__class__):\n"
        "    def __init__(self, clock):\n        super().__init__()\n        self.clock = clock\n"
        "    def answer(self, message):\n        self.clock.wait(3600.0)\n        return super().answer(message)\n"
        "class TestMine(sound.MeterContract):\n    driver = sound.Meter\n"
        "    def instrument(self):\n        return Slow(self.clock)\n"
    )
    result = with_sound.runpytest_inprocess("-q", "-k", "test_shape or test_units")
    assert result.parseoutcomes()["passed"] == 2


@pytest.mark.parametrize(("choice", "failed"), [('Literal["4", "8"]', 0), ("Literal[4, 8]", 1)])
def test_settings_are_texts_as_in_a_rig(with_sound: pytest.Pytester, choice: str, failed: int) -> None:
    """A choice of whole numbers cannot be written in rig.yaml; the contract must not take it either."""
    with_sound.makepyfile(
        test_it=f"""
        from typing import Literal
        from rigproof.instruments import Settings
        import sound

        class Averages(Settings):
            average: {choice}

        class Mine(sound.Named):
            settings_model = Averages

        class TestMine(sound.NamedContract):
            driver = Mine
            settings = {{"average": 8}}
            otherwise = ({{}}, ())
        """
    )
    result = with_sound.runpytest_inprocess("-q", "-k", "test_shape")
    assert result.parseoutcomes().get("failed", 0) == failed
    assert ("average: Input should be" in result.stdout.str()) == bool(failed)


@pytest.mark.parametrize(
    ("stated", "told"),
    [
        ("", ""),
        ("greeting = 'READY'", "greeting = b'READY', and Words has greeting = b''"),
        ("message_end = '\\r'", "message_end = b'\\r', and Words has message_end = b'\\n'"),
    ],
)
def test_a_stand_in_is_as_the_test_states_it(with_sound: pytest.Pytester, stated: str, told: str) -> None:
    """A run with --simulated meets the stand-in alone, and would find out."""
    with_sound.makepyfile(
        test_it=f"""
        from rigproof.instruments import Settings
        from rigproof.simulation import StandIn
        import sound

        class Words(StandIn):
            def answer(self, message):
                return sound.Bench().answer(message)

        class TestMine(sound.MeterContract):
            driver = sound.Meter
            {stated}

            def instrument(self):
                return Words(Settings(), self.identity, float)
        """
    )
    result = with_sound.runpytest_inprocess("-q", "-k", "test_shape or test_units")
    outcomes = result.parseoutcomes()
    assert (outcomes.get("passed", 0), outcomes.get("failed", 0)) == ((0, 1) if told else (2, 0))
    assert told in result.stdout.str()


def test_a_reading_that_fails_is_told_once(with_sound: pytest.Pytester) -> None:
    with_sound.makepyfile(
        test_it="import sound\nclass Deaf(sound.Meter):\n    def _value(self, reply):\n"
        "        self._expect(False, 'P', 'something else')\n"
        "class TestMine(sound.MeterContract):\n    driver = Deaf\n"
    )
    result = with_sound.runpytest_inprocess("-q")
    assert result.parseoutcomes()["failed"] == 1
    assert "read([1], 1, 0.0): raised InstrumentError while the instrument was well: " in result.stdout.str()


def test_what_cannot_be_tried_fails_where_one_test_alone_is_chosen(with_sound: pytest.Pytester) -> None:
    with_sound.makepyfile(
        test_it="import sound\nclass TestMine(sound.MeterContract):\n    driver = sound.Meter\n    reply_end = '\\r'\n"
    )
    assert with_sound.runpytest_inprocess("-q", "-k", "test_garbage").parseoutcomes()["failed"] == 1


@pytest.mark.parametrize(
    ("stated", "test", "advice"),
    [
        ("readings = {}", "test_units", "readings or measures is not stated"),
        ("driver = Raises", "test_close_never_raises", r"close\(\): raised ValueError: not open"),
    ],
)
def test_what_is_left_out_fails_one_test_with_advice(
    with_sound: pytest.Pytester, stated: str, test: str, advice: str
) -> None:
    with_sound.makepyfile(
        test_it="import sound\nclass Raises(sound.Meter):\n    def close(self):\n        super().close()\n"
        "        raise ValueError('not open')\n    def resume(self):\n        return self.open()\n"
        f"class TestMine(sound.MeterContract):\n    driver = sound.Meter\n    {stated}\n"
    )
    result = with_sound.runpytest_inprocess("-q")
    failures = result.reprec.getfailures()  # type: ignore[attr-defined]  # set by an in-process run
    assert {report.nodeid.rpartition("::")[2] for report in failures} == {test}, result.stdout.str()
    assert re.search(advice, result.stdout.str()), result.stdout.str()
