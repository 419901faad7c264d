"""What drivers of described instruments share: opening, asking and telling by the words of their command map."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import TypeVar

from rigproof.documents.validation import wrong
from rigproof.errors import InstrumentError
from rigproof.instruments import NOT_ASKED, Connection, Identity, Settings

from . import replies, resources
from .command_map import WHO, CommandMap
from .diagnosis import MEND_GREETING, Question, diagnose
from .driver import VisaDriver
from .patterns import NUMBERS, Wording, is_as_sent
from .session import Session

T = TypeVar("T")

_MOST_ERRORS = 64


class _Told(Session):
    """The session of an instrument whose words stand in rig.yaml."""

    _mend_greeting = MEND_GREETING
    _mend_unread = "write the form of such replies as `acknowledged:` under `settings:`"


class Described(VisaDriver):
    """An instrument of which rig.yaml says everything."""

    def __init__(self, connection: Connection, settings: Settings) -> None:
        super().__init__(connection, settings)
        assert isinstance(settings, CommandMap), "see `settings_model`"
        self._words = settings
        self._delay_s = settings.delay.value
        self._session = _Told(connection, settings, "latin-1", self._greets())
        self._identity: Identity | None = None  # who answered when it was opened

    @classmethod
    def check_settings(cls, resource: str, settings: Settings) -> None:
        """As for every VISA resource; and nobody greets on a bus."""
        super().check_settings(resource, settings)
        assert isinstance(settings, CommandMap), "see `settings_model`"
        if settings.greeting and not resources.resource(resource).is_stream:
            raise wrong(("greeting",), f"nobody sends without being asked on {resource!r}", "leave it out", "")

    def open(self) -> Identity:
        """Connect, say what the map has `at start`, ask who is there."""
        return self._connected(self._words.at_start)

    def look(self) -> Identity:
        """Connect and ask who is there; what the map has `at start` is not sent."""
        return self._connected(())

    def resume(self) -> Identity:
        """A fresh connection in the middle of a run, to the instrument that was opened; nothing is set."""
        if self._identity is None:
            raise InstrumentError(self.connection.name, "connect again: it was never opened; open it first")
        self._session.reconnect()
        self._expect_same()
        return self._identity

    def diagnose(self) -> str:
        """Name, address, port, terminator or baud rate: what the map's question who it is tells, if it has one."""
        asked = self._words.identity
        if asked is None:
            return super().diagnose()
        unlike = f"which has not the form {asked.reply.text!r}: another device, or a wrong map"
        question = Question(asked.ask.text, lambda reply: self._identity_in(reply.decode("latin-1")), unlike)
        return diagnose(self.connection, self._words, replace(question, greetings=self._greets()))

    def close(self) -> None:
        """Close the session."""
        self._session.close()

    def errors(self) -> list[str]:
        """What the instrument complains of, until it has no more to say or repeats itself."""
        entries: list[str] = []
        asked = self._words.error
        while asked and len(entries) < _MOST_ERRORS:
            reply = self._ask(asked.ask, asked.entry)
            if not reply or entries[-1:] == [reply]:
                break
            entries.append(reply)
        return entries

    def _connected(self, at_start: Sequence[Wording]) -> Identity:
        self._session.reconnect()
        try:
            if at_start:
                self._tell(at_start)
            self._identity = self._who()
            self._expect_it_works()
        except Exception:
            self._session.close()
            raise
        return self._identity

    def _expect_it_works(self) -> None:
        """See that what the run rests on is there; here, nothing more than who it is."""

    def _recover(self) -> None:
        """Connect again after a failed exchange."""
        if self._session.in_doubt:
            self.resume()

    def _expect_same(self) -> None:
        """See that the instrument which was opened answers, and no other; one that never was may be any."""
        if self._identity is None or (found := self._who()) == self._identity:
            return
        self._session.close()
        raise InstrumentError(
            self.connection.name,
            f"{found.maker} {found.model} {found.serial_number} answers, and {self._identity.maker} "
            f"{self._identity.model} {self._identity.serial_number} was opened: another instrument stands at this "
            "address now; correct the cabling",
        )

    def _who(self) -> Identity:
        asked = self._words.identity
        return Identity("", "", "", NOT_ASKED) if asked is None else self._ask(asked.ask, self._identity_in)

    def _identity_in(self, reply: str) -> Identity:
        """Who it is by a reply; ValueError where the reply does not have its form."""
        assert self._words.identity is not None, "asked only where the map says how"
        form = self._words.identity.reply
        found = form.match(reply)
        if found is None:
            raise ValueError(f"who it is has the form {form.text!r}")
        return Identity(*(found.get(word, "").strip() for word in WHO))

    def _greets(self) -> list[Callable[[str], object]]:
        """What parses each line of its greeting."""
        forms = self._words.greeting
        lines = [f"line {number} of " if forms[1:] else "" for number in range(1, 1 + len(forms))]
        return [partial(_as_greeted, form, f"{line}its greeting") for form, line in zip(forms, lines, strict=True)]

    def _tell(self, messages: Sequence[Wording], **values: str) -> None:
        """Send messages in order, then see that the instrument has found no fault with them."""
        texts = [wording.filled(**values) for wording in messages]
        for wording in messages:
            self._write(wording, values)
        self._expect_no_errors("; ".join(texts))

    def _write(self, message: Wording, values: Mapping[str, str], judged: bool = True) -> None:
        """Send what is no question; where the map says so, it must be acknowledged (by any reply, if not `judged`)."""
        text = message.filled(**values)
        if self._words.acknowledged:
            said = {word: value for word, value in values.items() if message.has(word)}
            judge = partial(self._acknowledged, text, said) if judged else str
            self._session.ask(text, judge, self._delay_s, quiet=True)
            return
        self._session.write(text)
        self._pause()

    def _acknowledged(self, text: str, said: Mapping[str, str], reply: str) -> None:
        """ValueError for a reply that is no acknowledgement of `text`, in which `said` stands at its places."""
        forms = self._words.acknowledged
        if not any(self._acknowledges(form, text, said, reply) for form in forms):
            raise ValueError(f"it is acknowledged with {' or '.join(repr(form.text) for form in forms)}")

    def _acknowledges(self, form: Wording, text: str, said: Mapping[str, str], reply: str) -> bool:
        comma = self._words.decimal == "comma"
        found = form.match(reply, comma, channel_input=said.get("input", ""), message=text)
        if found is None:
            return False
        numbers = NUMBERS & found.keys()
        return all(word in said and is_as_sent(replies.number(found[word]), said[word]) for word in numbers)

    def _pause(self) -> None:
        """What the instrument needs after a message."""
        if self._delay_s:
            self.connection.clock.wait(self._delay_s)

    def _expect_no_errors(self, asked: str) -> None:
        entries = self.errors()
        self._session.check(
            not entries,
            asked,
            f"asked for errors it then said {' and '.join(map(repr, entries))}",
            "every message must be accepted",
            "look it up in the instrument's manual, or mend `error: none` in its map",
        )

    def _ask(self, message: Wording, parse: Callable[[str], T], **values: str) -> T:
        return self._session.ask(message.filled(**values), parse, self._delay_s, quiet=True)

    def _number(self, reply: str, form: Wording, word: str, channel_input: str = "") -> float:
        """The number at a place of a reply; ValueError where the reply does not have its form."""
        found = form.match(reply, self._words.decimal == "comma", channel_input=channel_input)
        if found is None:
            raise ValueError(f"a reply has the form {form.text!r}")
        return replies.number(found[word])


def _as_greeted(form: Wording, what: str, line: str) -> None:
    """ValueError for a line that is not of its greeting."""
    if form.match(line) is None:
        raise ValueError(f"{what} has the form {form.text!r}")
