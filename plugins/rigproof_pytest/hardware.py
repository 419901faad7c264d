"""The few promises that are tried on a real instrument. They put no load on anything and no voltage on any lead."""

from __future__ import annotations

import math
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest

from rigproof.clock import WallClock
from rigproof.errors import InstrumentError
from rigproof.instruments import Connection, Identity, Loads, Reads
from rigproof.quantities import KINDS, show

from .kit import Kit, advise, needs

VARIABLE = "RIGPROOF_HARDWARE"
_TIMEOUT_S = 5.0


class Hardware(Kit):
    """On a real instrument: `RIGPROOF_HARDWARE=TCPIP::10.0.0.7::5025::SOCKET pytest -m hardware -k TestMine`."""

    @contextmanager
    def real(self) -> Iterator[Any]:
        """A driver on the real instrument, open, on the wall clock."""
        resource = os.environ.get(VARIABLE, "")
        if not resource:
            pytest.skip(f"no instrument: set {VARIABLE} to its resource, as in rig.yaml")
        driver = self.make_at(Connection("real", resource, "", _TIMEOUT_S, WallClock()))
        try:
            driver.open()
            yield driver
        except InstrumentError as error:
            advise(
                self.place("…"),
                f"raised InstrumentError: {error}",
                f"the instrument at {resource} answers, within {_TIMEOUT_S:g} s, as its manual says",
                "see that nothing else talks to it; then compare the reply with the manual and with the simulated one",
            )
        finally:
            self.shut(driver)

    @pytest.mark.hardware
    def test_hardware_says_who_it_is(self) -> None:
        """Identity and an empty error queue, twice."""
        with self.real() as driver:
            self.shut(driver)
            found, errors = driver.open(), driver.errors()
        if not isinstance(found, Identity) or errors:
            advise(self.place("open()"), f"gave {found!r}, errors {errors!r}", "an Identity, no errors", "ask again")
        sys.stdout.write(f"it says: {found}; no errors\n")  # `pytest -rP` shows it, as all that follows

    @pytest.mark.hardware
    @needs(Reads)
    def test_hardware_reads(self) -> None:
        """Finite readings, or nan for an open input, in the shape asked for."""
        with self.real() as driver:
            block = driver.read(list(self.inputs), 3, 0.1)
        if block.shape != (3, len(self.inputs)) or any(math.isinf(value) for value in block.flat):
            advise(
                self.place(f"read({list(self.inputs)}, 3, 0.1)"),
                f"gave {block!r}",
                f"shape {(3, len(self.inputs))}, each value a number or nan",
                "compare the reply with the instrument's manual",
            )
        kind = self.measures if self.measures in KINDS else "number"
        for number, values in zip(self.inputs, block.T, strict=True):
            read = ", ".join(show(float(value), kind) for value in values)
            sys.stdout.write(f"input {number} read {read}\n")  # to compare with the display

    @pytest.mark.hardware
    @needs(Loads)
    def test_hardware_goes_safe(self) -> None:
        """Safe, and said so by the instrument; never under load."""
        with self.real() as driver:
            driver.go_safe()
            driver.go_safe()
            if not driver.is_safe():
                advise(
                    self.place("go_safe()"),
                    "left the source in a state it does not call safe",
                    "go_safe ends in the safe state",
                    "make it safe by hand, then compare the command with the instrument's manual",
                )
        sys.stdout.write("it was told twice to go to its safe state, and says that it is there\n")
