"""What the tests of readings ask for where it is not stated."""

from __future__ import annotations

import pytest

pytest_plugins = ["pytester"]


@pytest.mark.parametrize(
    ("readings", "shows", "outcome"),
    [
        ("{'+012.50 kPa': '12.5 kPa', '+101.00 kPa': '1.01 bar'}", "{1: '12.5 kPa'}", "skipped"),
        ("{'+012.50 kPa': '12.5 kPa', '-000.70 kPa': '-7 mbar'}", "{1: '12.5 kPa'}", "passed"),
        ("{'+012.50 kPa': '12.5 kPa'}", "{1: '12.5 kPa', 2: '-0.7 kPa'}", "passed"),
    ],
)
def test_none_below_zero_is_told_where_there_can_be_one(
    with_sound: pytest.Pytester, readings: str, shows: str, outcome: str
) -> None:
    with_sound.makepyfile(
        test_it="import sound\nclass TestMine(sound.MeterContract):\n    driver = sound.Meter\n"
        f"    readings = {readings}\n    shows = {shows}\n"
        "class TestTester(sound.TesterContract):\n    driver = sound.Tester\n"
    )
    result = with_sound.runpytest_inprocess("-q", "-rs", "-k", "test_the_sign")
    assert result.parseoutcomes() == ({"passed": 1, "skipped": 1} if outcome == "skipped" else {"passed": 2}) | {
        "deselected": result.parseoutcomes()["deselected"]
    }
    told = "readings states none below zero: what does the instrument send there?" in result.stdout.str()
    assert told is (outcome == "skipped")
