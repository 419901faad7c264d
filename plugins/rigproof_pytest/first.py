"""What makes most tests of a class fail is told once: no settings, an instrument that cannot be opened, or read."""

from __future__ import annotations

from itertools import product

import pytest

from rigproof.instruments import Reads, TestsInsulation

from .forms import Forms
from .kit import advise
from .peer import Standing
from .reading import Reading
from .told import content, dialogue, shown

_ENDS = ("\n", "\r", "\r\n", "")


class First(Forms, Reading):
    """The first test of a class tells that nothing can be tried, and the others are skipped."""

    def expect_usable(self) -> None:
        """See that the driver opens with what is stated; once for each class."""
        mine = type(self)
        known = vars(mine).get("_tried")
        if known is True:
            return
        if known not in (None, self):
            pytest.skip("nothing can be tried as stated: the first test that failed says why")
        mine._tried = self  # the same test is tried again on a busy machine
        self.expect_forms()
        self._expect_same_line()
        self._open()
        self.renew(1.0)  # as after switching on: a setting that is sent again may hide a wait that is left out
        self._read()
        mine._tried = True
        self.renew(1.0)

    def _expect_same_line(self) -> None:
        """A run with `--simulated` meets the stand-in alone: what its line is like must be as stated here."""
        if not isinstance(self.peer.instrument, Standing):
            return
        made = self.peer.instrument.stand_in
        for name in ("greeting", "message_end", "reply_end"):
            stated, theirs = content(getattr(self, name)), getattr(made, name)
            if stated != theirs:
                advise(
                    type(self).__name__,
                    f"{name} = {stated!r}, and {type(made).__name__} has {name} = {theirs!r}",
                    "a stand-in greets, and ends its lines, as the instrument does: --simulated meets it alone",
                    "write the same in both, as bytes in the stand-in; a greeting without its terminator",
                )

    def _open(self) -> None:
        """Open the driver at the healthy instrument; where that fails, see whether other terminators mend it."""
        if (problem := self._try_open()) is None:
            return
        remedy = self.what_to_compare(problem)
        if found := self._other_ends():
            stated = zip(("message_end", "reply_end"), self.ends, found, strict=True)
            wrong = [(name, one, other) for name, one, other in stated if one != other]
            told = " and ".join(f"{name} = {other!r}, and not with {one!r} as is stated" for name, one, other in wrong)
            problem = f"opens with {told}: your driver has another end than the instrument"
            remedy = f"correct {' and '.join(name for name, *_ in wrong)} here, or the driver: the manual says which"
        advise(self.place("open()"), problem, "a healthy instrument is opened without complaint", remedy)

    def _read(self) -> None:
        """Take a first reading; what it shows is the matter of other tests."""
        if issubclass(self.driver, Reads | TestsInsulation):
            with self.opened() as driver:
                found = self.well(self.value_call, lambda: self.value(driver))
            self._expect_healthy_sent(found)

    def _expect_healthy_sent(self, found: float) -> None:
        """The first of `readings` came, so that others can be put in its place; another input's is told elsewhere."""
        replies = {one.reply for one in self.peer.said}
        if not self.readings or self.healthy in replies or self._is_of_another_input(found):
            return
        advise(
            f"instrument() of {type(self).__name__}",
            f"never sent {shown(self.healthy)}, the first of readings; what was said up to the first reading: "
            f"{dialogue(self.peer.said)}",
            f"the first of readings is what it answers, byte for byte, where input {self.inputs[0]} is read: all else "
            "that it may send (overload, refusals, other readings) is tried in place of this reply",
            "where the driver leaves something out on which the reply rests (a unit or filter that is set, a time to "
            "wait on connection.clock), add it there; else let readings begin with what instrument() sends",
        )

    def _is_of_another_input(self, found: float) -> bool:
        known = self.measures and self.input_that_shows(found)
        return known not in ("", None, self.inputs[0])

    def _try_open(self) -> str | None:
        """What stands against it; None where nothing does."""
        driver = self.make()
        _, error = self.attempt("open()", driver.open, "while the instrument was well")
        self.shut(driver)
        return None if error is None else f"raised InstrumentError while the instrument was well: {error}"

    def _other_ends(self) -> tuple[str, str] | None:
        """Terminators with which the driver opens; None where there are none, or it has no line."""
        for ends in [] if self.driver.asks_a_person else sorted(product(_ENDS, _ENDS), key=self._apart):
            self.take_down()
            self.set_up(ends)
            if self._try_open() is None:
                return ends
        return None

    def _apart(self, ends: tuple[str, str]) -> int:
        return sum(one != stated for one, stated in zip(ends, self.ends, strict=True))
