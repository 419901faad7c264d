"""Sound drivers pass the kit, and the kit behaves as a part of pytest: collection, -k, -n, --junitxml, hardware."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

from rigproof_pytest import Instrument
from rigproof_pytest.peer import Peer

pytest_plugins = ["pytester"]

SOUND_TESTS = """
import sound

class TestMeter(sound.MeterContract):
    driver = sound.Meter

class TestSwitch(sound.Contract):
    driver = sound.Switch

class TestTester(sound.TesterContract):
    driver = sound.Tester

class TestPump(sound.PumpContract):
    driver = sound.Pump
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
    assert {name.partition("::")[0] for name in found} == {"TestMeter", "TestSwitch", "TestTester", "TestPump"}
    assert "TestMeter::test_shape" in found
    assert "TestPump::test_shape" not in found
    assert "TestPump::test_go_safe_twice" in found
    assert "TestMeter::test_go_safe_twice" not in found
    assert "TestTester::test_the_voltage_is_off_afterwards" in found
    assert "TestSwitch::test_the_voltage_is_off_afterwards" not in found


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
    tried = sound.runpytest_inprocess("-m", "hardware", "-k", "TestMeter or TestPump")
    peer.close()
    assert set(tried.parseoutcomes()) == {"passed", "deselected"}, tried.stdout.str()
    said = {one.message for one in peer.said}
    assert {b"ID", b"P1", b"P2", b"STOP"} <= said <= {message.encode() for message in table}


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
