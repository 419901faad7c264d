"""What a certificate says must be added to the readings of a channel, in the unit of what the instrument reads."""

from __future__ import annotations

from functools import cache
from typing import Annotated, Any

from pydantic import WithJsonSchema, create_model

from rigproof.documents.accuracy import Reading
from rigproof.documents.validation import checked, consequence
from rigproof.models import DocumentModel
from rigproof.quantities import Uncertain, kind_of, uncertain

_FIXED = WithJsonSchema({"type": ["string", "object"], "description": "in a unit of what the instrument reads"})


class Correction(DocumentModel):
    """Corrections from a calibration certificate (JCGM 200:2012, 2.53, from memory): they are ADDED to the reading.

    An instrument that shows 0.12 % too little has the correction +0.12 %; a certificate that states the *error of
    indication* instead states the same with the other sign. corrected = reading (1 + of_reading) + fixed. What
    `accuracy` states beside it is what may have changed since the certificate: the two uncertainties add in quadrature.
    """

    of_reading: Annotated[Uncertain | None, uncertain("ratio", above="-100 %")] = None
    """Share of the reading that is added to it."""
    fixed: Annotated[Uncertain | None, _FIXED] = None
    """What is added at every reading alike."""

    def added_to(self, reading: Any) -> Any:
        """A reading, or an array of them, as corrected; base unit."""
        gain = self.of_reading.value if self.of_reading else 0.0
        return reading * (1 + gain) + (self.fixed.value if self.fixed else 0.0)

    def taken_from(self, corrected: Any) -> Any:
        """The reading that comes out as `corrected`; base unit."""
        gain = self.of_reading.value if self.of_reading else 0.0
        return (corrected - (self.fixed.value if self.fixed else 0.0)) / (1 + gain)


@cache
def correction_of(kind: str) -> type[Correction]:
    """The model of a correction to readings of `kind`: of a temperature in K, of a pressure in bar."""
    fixed = uncertain(kind_of(kind).difference)
    return create_model("Correction", __base__=Correction, fixed=(Annotated[Uncertain | None, fixed], None))


def read_correction(given: Any, context: object) -> Correction:
    """The correction of a channel; one made in code is taken as it is."""
    if isinstance(given, Correction):
        return given
    if not isinstance(given, Reading) or given.kind is None:
        raise consequence()
    return checked(correction_of(given.kind), given.written, context)
