"""Promises of drivers that switch something: excitation, shunt relays, a test voltage."""

from __future__ import annotations

import math
from itertools import repeat

from rigproof.instruments import Excites, Shunts, TestsInsulation

from .faults import HANG_UP, SILENCE
from .kit import INSULATION_V, Action, Kit, advise, needs
from .peer import Exchange
from .told import shown


class Switching(Kit):
    """What was switched is read back; a test voltage never stays on."""

    @needs(Excites)
    def test_excitation(self) -> None:
        """`Excites`: the voltage as the instrument reports it, and as the settings ask for it."""
        call = f"excitation_v({self.inputs[0]})"
        with self.opened() as driver:
            found = self.well(call, lambda: driver.excitation_v(self.inputs[0]))
        asked = self.driver.set_excitation_v(self.their_settings())  # type: ignore[attr-defined]
        wanted = self.stated("excitation", self.excitation, "voltage") if self.excitation else None
        if asked != wanted:
            advise(
                self.place("set_excitation_v(settings)"),
                f"gave {asked}",
                f"it says what the settings ask for, here {wanted} V (None: they do not say): `plan` counts with it",
                "return the voltage of the settings; state it as excitation in the test",
            )
        if not math.isfinite(found) or (wanted is not None and not math.isclose(found, wanted, rel_tol=0.02)):
            advise(
                self.place(call),
                f"gave {found:g} V where {wanted} V was set",
                "it gives the voltage that the instrument reports",
                "set it at the first use of an input, and ask the instrument for it",
            )

    @needs(Shunts)
    def test_the_relay_is_read_back(self) -> None:
        """`Shunts.shunt`: the relay is read back, and a stuck one is an error."""
        first = self.inputs[0]
        self.reads_back(
            f"shunt({first}, True)",
            lambda driver: driver.shunt(first, True),
            lambda driver: driver.shunt(first, False),
            "the shunt relay",
        )

    def reads_back(self, call: str, there: Action, back: Action, what: str) -> None:
        """A state that `there` sets and `back` takes back must be asked for, and another answer be an error."""
        with self.opened() as driver:
            self.well(call, lambda: there(driver))
            on = self.heard(lambda: self.well(call, lambda: there(driver)))
            off = self.heard(lambda: self.well(f"the way back from {call}", lambda: back(driver)))
        told = telling(on, off)
        if not told:
            advise(
                self.place(call),
                f"did not ask how {what} stands; it heard {_replies(on)} and on the way back {_replies(off)}",
                f"{what} is read back: a command that was not carried out must not look like one that was",
                "ask for the state after the command, and raise InstrumentError unless it is the one commanded",
            )
        with self.opened() as driver:
            self.well(call, lambda: there(driver))
            self.well(f"the way back from {call}", lambda: back(driver))
            self.contradict(told)
            _, error = self.attempt(call, lambda: there(driver), f"where {what} was stuck")
            self.peer.heal()
        if error is None:
            advise(
                self.place(call),
                f"went on as if all were well where {' and '.join(map(_said, told))} said that {what} was stuck",
                f"{what} is read back, and what is read is looked at",
                "raise InstrumentError unless the state is the one commanded",
            )

    def contradict(self, told: list[Exchange]) -> None:
        """Answer as if the state never changed."""
        for exchange in told:
            self.peer.say_instead(exchange.message, repeat(exchange.reply))

    @needs(TestsInsulation)
    def test_the_voltage_is_off_afterwards(self) -> None:
        """`TestsInsulation`: 0 V again on every way out; where that is not sure, an error that says so."""
        call = f"insulation_ohm({self.inputs[0]}, {INSULATION_V:g}, 0.0)"
        with self.opened() as driver:
            self.well(call, lambda: driver.insulation_ohm(self.inputs[0], INSULATION_V, 0.0))
            self._off(call, "when all was well")
        for fault in (*self.garbage(), SILENCE, HANG_UP):
            for case, _, _ in self.spoiled(call, self.value, fault):
                self._off(call, case)

    def _off(self, call: str, when: str) -> None:
        if self.peer.instrument.energized:
            advise(
                self.place(call),
                f"left the test voltage on {when}",
                "the voltage is there only while it is needed: a person's hands come next",
                "switch it off in `finally`, over a fresh connection where the old one is in doubt, and read it back",
            )

    @needs(TestsInsulation)
    def test_the_simulated_voltage_goes_on(self) -> None:
        """The promise before this one means nothing unless `energized` is True in between."""
        seen: list[bool] = []
        wait = self.clock.wait

        def look(seconds: float) -> None:
            seen.append(self.peer.instrument.energized)
            wait(seconds)

        self.clock.wait = look  # type: ignore[method-assign]
        with self.opened() as driver:
            self.well("insulation_ohm(…)", lambda: driver.insulation_ohm(self.inputs[0], INSULATION_V, 1.0))
        if not any(seen):
            advise(
                type(self).__name__,
                "the simulated instrument was never energized while the driver waited",
                "that the voltage is off afterwards only shows where it was on",
                "set `energized` in the simulated instrument when its output is on",
            )


def telling(on: list[Exchange], off: list[Exchange]) -> list[Exchange]:
    """The questions that were answered differently in two states, with the answers of the second."""
    first = {exchange.message: exchange.reply for exchange in on}
    return [one for one in off if one.message in first and first[one.message] != one.reply]


def _replies(exchanges: list[Exchange]) -> str:
    return ", ".join(map(_said, exchanges)) or "nothing"


def _said(exchange: Exchange) -> str:
    return f"{shown(exchange.message)} → {shown(exchange.reply)}"
