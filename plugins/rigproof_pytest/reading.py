"""Promises of drivers that read: units, shape, overload, time between readings, and requests that make no sense."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from rigproof.errors import RigproofError
from rigproof.instruments import FloatArray, Reads, TestsInsulation
from rigproof.quantities import KINDS

from .kit import INSULATION_V, PATIENCE_S, Action, Kit, advise, content, needs, shown
from .watch import Hangs, limited

_APART_S = 20.0
_STRAY_S = 2.0


class Reading(Kit):
    """What the instrument sent is what the caller gets, in base units."""

    @needs(Reads | TestsInsulation)
    def test_units(self) -> None:
        """Values cross in base units: each stated reply is read as what it means."""
        if not self.readings or not self.measures:
            advise(
                type(self).__name__,
                "readings or measures is not stated",
                "a driver is held against what its instrument's manual says a reply means",
                'write measures = "force" and readings = {"+0012.34kN": "12.34 kN", …}',
            )
        healthy = content(next(iter(self.readings)))
        for reply, meaning in self.readings.items():
            self.peer.swapped[healthy] = content(reply)
            wanted = self.stated("readings", meaning, self.measures)
            with self.opened() as driver:
                found = self.well(self.value_call, lambda: self.value(driver))
            if not math.isclose(found, wanted, rel_tol=1e-6, abs_tol=1e-12):
                advise(
                    self.place(self.value_call),
                    f"gave {found:g} for {shown(content(reply))}, which means {meaning}",
                    f"values cross in base units: {meaning} is {wanted:g} {KINDS[self.measures].base}",
                    _factor(found, wanted),
                )

    @needs(Reads | TestsInsulation)
    def test_overload(self) -> None:
        """Overload is nan (insulation above the range: inf), never a number."""
        if not self.overloads:
            pytest.skip("overloads is not stated: what does the instrument send above its range or on an open circuit?")
        wanted = math.inf if issubclass(self.driver, TestsInsulation) else math.nan
        for reply in self.overloads:
            self.peer.swapped[content(next(iter(self.readings)))] = content(reply)
            with self.opened() as driver:
                found = self.well(self.value_call, lambda: self.value(driver))
            if not (found == wanted or (math.isnan(found) and math.isnan(wanted))):
                advise(
                    self.place(self.value_call),
                    f"gave {found:g} for {shown(content(reply))}",
                    f"overload comes back as {wanted}, never as a number: a number would be judged",
                    f"return {'math.inf' if wanted > 0 else 'math.nan'} for this reply",
                )

    @needs(Reads | TestsInsulation)
    def test_refusal(self) -> None:
        """A reply by which the instrument says that it cannot is an error."""
        if not self.refusals:
            pytest.skip("refusals is not stated: what does the instrument send when it cannot give a reading?")
        for reply in self.refusals:
            self.peer.swapped[content(next(iter(self.readings)))] = content(reply)
            with self.opened() as driver:
                found, error = self.attempt(self.value_call, lambda: self.value(driver), "where it refused")
            if error is None:
                advise(
                    self.place(self.value_call),
                    f"gave {found} for {shown(content(reply))}",
                    "what the instrument could not measure is an error",
                    "raise InstrumentError with the words of the manual for this reply",
                )

    @needs(Reads)
    def test_check_takes_what_it_reads(self) -> None:
        """`Reads.unreadable`: says nothing against an input that exists and the kind that is read there."""
        if not self.measures:
            pytest.skip("measures is not stated")
        for number in self.inputs:
            told = self.driver.unreadable(self.their_settings(), number, self.measures)  # type: ignore[attr-defined]
            if told:
                advise(
                    self.place(f"unreadable(settings, {number}, {self.measures!r})"),
                    f"said {told!r}",
                    f"input {number} exists and measures {self.measures}; `rigproof check` would refuse a sound rig",
                    'return "" for it, or correct inputs and measures here',
                )

    @needs(Reads)
    def test_shape(self) -> None:
        """`Reads.read`: shape (count, len(inputs)), 64-bit floats."""
        wanted = [(3, list(self.inputs)), (1, list(self.inputs[:1]))]
        with self.opened() as driver:
            for count, inputs in wanted:
                call = f"read({inputs}, {count}, 0.0)"
                block = self.well(call, lambda: driver.read(inputs, count, 0.0))  # noqa: B023  called at once
                is_array = isinstance(block, np.ndarray)
                if not is_array or block.dtype != np.float64 or block.shape != (count, len(inputs)):
                    advise(
                        self.place(call),
                        f"gave {f'shape {block.shape} of {block.dtype}' if is_array else f'a {type(block).__name__}'}",
                        f"read gives a numpy array of float64, one row per reading: {(count, len(inputs))}",
                        "np.array(rows, dtype=np.float64) with one list per reading, one value per input",
                    )

    @needs(Reads)
    def test_columns_are_the_inputs_asked_for(self) -> None:
        """`Reads.read`: one column per input, in the order of `inputs`."""
        if len(self.inputs) < 2:
            pytest.skip("one input cannot be taken for another: state two in inputs if the instrument has them")
        one, other = self.inputs[:2]
        with self.opened() as driver:
            first, second = (self._row(driver, [number])[0] for number in (one, other))
            both = self._row(driver, [other, one])
        apart = abs(first - second)
        if not apart > 1e-3 * max(abs(first), abs(second)):
            advise(
                self.place(f"read([{other}], 1, 0.0)"),
                f"gave {second:g}, and {first:g} for input {one}",
                "each input has a reading of its own",
                "put the input into the question; let the simulated instrument say different things at its inputs",
            )
        if not (both.size == 2 and abs(both[0] - second) < apart / 2 and abs(both[1] - first) < apart / 2):
            advise(
                self.place(f"read([{other}, {one}], 1, 0.0)"),
                f"gave {both.tolist()}; alone, input {other} gave {second:g} and input {one} gave {first:g}",
                "there is one column per input, in the order asked for",
                "fill the columns in the order of `inputs`, whatever the order in which the instrument tells them",
            )

    def _row(self, driver: Reads, inputs: list[int]) -> FloatArray:
        """One reading of each input; whether its shape is right is the matter of `test_shape`."""
        return np.asarray(self.well(f"read({inputs}, 1, 0.0)", lambda: driver.read(inputs, 1, 0.0))).reshape(-1)

    @needs(Reads)
    def test_readings_are_apart_on_the_clock(self) -> None:
        """`Reads.read` blocks for count · interval on the injected clock."""
        count = 3
        call = f"read([{self.inputs[0]}], {count}, {_APART_S:g})"
        with self.opened() as driver:
            began = self.clock.now()
            self.well(call, lambda: driver.read([self.inputs[0]], count, _APART_S))
            took_s = self.clock.now() - began
        if not abs(took_s - count * _APART_S) <= _STRAY_S:
            advise(
                self.place(call),
                f"took {took_s:.1f} s on the clock",
                f"it takes count · interval, here {count * _APART_S:g} s: readings are as far apart as was asked",
                "wait on self.connection.clock what is left of each interval; an instrument that paces itself does so "
                "in `instrument` by self.clock.wait(seconds)",
            )

    @needs(Reads)
    def test_a_request_without_sense(self) -> None:
        """A request no instrument could carry out is refused in words."""
        one = self.inputs[0]
        for inputs, count, interval_s in (
            ([0], 1, 0.0),
            ([-1], 1, 0.0),
            ([], 1, 0.0),
            ([one], 0, 0.0),
            ([one], 1, -1.0),
            ([one], 1, math.nan),
        ):
            self.refused(
                f"read({inputs}, {count}, {interval_s:g})",
                lambda driver: driver.read(inputs, count, interval_s),  # noqa: B023  called at once
                "inputs count from 1, count is 1 or more, interval_s is 0 or more",
            )

    @needs(TestsInsulation)
    def test_the_voltage_is_on_for_the_time_asked(self) -> None:
        """`TestsInsulation`: the reading is taken after the time of electrification."""
        call = f"insulation_ohm({self.inputs[0]}, {INSULATION_V:g}, {_APART_S:g})"
        with self.opened() as driver:
            began = self.clock.now()
            self.well(call, lambda: driver.insulation_ohm(self.inputs[0], INSULATION_V, _APART_S))
            took_s = self.clock.now() - began
        if not abs(took_s - _APART_S) <= _STRAY_S:
            advise(
                self.place(call),
                f"took {took_s:.1f} s on the clock",
                f"the resistance is read after {_APART_S:g} s at the voltage: it rises while the insulation charges",
                "self.connection.clock.wait(electrification_s) between switching on and reading",
            )

    def refused(self, call: str, action: Action, rule: str) -> None:
        """`action` must raise one of rigproof's own errors."""
        with self.opened() as driver:
            problem = self._refusal(lambda: action(driver))
        if problem:
            advise(
                self.place(call),
                problem,
                f"{rule}; anything else is refused in words",
                "look at the arguments first, and raise InstrumentError(self.connection.name, …)",
            )

    def _refusal(self, action: Callable[[], object]) -> str:
        try:
            with limited(PATIENCE_S):
                found = action()
        except RigproofError:
            return ""
        except Hangs:
            return f"had not come back after {PATIENCE_S:g} s"
        except Exception as error:
            return f"raised {type(error).__name__}: {error}"
        return f"gave {found!r}"


def _factor(found: float, wanted: float) -> str:
    """What to do about a number of the wrong size."""
    if math.isfinite(found) and found and wanted:
        return f"multiply what was sent by its unit in base units: here a factor of {wanted / found:.6g} is missing"
    return "look at how this reply is turned into a number"
