"""Promises of drivers that put load on a part. The safe state comes first: nothing else here can hurt anybody."""

from __future__ import annotations

import math
from typing import Any

import pytest

from rigproof.instruments import Loads

from .faults import CUT, GARBAGE, HANG_UP, SILENCE
from .kit import GRACE_S, Action, advise, needs
from .reading import Reading
from .switching import Switching, telling
from .told import dialogue

_ASKED_ON = 50  # times that a driver which does not return asks whether the load is there


class Loading(Reading, Switching):
    """The load goes where it was told, and to the safe state from anywhere."""

    @needs(Loads)
    def test_rise_to_returns_at_once(self) -> None:
        """`Loads.rise_to`: starts to move, returns at once, and does not ask on until the load is there."""
        load, rate = self.load_and_rate()
        call = f"rise_to({load:g}, {rate:g})"
        with self.opened() as driver:
            self._say_moving(_ASKED_ON)
            mark = len(self.peer.said)
            waited_s, real_s = self.timed(lambda: self.well(call, lambda: driver.rise_to(load, rate)))
            asked = sum(one.message.decode("latin-1") in self.moving for one in self.peer.said[mark:])
            self.peer.heal()
        if (took_s := max(waited_s, real_s)) > GRACE_S or asked >= _ASKED_ON:
            self.too_late(
                self.place(call),
                f"took {took_s:.1f} s" if took_s > GRACE_S else f"asked {asked} times whether the load is there",
                "it starts to move the load and returns at once: the run watches its interlocks on the way",
                "send target and rate, and let settled() tell when it is there",
            )

    @needs(Loads)
    def test_settled_is_what_the_source_says(self) -> None:
        """`Loads.settled`: False while the load is on its way, True when the source says that it is there."""
        with self.opened() as driver:
            self._rise(driver)
            if not self._gets_there(driver):
                advise(
                    self.place("settled()"),
                    "did not give True, however long the load was let rise",
                    "it is True when the source says that it has reached its target",
                    "return a bool; let the simulated source say that it is there when its time has come",
                )
            if not self.moving:
                pytest.skip("moving is not stated: a settled() that is True at any time would pass")
            self._say_moving(_ASKED_ON)
            found = self.well("settled()", driver.settled)
            self.peer.heal()
        if found is not False:
            said = ", ".join(f"{question!r} → {reply!r}" for question, reply in self.moving.items())
            advise(
                self.place("settled()"),
                f"gave {found!r} where the source was on its way, and said {said}",
                "readings are taken at a load that has been reached, and not on the way to it",
                "ask the source each time; where its word is another one, correct moving here",
            )

    def _gets_there(self, driver: Any) -> bool:
        """Whether `settled` gives True in the time that the load takes, and a minute more."""
        load, rate = self.load_and_rate()
        for _ in range(20):
            if self.well("settled()", driver.settled) is True:
                return True
            self.clock.wait((load / rate + 60.0) / 20)
        return self.well("settled()", driver.settled) is True

    def _say_moving(self, times: int) -> None:
        """Let the source say so often that its load is on its way."""
        for question, reply in self.moving.items():
            self.peer.say_instead(question.encode("latin-1"), [reply.encode("latin-1")] * times)

    @needs(Loads)
    def test_the_target_is_the_one_asked_for(self) -> None:
        """Targets cross in base units: between Pa and bar lies a factor of 100 000, and a burst part."""
        load, rate = self.load_and_rate()
        with self.opened() as driver:
            self.well(f"rise_to({load:g}, {rate:g})", lambda: driver.rise_to(load, rate))
        there = self.peer.instrument
        if not there.energized or there.target is None:
            advise(
                type(self).__name__,
                f"after rise_to the simulated source has energized = {there.energized}, target = {there.target}",
                "the safe state and the target are only seen where the simulated source keeps them",
                "set `energized` and `target` (base unit, by the manual's own unit) in the simulated instrument",
            )
        if not math.isclose(there.target, load, rel_tol=1e-3):
            advise(
                self.place(f"rise_to({load:g}, {rate:g})"),
                f"sent the source to {there.target:g}",
                f"the target is in the base unit: {self.rise[0]} is {load:g}",
                f"convert before you send; the factor is off by {there.target / load:g}",
            )

    @needs(Loads)
    def test_the_rate_is_the_one_asked_for(self) -> None:
        """Rates cross in base units per second: a load that comes 60 times too fast is a blow, not a rise."""
        if not self.ramps:
            pytest.skip("ramps = False: the source takes no rate, and none is tested")
        load, rate = self.load_and_rate()
        call = f"rise_to({load:g}, {rate:g})"
        with self.opened() as driver:
            self.well(call, lambda: driver.rise_to(load, rate))
            found = self.peer.instrument.rate
        if found is None:
            advise(
                self.place(call),
                f"sent no rate, or the simulated source keeps none: it heard {dialogue(self.peer.said)}",
                "the load rises at the rate that was asked for, and not at the one that was set before",
                "send the rate with or before the target; set `rate` (base unit per second, by the manual's own unit) "
                "in the simulated source when it comes; state ramps = False where a source takes none",
            )
        if not math.isclose(found, rate, rel_tol=1e-3):
            advise(
                self.place(call),
                f"has the load rise at {found:g} per second",
                f"the rate is in the base unit per second: {self.rise[1]} is {rate:g}",
                f"convert before you send, minutes too; the factor is off by {found / rate:g}",
            )

    @needs(Loads)
    def test_a_load_without_sense(self) -> None:
        """A target that is no number, or a rate that is not above 0, is refused and nothing moves."""
        load, rate = self.load_and_rate()
        for target, per_s in ((math.nan, rate), (math.inf, rate), (load, 0.0), (load, -rate), (load, math.nan)):
            self.refused(
                f"rise_to({target:g}, {per_s:g})",
                lambda driver: driver.rise_to(target, per_s),  # noqa: B023  called at once
                "a finite target is gone to at a finite rate above 0",
            )
            self._safe(f"rise_to({target:g}, {per_s:g})", "after a request that makes no sense")

    @needs(Loads)
    def test_the_valve_is_read_back(self) -> None:
        """`Loads.isolate`: a stuck valve is an error; a hold behind an open valve would show no leak."""
        if self.valve:
            self.reads_back(
                "isolate(True)",
                lambda driver: driver.isolate(True),
                lambda driver: driver.isolate(False),
                "the valve",
            )

    @needs(Loads)
    def test_go_safe_from_every_state(self) -> None:
        """`Loads.go_safe`: works in any state."""
        states: dict[str, Action] = {
            "under load": lambda _: None,
            "with the valve shut": lambda driver: driver.isolate(True),
            "after close() under load": lambda driver: driver.close(),
            "on a line that was lost under load": lambda _: self.peer.hang_up(),
        }
        if self.faults:
            states["with a fault that stays"] = lambda _: self.fault_stays()
        for state, prepare in states.items():
            with self.opened() as driver:
                self._rise(driver)
                self.well(f"what leads to {state}", lambda: prepare(driver))  # noqa: B023  called at once
                self._go_safe(driver, state)
                self.peer.heal()
        with self.opened() as driver:
            self._go_safe(driver, "after open()")

    @needs(Loads)
    def test_go_safe_through_a_fault(self) -> None:
        """`Loads.go_safe`: one spoiled reply does not keep the load on."""
        for fault in (SILENCE, CUT, HANG_UP, *GARBAGE):
            for case, error, driver in self.spoiled("go_safe()", lambda driver: driver.go_safe(), fault, self._rise):
                if error is None:
                    self._safe("go_safe()", case)
                else:
                    self._go_safe(driver, f"called again {case}")
            for case, _, driver in self.spoiled("settled()", lambda driver: driver.settled(), fault, self._rise):
                self._go_safe(driver, f"after settled() {case}")

    @needs(Loads)
    def test_go_safe_twice(self) -> None:
        """`Loads.go_safe`: may be called twice."""
        with self.opened() as driver:
            self._rise(driver)
            self._go_safe(driver, "under load")
            self._go_safe(driver, "a second time")

    @needs(Loads)
    def test_the_safe_state_is_read_back(self) -> None:
        """`Loads.is_safe` asks the instrument, and `go_safe` believes nothing else."""
        with self.opened() as driver:
            self._rise(driver)
            loaded = self.heard(lambda: self.well("is_safe()", driver.is_safe))
            self.well("go_safe()", driver.go_safe)
            safe = self.heard(lambda: self.well("is_safe()", driver.is_safe))
            told = telling(safe, loaded)
            if not told:
                advise(
                    self.place("is_safe()"),
                    "did not ask the instrument, or asked what is answered alike under load and in the safe state",
                    "the safe state is read back from the instrument",
                    "ask for the state of pump and vent; keep no flag in the driver",
                )
            self._rise(driver)
            self.contradict(told)
            is_safe, _ = self.attempt("is_safe()", driver.is_safe, "where the source stayed under load")
            _, error = self.attempt("go_safe()", driver.go_safe, "where the source stayed under load")
            self.peer.heal()
        if is_safe or error is None:
            advise(
                self.place("is_safe()" if is_safe else "go_safe()"),
                f"{'said True' if is_safe else 'said nothing'} where the source answered that it was still under load",
                "go_safe reads the safe state back: nobody may walk up to a part on the word of a command sent",
                "after the command ask is_safe(), and raise InstrumentError with what to do by hand where it is False",
            )

    def _rise(self, driver: object) -> None:
        load, rate = self.load_and_rate()
        self.well("rise_to(…)", lambda: driver.rise_to(load, rate))  # type: ignore[attr-defined]

    def _go_safe(self, driver: object, state: str) -> None:
        _, error = self.attempt("go_safe()", driver.go_safe, state)  # type: ignore[attr-defined]
        if error is not None:
            advise(
                self.place("go_safe()"),
                f"raised {error} {state}",
                "go_safe works in any state of the driver and of the line",
                "where the line is closed or in doubt, open a fresh one, send the command again and read it back",
            )
        self._safe("go_safe()", state)

    def _safe(self, call: str, state: str) -> None:
        if self.peer.instrument.energized:
            advise(
                self.place(call),
                f"left the load on {state}",
                "the source is in its safe state afterwards: pump off, vent open",
                "send the command for the safe state first of all",
            )
