"""Promises of drivers that put load on a part. The safe state comes first: nothing else here can hurt anybody."""

from __future__ import annotations

import math

from rigproof.instruments import Loads

from .faults import CUT, GARBAGE, HANG_UP, SILENCE
from .kit import GRACE_S, Action, advise, needs
from .reading import Reading
from .switching import Switching, telling


class Loading(Reading, Switching):
    """The load goes where it was told, and to the safe state from anywhere."""

    @needs(Loads)
    def test_rise_to_returns_at_once(self) -> None:
        """`Loads.rise_to`: starts to move, returns at once; in base units."""
        load, rate = self.load_and_rate()
        call = f"rise_to({load:g}, {rate:g})"
        with self.opened() as driver:
            waited_s, real_s = self.timed(lambda: self.well(call, lambda: driver.rise_to(load, rate)))
            if (took_s := max(waited_s, real_s)) > GRACE_S:
                self.too_late(
                    self.place(call),
                    f"took {took_s:.1f} s",
                    "it starts to move the load and returns at once: the run watches its interlocks on the way",
                    "send target and rate, and let settled() tell when it is there",
                )
            if not isinstance(self.well("settled()", driver.settled), bool):
                advise(self.place("settled()"), "gave no bool", "it is True or False", "return a bool")

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
        for state, prepare in states.items():
            with self.opened() as driver:
                self._rise(driver)
                self.well(f"what leads to {state}", lambda: prepare(driver))  # noqa: B023  called at once
                self._go_safe(driver, state)
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
