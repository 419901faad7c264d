"""What the tests of readings ask for where it is not stated."""

from __future__ import annotations

import re

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


def test_an_overload_that_is_raised_is_told_as_a_reading(with_sound: pytest.Pytester) -> None:
    with_sound.makepyfile(
        test_it="import sound\nclass Meter(sound.Meter):\n    def _value(self, reply):\n"
        "        self._expect(reply != 'OVER', 'P', 'in range')\n        return super()._value(reply)\n"
        "class Tester(sound.Tester):\n    def _ask(self, question):\n        reply = super()._ask(question)\n"
        "        self._expect(reply != 'OVER', 'M', 'in range')\n        return reply\n"
        "class TestMeter(sound.MeterContract):\n    driver = Meter\n"
        "class TestTester(sound.TesterContract):\n    driver = Tester\n"
    )
    result = with_sound.runpytest_inprocess("-q")
    assert result.parseoutcomes()["failed"] == 2, result.stdout.str()
    told = result.stdout.str()
    assert "raised InstrumentError for 'OVER', which overloads states" in told
    assert "mend: return math.nan for this reply" in told
    assert "mend: return math.inf for this reply" in told
    assert "a healthy instrument is read without complaint" not in told


CACHED = """
import sound

class Meter(sound.Meter):
    kept = None
    def open(self):
        self.kept = {}
        return super().open()
    def _reading(self, number):
        if number not in self.kept:
            self.kept[number] = super()._reading(number)
        else:
            self._expect(self._ask(f"P{number}") not in ("", "OVER"), "P", "there")
        return self.kept[number]

class TestMine(sound.MeterContract):
    driver, busy = Meter, ()
"""


def test_a_reading_that_is_kept_is_found_without_busy(with_sound: pytest.Pytester) -> None:
    with_sound.makepyfile(test_it=CACHED)
    result = with_sound.runpytest_inprocess("-q", "-k", "test_a_second_reading")
    assert result.parseoutcomes()["failed"] == 1
    told = r"gave 12500 once more where the instrument now sends '\+101\.00 kPa', which means 1\.01 bar.*mend: ask for"
    assert re.search(told, result.stdout.str(), re.DOTALL), result.stdout.str()
