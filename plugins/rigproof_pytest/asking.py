"""Promises about what a driver says, and to whom it listens: settings that must be sent, a reply of another input."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence
from functools import partial
from itertools import islice, repeat
from typing import Any

import pytest

from rigproof.instruments import Loads, Reads, Shunts, TestsInsulation

from .kit import Action, Kit, advise, needs
from .peer import Exchange, Instrument
from .told import content, shown

_BESIDE = r"(?<![\d.,+-]){}(?![\d.,])"  # a digit of a number is no name of an input


class Asking(Kit):
    """What the manual has a driver say is said; what another input says is not taken."""

    def test_what_must_be_sent_is_sent(self) -> None:
        """Settings reach the instrument before its first reading, and no message of the table is left unsaid."""
        table = self.peer.instrument.table if type(self.peer.instrument) is Instrument else {}
        table = {message: table[message] for message in table if message not in self.otherwise[1]}
        if not self.sends and not table:
            asked = f"the settings {', '.join(self.settings)}" if self.settings else "its unit, range or average"
            pytest.skip(f"sends is not stated: which messages does the manual have for {asked}?")
        with self.opened() as driver:
            if issubclass(self.driver, Reads | TestsInsulation):
                self.well(self.value_call, lambda: self.value(driver))
            else:
                self._say_all(driver)
            self._expect_sent(self._until_reading())
            self._expect_sent_again(driver)
            self._say_all(driver)
        if left := [message for message in table if content(message) not in self._messages()]:
            advise(
                self.place("…"),
                f"never sent {', '.join(map(repr, left))}, and said {', '.join(map(shown, self._messages()))}",
                "instrument() lists what the manual has a driver send: a setting that is forgotten, a unit perhaps, "
                "stays as the last user of the instrument left it",
                "send it in open() and look at what comes; or, if it need not be sent, leave it out of instrument()",
            )

    def _expect_sent(self, before: list[bytes]) -> None:
        if left := [message for message in self.sends if content(message) not in before]:
            advise(
                self.place("open()"),
                f"did not send {', '.join(map(repr, left))} before the first reading, but "
                f"{', '.join(map(shown, before)) or 'nothing'}",
                "what rig.yaml sets, and what a reading rests on (unit, range, average), is sent before anything is "
                "read: an instrument stays as its last user left it",
                "send it in open(), with the value of the settings, and look at what comes; ask for what cannot be set",
            )

    def _expect_sent_again(self, driver: Any) -> None:
        """An instrument that was switched off in between has forgotten what was set."""
        self.shut(driver)
        mark = len(self.peer.said)
        self.well("open()", driver.open)
        if issubclass(self.driver, Reads | TestsInsulation):
            self.well(self.value_call, lambda: self.value(driver))
        said = {exchange.message for exchange in self.peer.said[mark:]}
        if left := [message for message in self.sends if content(message) not in said]:
            advise(
                self.place("open()"),
                f"did not send {', '.join(map(repr, left))} after close()",
                "each open() sets all that a reading rests on: the instrument may have been switched off in between",
                "send it in every open(), and keep nothing of an earlier one",
            )

    def _messages(self) -> list[bytes]:
        """What was sent so far, each once, in order."""
        return list(dict.fromkeys(exchange.message for exchange in self.peer.said))

    def _until_reading(self) -> list[bytes]:
        """What was sent up to the question that brought the first reading, which may carry a setting itself."""
        said = list(self.peer.said)
        first = next(
            (number for number, one in enumerate(said) if self.healthy and one.reply == self.healthy), len(said)
        )
        return list(dict.fromkeys(exchange.message for exchange in said[: first + 1]))

    def _say_all(self, driver: object) -> None:
        """Whatever the driver's abilities make it say to a healthy instrument; what goes wrong is for other tests."""
        for call in self.calls():
            self.whatever_comes(lambda: call(driver))  # noqa: B023  called at once

    def calls(self) -> Iterator[Action]:
        """Everything that a driver can be asked to do, in an order in which it can; `look` comes last."""
        yield from self.actions().values()
        yield lambda driver: driver.errors()
        for number in self.inputs if issubclass(self.driver, Reads | TestsInsulation) else ():
            yield lambda driver: self.value(driver, number)  # noqa: B023  called at once
        if issubclass(self.driver, Shunts):
            yield lambda driver: driver.shunt(self.inputs[0], False)
        if issubclass(self.driver, Loads):
            yield lambda driver: driver.isolate(False)
            yield lambda driver: driver.go_safe()
            yield lambda driver: driver.is_safe()
        yield lambda driver: driver.resume()
        yield lambda driver: driver.close()
        yield lambda driver: driver.look()

    @needs(Reads | TestsInsulation)
    def test_a_reply_of_another_input(self) -> None:
        """Where replies name their input, the reply of another is an error, never a reading."""
        for one, other in zip(self.inputs, [*self.inputs[1:], self.inputs[0]], strict=True):
            if pairs := self._named_pairs(one, other):
                for mine, foreign in pairs:
                    self._expect_refused(one, mine, foreign)
                return
        pytest.skip("no reply is seen to name its input: where one does, state that of another input in refusals")

    def test_an_acknowledgement_of_another_message(self) -> None:
        """Where acknowledgements name what they answer, that of another message is an error."""
        said = self._said_by_all()
        pairs = _echoes(said)
        repeated = {mine.message for mine, _ in pairs}
        pairs += _foreign(said, {content(message) for message in self.sends} - repeated)
        pairs += _of_other_settings(said, [content(message) for message in self.otherwise[1]])
        if not pairs:
            pytest.skip("no acknowledgement is seen that names what it answers: a late one would be taken for the next")
        for mine, foreign in pairs:
            self._expect_noticed(mine, foreign)

    def _said_by_all(self) -> list[Exchange]:
        """Everything that a healthy instrument is asked: to open, for each input, for each ability."""
        with self.opened() as driver:
            for action in self._dealings().values():
                self.whatever_comes(lambda: action(driver))  # noqa: B023  called at once
            return [one for one in self.peer.said if one.reply]

    def _dealings(self) -> dict[str, Action]:
        """What a driver is asked to do, by the call as messages show it; of each input a reading."""
        found = self.actions()
        for number in self.inputs if issubclass(self.driver, Reads | TestsInsulation) else ():
            found[f"a reading of input {number}"] = partial(self._value_of, number)
        return found

    def _value_of(self, number: int, driver: object) -> float:
        return self.value(driver, number)

    def _expect_noticed(self, mine: Exchange, foreign: Exchange) -> None:
        driver, when = self.make(), f"where {shown(mine.message)} was answered by {shown(foreign.reply)}"
        self.peer.say_instead(mine.message, repeat(foreign.reply))
        _, error = self.attempt("open()", driver.open, when)
        for call, action in self._dealings().items():
            if error is None:
                _, error = self.attempt(call, lambda: action(driver), when)  # noqa: B023  called at once
        self.peer.heal()
        self.shut(driver)
        if error is None:
            advise(
                self.place("…"),
                f"took {shown(foreign.reply)} for the acknowledgement of {shown(mine.message)}",
                f"an acknowledgement that names what it answers is taken for that alone, here {shown(mine.reply)}: "
                "a late one of another message would hide that this one was not carried out",
                "compare the whole acknowledgement with what was sent, and raise InstrumentError unless they agree",
            )

    def _named_pairs(self, one: int, other: int) -> list[tuple[Exchange, Exchange]]:
        """The exchanges of a reading of two inputs whose replies differ by the name of the input, at its place."""
        with self.opened() as driver:
            for _ in range(2):  # what is said at the first use only is left out
                mine, foreign = (self._reading_of(driver, number) for number in (one, other))
        if one == other or len(mine) != len(foreign):
            return []
        last = len(mine) - 1
        return [
            (here, there)
            for number, (here, there) in enumerate(zip(mine, foreign, strict=True))
            if here.message not in here.reply and _names_input(here, there, one, other, number == last)
        ]

    def _reading_of(self, driver: Any, number: int) -> list[Exchange]:
        """What is said for a reading of an input."""
        return self.heard(lambda: self.well(f"a reading of input {number}", lambda: self.value(driver, number)))

    def _expect_refused(self, number: int, mine: Exchange, foreign: Exchange) -> None:
        with self.opened() as driver:
            self.peer.say_instead(mine.message, repeat(foreign.reply))
            call = f"a reading of input {number}"
            found, error = self.attempt(call, lambda: self.value(driver, number), "where another input replied")
            self.peer.heal()
        if error is None:
            advise(
                self.place(call),
                f"gave {found} for {shown(foreign.reply)}, the reply of another input",
                f"a reply that names its input is taken for that one alone, here as {shown(mine.reply)}",
                "compare the input in the reply with the one asked for, and raise InstrumentError unless they agree; "
                "if what differs is no input but the reading, let the two inputs of instrument() read other numbers",
            )


