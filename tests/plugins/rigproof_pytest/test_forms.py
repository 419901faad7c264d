"""A state without its form is told once, before any test judges by it, with the form to write."""

from __future__ import annotations

import re

import pytest

pytest_plugins = ["pytester"]

WRONG = {
    "busy = ('BUSY')": r"busy = 'BUSY'.*needs a comma.*mend: write `busy = \('BUSY',\)`",
    "sends = 'U1'": r"sends = 'U1'.*mend: write `sends = \('U1',\)`",
    "sends = b'U1'": r"sends = b'U1'.*mend: write `sends = \(b'U1',\)`",
    "overloads = 'OVER'": r"overloads = 'OVER'.*mend: write `overloads = \('OVER',\)`",
    "refusals = 'E3'": r"refusals = 'E3'.*mend: write `refusals = \('E3',\)`",
    "refusals = (3,)": r"refusals = \(3,\).*mend: write `refusals = \('U1',\)`",
    "inputs = 1": r"inputs = 1.*tuple of whole numbers.*mend: write `inputs = \(1,\)` or `inputs = \(1, 2\)`",
    "inputs = ()": r"inputs = \(\).*one at least",
    "otherwise = ()": r"otherwise = \(\).*it is a pair",
    "otherwise = ({'unit': 'N'}, 'U0')": r"otherwise = .*'U0'\).*mend: write `otherwise = \(\{\"filter\": \"5\"\}, ",
    "error_queue = {'ER': 'E12 bad word'}": r"error_queue = .*tuple of two.*mend: write `error_queue = ",
    "readings = ('+012.50 kPa', '12.5 kPa')": r"readings = .*it is a table.*mend: write `readings = \{",
    "rise = '10 bar'": r"rise = '10 bar'.*it is a pair.*mend: write `rise = ",
    "moving = ('BUSY',)": r"moving = .*it is a table",
}


@pytest.mark.parametrize("stated", WRONG)
def test_it_is_told_once_with_the_form_to_write(with_sound: pytest.Pytester, stated: str) -> None:
    with_sound.makepyfile(
        test_it=f"import sound\nclass TestMine(sound.MeterContract):\n    driver = sound.Meter\n    {stated}\n"
    )
    result = with_sound.runpytest_inprocess("-q")
    outcomes = result.parseoutcomes()
    assert (outcomes.get("failed"), "errors" in outcomes, "passed" in outcomes) == (1, False, False)
    assert re.search(f"TestMine: {WRONG[stated]}", result.stdout.str(), re.DOTALL), result.stdout.str()
    assert not re.search(r"^E  ", result.stdout.str(), re.MULTILINE)


def test_lists_serve_as_tuples_do(with_sound: pytest.Pytester) -> None:
    with_sound.makepyfile(
        test_it="import sound\nclass TestMine(sound.MeterContract):\n    driver = sound.Meter\n    inputs = [1, 2]\n"
        "    busy, overloads, refusals, sends = ['BUSY'], [b'OVER'], ['E3'], []\n"
    )
    outcomes = with_sound.runpytest_inprocess("-q").parseoutcomes()
    assert set(outcomes) == {"passed", "skipped"}
