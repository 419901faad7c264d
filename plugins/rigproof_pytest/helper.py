"""The person of a driver that asks one: the simulated instrument says what they do and type."""

from __future__ import annotations

from rigproof.errors import InstrumentError
from rigproof.people import Question

from .peer import Peer


class Helper:
    """A `rigproof.people.Person` whose words go through the peer: written down, and replaced to order."""

    name = "the helper"

    def __init__(self, peer: Peer) -> None:
        self._peer = peer

    def ask(self, question: Question) -> str:
        """What is typed; `InstrumentError` where nothing is."""
        typed = self._peer.typed(question)
        if typed is None:
            raise InstrumentError(question.instrument, f"nobody answers {question.label!r}")
        return typed

    def tell(self, instrument: str, text: str) -> None:
        """Nothing is waited for."""
