"""Promises of drivers that read: units, shape, overload, time between readings, and requests that make no sense."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NoReturn

import numpy as np
import pytest

from rigproof.errors import InstrumentError, RigproofError
from rigproof.instruments import FloatArray, Reads, TestsInsulation
from rigproof.quantities import KINDS

from .kit import INSULATION_V, Action, Kit, advise, needs, same
from .told import content, shown
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
        for reply, meaning in self.readings.items():
            self.peer.swapped[self.healthy] = content(reply)
            wanted = self.stated("readings", meaning, self.measures)
            with self.opened() as driver:
                found = self.well(self.value_call, lambda: self.value(driver))
            if not _as_large(found, wanted):
                if (other := self.input_that_shows(found)) not in (None, self.inputs[0]):
                    self._wrong_input(self.inputs[0], found, other)
                advise(
                    self.place(self.value_call),
                    f"gave {found:g} for {shown(content(reply))}, which means {meaning}",
                    f"values cross in base units: {meaning} is {wanted:g} {KINDS[self.measures].base}",
                    _factor(found, wanted),
                )

    @needs(Reads | TestsInsulation)
    def test_the_sign(self) -> None:
        """A reading below zero is one: what is unloaded, drifts or is wired the wrong way reads so."""
        if not self.readings or not self.measures:
            pytest.skip("readings or measures is not stated: see test_units")
        below = False
        for number, text in self.shows.items():
            below |= self._expect_sign(number, text, f"where input {number} shows {text}")
        for reply, text in self.readings.items():
            self.peer.swapped[self.healthy] = content(reply)
            below |= self._expect_sign(self.inputs[0], text, f"for {shown(content(reply))}, which means {text}")
        if not below and KINDS[self.measures].lowest != 0:
            pytest.skip(
                "readings states none below zero: what does the instrument send there? A driver that loses the sign "
                "would pass"
            )

    def _expect_sign(self, number: int, text: str, where: str) -> bool:
        """Read one input, which means `text`; gives whether that is below zero."""
        wanted, call = self.stated("readings", text, self.measures), self.value_call_of(number)
        with self.opened() as driver:
            found = self.well(call, lambda: self.value(driver, number))
        if found * wanted < 0 and _as_large(found, wanted):
            advise(
                self.place(call),
                f"gave {found:g} {where}",
                "a reading keeps its sign: it tells which way a part is loaded, and how a gauge is wired",
                "match the sign with the number, as in `([+-][0-9.]+)`, and let it go through as it is",
            )
        return wanted < 0

    @needs(Reads | TestsInsulation)
    def test_overload(self) -> None:
        """Overload is nan (insulation above the range: inf), never a number."""
        if not self.readings:
            pytest.skip("readings is not stated: see test_units")
        if not self.overloads:
            pytest.skip("overloads is not stated: what does the instrument send above its range or on an open circuit?")
        wanted = math.inf if issubclass(self.driver, TestsInsulation) else math.nan
        for reply in self.overloads:
            self.peer.swapped[self.healthy] = content(reply)
            with self.opened() as driver:
                found, error = self.attempt(self.value_call, lambda: self.value(driver), "at overload")
            if found is None:
                self._raised_at_overload(content(reply), error, wanted)
            if not (found == wanted or (math.isnan(found) and math.isnan(wanted))):
                advise(
                    self.place(self.value_call),
                    f"gave {found:g} for {shown(content(reply))}",
                    f"overload comes back as {wanted}, never as a number: a number would be judged",
                    f"return {_named(wanted)} for this reply",
                )

    def _raised_at_overload(self, reply: bytes, error: InstrumentError | None, wanted: float) -> NoReturn:
        advise(
            self.place(self.value_call),
            f"raised InstrumentError for {shown(reply)}, which overloads states: {error}",
            f"an overload or an open circuit is a reading, and comes back as {wanted}: whoever reads decides about it; "
            "an error would end the run as if the instrument were lost",
            f"return {_named(wanted)} for this reply, before its number is matched; where it is no overload, state it "
            "in refusals",
        )

    @needs(Reads | TestsInsulation)
    def test_a_second_reading_is_a_new_one(self) -> None:
        """What the instrument sends at each reading is read, and nothing is kept from the one before."""
        if len(self.readings) < 2 or not self.measures:
            pytest.skip("readings states none or one, or measures is not stated: see test_units")
        (_, first), (new, second) = list(self.readings.items())[:2]
        if same(self.stated("readings", first, self.measures), self.stated("readings", second, self.measures)):
            pytest.skip("the first two of readings mean the same: a driver that repeats its first reading would pass")
        with self.opened() as driver:
            before = self.well(self.value_call, lambda: self.value(driver))
            self.peer.swapped[self.healthy] = content(new)
            after = self.well(self.value_call, lambda: self.value(driver))
        if same(before, after) and self.input_that_shows(after) in (None, self.inputs[0]):  # else of another input
            advise(
                self.place(self.value_call),
                f"gave {after:g} once more where the instrument now sends {shown(content(new))}, which means {second}",
                "each reading is what the instrument sends at that time: a reading that is kept hides every change",
                "ask for each reading, and keep none from the call before",
            )

    @needs(Reads | TestsInsulation)
    def test_refusal(self) -> None:
        """A reply by which the instrument says that it cannot is an error."""
        if not self.readings:
            pytest.skip("readings is not stated: see test_units")
        if not self.refusals:
            pytest.skip("refusals is not stated: what does the instrument send when it cannot give a reading?")
        for reply in self.refusals:
            self.peer.swapped[self.healthy] = content(reply)
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
        """`Reads.read`: one column per input, in the order of `inputs`, and each input has its own reading."""
        if len(self.inputs) < 2:
            pytest.skip("one input cannot be taken for another: state two in inputs if the instrument has them")
        if not self.measures:
            pytest.skip("measures is not stated: see test_units")
        shows, turned = self._shown_at_inputs(), list(reversed(self.inputs))
        with self.opened() as driver:
            alone = {number: float(self._row(driver, [number])[0]) for number in self.inputs}
            together = self._row(driver, turned)
        for number, found in alone.items():
            self._expect_shown(number, found, alone[self.inputs[0]], shows)
        if not (together.size == len(turned) and all(map(same, together, (alone[number] for number in turned)))):
            told = ", ".join(f"input {number} gave {found:g}" for number, found in alone.items())
            advise(
                self.place(f"read({turned}, 1, 0.0)"),
                f"gave {together.tolist()}; alone, {told}",
                "there is one column per input, in the order asked for",
                "fill the columns in the order of `inputs`, whatever the order in which the instrument tells them",
            )

    def _shown_at_inputs(self) -> dict[int, float]:
        """What the healthy instrument reads at each input, in base units, all of them different."""
        shows = {number: self.stated("shows", text, self.measures) for number, text in self.shows.items()}
        alike = [number for number in shows if list(shows.values()).count(shows[number]) > 1]
        what = f"shows has the same reading at inputs {' and '.join(map(str, alike))}" if alike else ""
        if missing := [number for number in self.inputs if number not in shows]:
            what = f"shows states no reading of input {missing[0]}"
        if what:
            advise(
                type(self).__name__,
                what,
                "a reading that is taken from the wrong input is known by its value alone",
                'write shows = {1: "12.34 kN", 2: "-500 N"}, for each of inputs, as the simulated instrument has it',
            )
        return shows

    def _expect_shown(self, number: int, found: float, first: float, shows: dict[int, float]) -> None:
        """The reading of one input. Where the `first` is off by a factor, so may this one be: `test_units` tells it."""
        if (other := self.input_that_shows(found)) not in (None, number):
            self._wrong_input(number, found, other)
        one = shows[self.inputs[0]]
        wanted = shows[number] * (first / one if one and math.isfinite(first) else 1.0)
        if not _as_large(found, wanted):
            advise(
                self.place(f"read([{number}], 1, 0.0)"),
                f"gave {found:g} where input {number} shows {self.shows[number]}",
                "each input has a reading of its own, in the same base unit",
                "send the number of the input that is asked for; or correct what shows states of it",
            )

    def input_that_shows(self, found: float) -> int | None:
        """The input whose stated reading this is; None where it is none of them."""
        for number, text in self.shows.items():
            if math.isclose(found, self.stated("shows", text, self.measures), rel_tol=1e-6, abs_tol=1e-12):
                return number
        return None

    def _wrong_input(self, number: int, found: float, other: int | None) -> NoReturn:
        advise(
            self.place(f"read([{number}], 1, 0.0)"),
            f"gave {found:g}: this is the reading of input {other}",
            f"input {number} is read where input {number} is asked for: a check of one gauge must not rest on another",
            "put the number of the input into the question, or choose the input before it; where the driver does, see "
            f"that instrument() of {type(self).__name__} does not mix them up",
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
            took = self.timed(lambda: self.well(call, lambda: driver.read([self.inputs[0]], count, _APART_S)))
        if not _lasted(count * _APART_S, *took):
            advise(
                self.place(call),
                f"took {took[0]:.1f} s on the clock",
                f"it takes count · interval, here {count * _APART_S:g} s: readings are as far apart as was asked",
                "wait on self.connection.clock what is left of each interval; give a simulated instrument that paces "
                "itself the clock of the test: `return Mine(self.clock)` in instrument(), and clock.wait(…) there",
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
            took = self.timed(
                lambda: self.well(call, lambda: driver.insulation_ohm(self.inputs[0], INSULATION_V, _APART_S))
            )
        if not _lasted(_APART_S, *took):
            advise(
                self.place(call),
                f"took {took[0]:.1f} s on the clock",
                f"the resistance is read after {_APART_S:g} s at the voltage: it rises while the insulation charges",
                "self.connection.clock.wait(electrification_s) between switching on and reading",
            )

    def refused(self, call: str, action: Action, rule: str) -> None:
        """`action` must raise one of rigproof's own errors."""
        with self.opened() as driver:
            problem = self.refusal(lambda: action(driver))
        if problem:
            advise(
                self.place(call),
                problem,
                f"{rule}; anything else is refused in words",
                "look at the arguments first, and raise InstrumentError(self.connection.name, …)",
            )

    def refusal(self, action: Callable[[], object]) -> str:
        """What came of it in place of one of rigproof's own errors; "" where one of these did."""
        try:
            with limited(self.patience_s):
                found = action()
        except RigproofError:
            return ""
        except Hangs:
            return f"had not come back after {self.patience_s:g} s"
        except Exception as error:
            return f"raised {type(error).__name__}: {error}"
        return f"gave {found!r}"


def _named(number: float) -> str:
    return "math.nan" if math.isnan(number) else "math.inf"


def _lasted(wanted_s: float, waited_s: float, real_s: float) -> bool:
    """Whether the waits come to `wanted_s`, from which a driver may take off what has passed for real."""
    return wanted_s - real_s - _STRAY_S <= waited_s <= wanted_s + _STRAY_S


def _as_large(found: float, wanted: float) -> bool:
    """Whether the two agree but for their sign, which is the matter of `test_the_sign`."""
    return math.isclose(abs(found), abs(wanted), rel_tol=1e-6, abs_tol=1e-12)


def _factor(found: float, wanted: float) -> str:
    """What to do about a number of the wrong size."""
    if math.isfinite(found) and found and wanted:
        return f"multiply what was sent by its unit in base units: here a factor of {wanted / found:.6g} is missing"
    return "look at how this reply is turned into a number"
