"""Sound drivers, and broken ones made of them, under the kit in a pytest of their own."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from pathlib import Path
from textwrap import dedent, indent

import pytest

HERE = Path(__file__).parent
HEAD = """\
import math, re, socket, sys, threading, time
from time import sleep as nap
import numpy as np
from rigproof.errors import InstrumentError
from rigproof.instruments import Identity
import sound
from sound import LEAKED
"""


@pytest.fixture
def with_sound(pytester: pytest.Pytester) -> pytest.Pytester:
    """A folder that holds the sound drivers and their instruments."""
    for name in ("sound.py", "sound_instruments.py"):
        shutil.copy(HERE / name, pytester.path / name)
    return pytester


@pytest.fixture
def try_out(with_sound: pytest.Pytester) -> Callable[[str, str, str, str], None]:
    """A function of a driver of sound.py, the body of a subclass with a mistake, the tests to find it, its advice."""

    def run(driver: str, body: str, test: str, advice: str) -> None:
        contract = "Contract" if driver in {"Switch", "Table"} else f"{driver}Contract"
        with_sound.makepyfile(
            test_it=f"{HEAD}\nclass Broken(sound.{driver}):\n{indent(dedent(body), '    ')}\n"
            f"class TestBroken(sound.{contract}):\n    driver = Broken\n"
        )
        result = with_sound.runpytest_inprocess("-q", "-p", "no:cacheprovider")
        failures = result.reprec.getfailures()  # type: ignore[attr-defined]  # set by an in-process run
        output = result.stdout.str()
        assert {report.nodeid.rpartition("::")[2] for report in failures} == set(test.split()), output
        assert re.search(advice, output, re.DOTALL), output
        assert "During handling of" not in output

    return run
