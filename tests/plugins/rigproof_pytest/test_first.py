"""Where the simulated instrument never sends the first of `readings`, that is told alone."""

from __future__ import annotations

import re

import pytest

pytest_plugins = ["pytester"]

HEAD = "import sound\nclass TestMine(sound.MeterContract):\n    driver = sound.Meter\n"
STATED_OTHERWISE = f"{HEAD}    readings = {{'+12.50 kPa': '12.5 kPa', '-000.70 kPa': '-7 mbar'}}\n"
NEVER_SETTLED = """
import sound

class Settles(sound.Bench):
    \"\"\"Shows nothing true until 2 s after it was asked who it is.\"\"\"
    def __init__(self, clock):
        super().__init__()
        self.clock, self.since_s = clock, 0.0
    def answer(self, message):
        if message == "ID":
            self.since_s = self.clock.now()
        early = message.startswith("P") and self.clock.now() < self.since_s + 2.0
        return "+000.00 kPa" if early else super().answer(message)

class Waits(sound.Meter):
    def open(self):
        found = super().open()
        self.connection.clock.wait(2.0)
        return found

class TestMine(sound.MeterContract):
    driver = sound.Meter
    def instrument(self):
        return Settles(self.clock)
"""


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (STATED_OTHERWISE, r"never sent '\+12\.50 kPa', the first of readings;.*'P1' → '\+012\.50 kPa'"),
        (NEVER_SETTLED, r"never sent '\+012\.50 kPa'.*'P1' → '\+000\.00 kPa'.*mend: where the driver leaves.*a time"),
    ],
)
def test_it_is_told_alone_with_what_came(with_sound: pytest.Pytester, text: str, told: str) -> None:
    with_sound.makepyfile(test_it=text)
    result = with_sound.runpytest_inprocess("-q")
    outcomes = result.parseoutcomes()
    assert (outcomes["failed"], "passed" in outcomes) == (1, False), result.stdout.str()
    assert re.search(told, result.stdout.str(), re.DOTALL), result.stdout.str()
    assert "factor" not in result.stdout.str()


def test_a_driver_that_waits_for_it_passes(with_sound: pytest.Pytester) -> None:
    with_sound.makepyfile(test_it=NEVER_SETTLED.replace("driver = sound.Meter", "driver = Waits"))
    assert "failed" not in with_sound.runpytest_inprocess("-q", "-k", "units or overload or sign").parseoutcomes()
