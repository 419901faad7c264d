"""Promises about the replies to `open`: each is looked at, and the identity is the one that came."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import repeat
from string import ascii_lowercase, ascii_uppercase, digits
from typing import Any

import pytest

from rigproof.instruments import NOT_ASKED, Identity, Reads, TestsInsulation

from .faults import GARBAGE, Fault
from .kit import Kit, advise
from .peer import Exchange
from .told import content, shown
from .watch import Hangs, limited

_KNOWN = 3  # characters of the identity that a reply carries at least: a digit alone is in many


class Answering(Kit):
    """What `open` asks for it reads, and believes only what has the form of a reply."""

    def test_every_reply_to_open_is_looked_at(self) -> None:
        """An acknowledgement, unit or identity that is none is an error in `open`, or at the first reading."""
        told = {one.message: one for one in self._said_by_open() if one.message}
        for question in map(content, self.faults):  # what open() clears was the last user's, and may be anything
            told.pop(question, None)
        for one in told.values():
            for fault in GARBAGE:
                self._expect_looked_at(one, fault)

    def _said_by_open(self) -> list[Exchange]:
        """What is answered during `open`; what comes unasked is no reply."""
        driver = self.make()
        said = self.heard(lambda: self.well("open()", driver.open))
        self.shut(driver)
        return said

    def _expect_looked_at(self, one: Exchange, fault: Fault) -> None:
        """Garbage each time that it is asked: a driver may ask twice, and throw away what was left on the line."""
        garbage, driver = fault.change(one.reply, b""), self.make()
        self.peer.say_instead(one.message, repeat(garbage))
        believed = self._goes_on(driver)
        self.peer.heal()
        self.shut(driver)
        if believed:
            advise(
                self.place("open()"),
                f"took {shown(garbage)} for the reply to {shown(one.message)}, which is {shown(one.reply)}",
                "every reply that is asked for is read and held against its form, to the last byte: a setting that "
                "was refused, or another instrument, would pass for the right one",
                "compare the whole reply, and raise InstrumentError(self.connection.name, …) for any other; state the "
                "question for errors, whose entries open() may throw away, in error_queue or error_register",
            )

    def _goes_on(self, driver: Any) -> bool:
        """Whether it opens as if all were well, and reads, or does all else that it can; how it fails others tell."""
        reads = issubclass(self.driver, Reads | TestsInsulation)
        try:
            with limited(self.patience_s):
                found = driver.open()
                for action in [self.value] if reads else self.actions().values():
                    action(driver)
        except (Exception, Hangs):
            return False
        return bool(found == self.identity)  # else it is a name of any form, and everybody sees it

    def test_the_identity_is_the_one_that_came(self) -> None:
        """`Driver.open` says who answered this time: another serial number in the reply is seen, or is an error."""
        fields = _fields(self.identity)
        if not fields:
            pytest.skip("identity states nothing that a reply could tell: whoever answers would pass")
        carrier = max(self._said_by_open(), key=lambda one: _carried(one.reply, fields), default=None)
        if carrier is None or _carried(carrier.reply, fields) < _KNOWN:
            pytest.skip("no reply to open() is seen to carry what identity states: one that is made up would pass")
        field = next(text for text in fields if _place(text).search(carrier.reply))
        other, driver = _another(field), self.make()
        self.well("open()", driver.open)
        self.shut(driver)
        changed = _place(field).sub(content(other), carrier.reply)
        self.peer.swapped[carrier.reply], mark = changed, len(self.peer.said)
        found, error = self.attempt("open()", driver.open, "where another of its kind answered")
        self.shut(driver)
        asked = [one.reply for one in self.peer.said[mark:] if one.message == carrier.message]
        if error is None and found == self.identity and (changed in asked or not asked):
            advise(
                self.place("open()"),
                f"gave {field!r} where the reply to {shown(carrier.message)} said {other!r}",
                "the identity is what answered this time: rig.yaml compares it, and the record names it; a wrong "
                "instrument would be taken for the right one",
                "take maker, model, serial number and firmware out of the reply at each open(), and keep none",
            )


def _fields(identity: Identity) -> Sequence[str]:
    """What a reply can tell; the serial number first: it is what differs between two of a kind."""
    told = (identity.serial_number, identity.firmware, identity.model, identity.maker)
    return [text for text in told if text != NOT_ASKED and re.search("[A-Za-z0-9]", text)]


def _place(text: str) -> re.Pattern[bytes]:
    """Where a reply has this as a whole word."""
    return re.compile(rb"(?<![A-Za-z0-9])" + re.escape(text.encode("latin-1", "replace")) + rb"(?![A-Za-z0-9])")


def _carried(reply: bytes, fields: Sequence[str]) -> int:
    """Characters of the identity that a reply carries."""
    return sum(len(text) for text in fields if _place(text).search(reply))


def _another(text: str) -> str:
    """The same form with another last letter or digit, of which there is one at least."""
    at = max(number for number, letter in enumerate(text) if letter.isascii() and letter.isalnum())
    ring = next(ring for ring in _RINGS if text[at] in ring)
    return text[:at] + ring[(ring.index(text[at]) + 1) % len(ring)] + text[at + 1 :]


_RINGS = (digits, ascii_lowercase, ascii_uppercase)