def _echoes(said: Sequence[Exchange]) -> list[tuple[Exchange, Exchange]]:
    """Exchanges whose replies repeat their message in the same form, each with another of that form."""
    forms: dict[bytes, dict[bytes, Exchange]] = {}
    for one in said:
        if one.message and one.message in one.reply:
            forms.setdefault(one.reply.replace(one.message, b"\0"), {})[one.message] = one
    alike = [list(form.values()) for form in forms.values()]
    return [(one, group[number - 1]) for group in alike if group[1:] for number, one in enumerate(group)]


def _foreign(said: Sequence[Exchange], settings: Collection[bytes]) -> list[tuple[Exchange, Exchange]]:
    """Each setting that is answered, with the acknowledgement of another message that names that message.

    Where only one names its message, another in the same form: `UNIT KPA OK` gives `ID OK`.
    """
    answered = {one.message: one for one in said if one.message in settings}
    pairs = []
    for one in answered.values():
        others = [other for other in answered.values() if _named(other) - _words(one.message) and other is not one]
        if not others and one.message in one.reply:
            messages = [other.message for other in said if other.message and other.message != one.message]
            others = [Exchange(other, one.reply.replace(one.message, other)) for other in messages[:1]]
        pairs += [(one, other) for other in others[:1] if other.reply != one.reply]
    return pairs


