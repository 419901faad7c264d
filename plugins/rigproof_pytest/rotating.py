"""Promises of drivers that turn the part about the axis of the load, or have a person turn it."""

from __future__ import annotations

import math
from itertools import repeat
from typing import Any

import pytest

from rigproof.instruments import Rotates

from .kit import advise, by_hand, needs
from .peer import Exchange
from .reading import Reading
from .switching import Switching, telling
from .told import shown

_NEAR_RAD = math.radians(1.0)  # a person turns to a line, and a scale has lines a degree apart


class Rotating(Reading, Switching):
    """The part stands at the angle that was asked for before anything is read, and somebody has looked."""

    @needs(Rotates)
    @by_hand
    def test_the_part_stands_at_the_angle(self) -> None:
        """`Rotates.rotate_to`: an angle in rad, from the first position; the part stands there when it returns."""
        one, other = self._angles()
        with self.opened() as driver:
            for angle_rad in (one, other, one, 0.0):
                self._rotate(driver, angle_rad)
                self._stands(angle_rad)

    @needs(Rotates)
    @by_hand
    def test_the_angle_is_read_back(self) -> None:
        """`Rotates.rotate_to`: a part that was not turned is an error, or asked about again."""
        one, other = self._angles()
        call = f"rotate_to({other:.4g})"
        with self.opened() as driver:
            first = self.heard(lambda: self._rotate(driver, one))
            second = self.heard(lambda: self._rotate(driver, other))
            told = _of_the_first(first, second)
            if not told:
                advise(
                    self.place(call),
                    "did not ask where the part stands, or asked what is answered alike wherever it stands",
                    "the angle is read back: a part that was not turned must not look like one that was",
                    "ask for the angle after the command, until it is there or too much time has passed; a person "
                    "types the angle that stands at the mark",
                )
            self._rotate(driver, one)
            self._stay_at_the_first(told)
            _, error = self.attempt(call, lambda: driver.rotate_to(other), "where the part was not turned")
            last = self.peer.said[-1]
            self.peer.heal()
        asked_again = self.driver.asks_a_person and last.reply not in {each.reply for each in told}
        if error is None and not asked_again:
            said = ", ".join(f"{shown(each.message)} → {shown(each.reply)}" for each in told)
            advise(
                self.place(call),
                f"went on as if the part were turned where {said} said that it was not",
                "the angle is read back, and what is read is looked at",
                "raise InstrumentError unless the part stands at the angle within a time of your choice; ask a person "
                "again",
            )

    @needs(Rotates)
    @by_hand
    def test_an_angle_without_sense(self) -> None:
        """An angle that is no number is refused, nothing turns, and no person is bothered with it."""
        one, _ = self._angles()
        for angle_rad in (math.nan, math.inf, -math.inf):
            with self.opened() as driver:
                self._rotate(driver, one)
                stood, mark = self.peer.instrument.rotated, len(self.peer.said)
                problem = self.refusal(lambda: driver.rotate_to(angle_rad))  # noqa: B023  called at once
                asked = self.peer.said[mark:] if self.driver.asks_a_person else []
            if self.peer.instrument.rotated != stood:
                problem = "turned the part"
            if problem or asked:
                advise(
                    self.place(f"rotate_to({angle_rad:g})"),
                    problem or f"asked {shown(asked[0].message)}",
                    "an angle is a finite number; any other is refused in words before anything turns",
                    "look at the angle first, and raise InstrumentError(self.connection.name, …)",
                )

    @needs(Rotates)
    @by_hand
    def test_nobody_turns_the_part(self) -> None:
        """Where the person whom it asks does not answer, `InstrumentError`."""
        if not self.driver.asks_a_person:
            pytest.skip("it asks no person; a line that falls silent is tried by test_timeout")
        one, _ = self._angles()
        with self.opened() as driver:
            self.peer.nobody = True
            _, error = self.attempt(f"rotate_to({one:.4g})", lambda: driver.rotate_to(one), "where nobody answered")
        if error is None:
            advise(
                self.place(f"rotate_to({one:.4g})"),
                "went on as if all were well where nobody answered",
                "a person who does not answer is an instrument that does not",
                "let the InstrumentError of self.connection.person.ask(…) out",
            )

    def _angles(self) -> tuple[float, float]:
        """The stated ones, in rad; skips a driver that does not rotate with these settings."""
        if not self.rotates():
            pytest.skip("rotates(settings) says that it does not, with these settings")
        one, other = (self.stated("angles", text, "angle") for text in self.angles)
        if (
            abs(math.remainder(one - other, math.tau)) < 10 * _NEAR_RAD
            or min(map(_from_zero, (one, other))) < _NEAR_RAD
        ):
            advise(
                type(self).__name__,
                f"angles = {self.angles}",
                "two positions are told from each other and from the first only where they are apart",
                'write two that it can turn to, such as angles = ("120°", "240°")',
            )
        return one, other

    def _rotate(self, driver: Any, angle_rad: float) -> None:
        self.well(f"rotate_to({angle_rad:.4g})", lambda: driver.rotate_to(angle_rad))

    def _stay_at_the_first(self, told: list[Exchange]) -> None:
        """Answer as if the part were not turned; a person who is asked again turns it."""
        for each in told:
            self.peer.say_instead(each.message, [each.reply] if self.driver.asks_a_person else repeat(each.reply))

    def _stands(self, wanted: float) -> None:
        found = self.peer.instrument.rotated
        if found is None:
            advise(
                type(self).__name__,
                f"after rotate_to({wanted:.4g}) the simulated instrument has rotated = None",
                "where the part stands is only seen where the simulated instrument keeps it",
                "set `rotated` (rad, by the manual's own unit) in the simulated instrument when it has turned",
            )
        if not abs(math.remainder(found - wanted, math.tau)) <= _NEAR_RAD:
            advise(
                self.place(f"rotate_to({wanted:.4g})"),
                f"came back with the part at {math.degrees(found):.4g}°",
                f"the angle is in rad and counts from the first position, not from the last: {wanted:.4g} is "
                f"{math.degrees(wanted):.4g}°; rotate_to returns when the part stands there",
                "send math.degrees(angle_rad) where degrees are wanted, and ask for the angle until it is there",
            )


def _from_zero(angle_rad: float) -> float:
    return abs(math.remainder(angle_rad, math.tau))


def _of_the_first(first: list[Exchange], second: list[Exchange]) -> list[Exchange]:
    """What the second turn asked, with the replies of the first: to the same question, or else at the same place."""
    pairs = zip(first, second, strict=False)
    beside = [Exchange(two.message, one.reply) for one, two in pairs if one.reply != two.reply]
    return list({each.message: each for each in telling(second, first) or beside}.values())
