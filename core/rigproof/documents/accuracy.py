"""How well an instrument reads a channel, in the unit of what it reads."""

from __future__ import annotations

from functools import cache
from typing import Annotated, Any

from pydantic import AfterValidator, WithJsonSchema, create_model

from rigproof.documents.validation import checked, consequence
from rigproof.models import DocumentModel
from rigproof.quantities import Quantity, Spread, WrittenError, absolute_spread, kind_of, parse, quantity, spread

_OF_READING = WithJsonSchema({"type": ["string", "object"], "description": "in a unit of what the instrument reads"})


class Accuracy(DocumentModel):
    """What the data sheet or the certificate of an instrument states for one channel; what is not stated is None.

    All but `of_reading` are in the base unit of what the instrument reads: V/V for a strain channel, Ω for a Pt100.
    """

    of_reading: Annotated[Spread | None, spread("ratio")] = None
    """Error in proportion to the reading, such as 0.05 %."""
    fixed: Annotated[Spread | None, _OF_READING] = None
    """Error that is the same at every reading, in a unit of what the instrument reads."""
    zero_drift: Annotated[Spread | None, _OF_READING] = None
    """What the zero may move between a zero reading and the readings that count from it."""
    resolution: Annotated[Quantity | None, _OF_READING] = None
    """Smallest step of the reading."""

    @property
    def stated(self) -> bool:
        """False where nothing is written that makes a reading uncertain."""
        spreads = [spread for spread in (self.of_reading, self.fixed, self.zero_drift) if spread is not None]
        return bool(self.resolution and self.resolution.value) or any(s.u_relative or s.u_absolute for s in spreads)


# Largest error of an instrument that anybody would judge by, with a wide margin (common practice, no source); of other
# kinds no size is absurd by itself, and the plan says what it leaves of each tolerance.
LARGEST = {"temperature": ("20 K", "273 K would be 0 °C, and an accuracy is a difference")}


def _plausible(kind: str) -> AfterValidator:
    """Refuses what no instrument reads so badly."""
    bound, why = LARGEST.get(kind, ("", ""))

    def check(given: Spread | None) -> Spread | None:
        if given is not None and bound and given.u_absolute > parse(bound, kind_of(kind).difference).value:
            raise WrittenError(f"{given.text!r} is out of bounds", f"it must be at most {bound}: {why}")
        return given

    return AfterValidator(check)


@cache
def accuracy_of(kind: str) -> type[Accuracy]:
    """The model of an accuracy of readings of `kind`: limits of a temperature are in K, of a pressure in bar."""
    difference = kind_of(kind).difference
    return create_model(
        "Accuracy",
        __base__=Accuracy,
        fixed=(Annotated[Spread | None, absolute_spread(kind), _plausible(kind)], None),
        zero_drift=(Annotated[Spread | None, absolute_spread(kind), _plausible(kind)], None),
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