def _of_other_settings(said: Sequence[Exchange], others: Sequence[bytes]) -> list[tuple[Exchange, Exchange]]:
    """Each acknowledgement that repeats its message, with that of the same setting to another value: `AV 4 SET`."""
    pairs = []
    for other in others:
        alike = (one for one in said if one.message in one.reply and _is_sibling(one.message, other))
        pairs += [(one, Exchange(other, one.reply.replace(one.message, other))) for one in islice(alike, 1)]
    return pairs


def _is_sibling(message: bytes, other: bytes) -> bool:
    """Whether two messages differ in a number alone."""
    return message != other and re.sub(rb"\d+", b"0", message) == re.sub(rb"\d+", b"0", other)


def _named(one: Exchange) -> set[bytes]:
    """The words of a message that its reply repeats."""
    return _words(one.message) & _words(one.reply)


def _words(text: bytes) -> set[bytes]:
    """Its words of two letters or digits and more."""
    return set(re.findall(rb"[A-Za-z0-9]{2,}", text))


def _names_input(mine: Exchange, foreign: Exchange, one: int, other: int, reads: bool = True) -> bool:
    """Whether two replies carry, at the same place, what tells their inputs apart; where it `reads`, a number too."""
    if not all(each.reply.isascii() and each.reply.decode("ascii").isprintable() for each in (mine, foreign)):
        return False
    replies = (mine.reply.decode("ascii"), foreign.reply.decode("ascii"))
    questions = (mine.message.decode("latin-1"), foreign.message.decode("latin-1"))
    return any(
        start in _places(names[1], replies[1], reads)
        for names in ((str(one), str(other)), _difference(*questions))
        for start in _places(names[0], replies[0], reads)
    )


def _places(name: str, reply: str, reads: bool) -> list[int]:
    """Where the name of an input stands in a reply; in one that `reads` there is a number besides."""
    besides = r"\d" if reads else r"\w"
    found = re.finditer(_BESIDE.format(re.escape(name)), reply) if name else ()
    return [one.start() for one in found if re.search(besides, reply[: one.start()] + reply[one.end() :])]


def _difference(one: str, other: str) -> tuple[str, str]:
    """What is left of two texts without their common beginning and end."""
    begin = 0
    while begin < min(len(one), len(other)) and one[begin] == other[begin]:
        begin += 1
    one, other = one[begin:], other[begin:]
    end = 0
    while end < min(len(one), len(other)) and one[-1 - end] == other[-1 - end]:
        end += 1
    return one[: len(one) - end], other[: len(other) - end]
