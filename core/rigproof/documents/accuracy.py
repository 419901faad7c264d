"""How well an instrument reads a channel, in the unit of what it reads."""

from __future__ import annotations

from functools import cache
from typing import Annotated, Any

from pydantic import WithJsonSchema, create_model

from rigproof.documents.validation import checked, consequence
from rigproof.models import DocumentModel
from rigproof.quantities import Quantity, Spread, absolute_spread, kind_of, quantity, spread

_OF_READING = WithJsonSchema({"type": ["string", "object"], "description": "in a unit of what the instrument reads"})


class Accuracy(DocumentModel):
    """What the data sheet or the certificate of an instrument states for one channel; what is not stated is None.

    All but `of_reading` are in the base unit of what the instrument reads: V/V for a strain channel, Ω for a Pt100.
    """

    of_reading: Annotated[Spread | None, spread("ratio")] = None
    fixed: Annotated[Spread | None, _OF_READING] = None  # the same at every reading
    zero_drift: Annotated[Spread | None, _OF_READING] = None  # from a zero reading to the readings that count from it
    resolution: Annotated[Quantity | None, _OF_READING] = None  # smallest step of the reading

    @property
    def stated(self) -> bool:
        """False where nothing is written that makes a reading uncertain."""
        spreads = [spread for spread in (self.of_reading, self.fixed, self.zero_drift) if spread is not None]
        return bool(self.resolution and self.resolution.value) or any(s.u_relative or s.u_absolute for s in spreads)


@cache
def accuracy_of(kind: str) -> type[Accuracy]:
    """The model of an accuracy of readings of `kind`: limits of a temperature are in K, of a pressure in bar."""
    difference = kind_of(kind).difference
    return create_model(
        "Accuracy",
        __base__=Accuracy,
        fixed=(Annotated[Spread | None, absolute_spread(kind)], None),
        zero_drift=(Annotated[Spread | None, absolute_spread(kind)], None),
        resolution=(Annotated[Quantity | None, quantity(difference, at_least=_zero(difference))], None),
    )


def _zero(kind: str) -> str:
    return f"0 {kind_of(kind).shown}".strip()


class Reading:
    """A written accuracy with the kind of what is read, as its channel found it; None: not known."""

    def __init__(self, kind: str | None, written: Any) -> None:
        self.kind, self.written = kind, written


def read_accuracy(given: Any, context: object) -> Accuracy:
    """The accuracy of a channel; one made in code is taken as it is."""
    if isinstance(given, Accuracy):
        return given
    if not isinstance(given, Reading) or given.kind is None:
        raise consequence()
    return checked(accuracy_of(given.kind), given.written, context)
