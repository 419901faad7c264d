"""The material of a part, as its certificate or a handbook states it."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator

from rigproof.models import DocumentModel
from rigproof.quantities import Quantity, Uncertain, WrittenError, quantity, uncertain
from rigproof.uncertainty import Input


def _elastic(ratio: Uncertain) -> Uncertain:
    if not 0 < ratio.lower <= ratio.upper < 0.5:
        raise WrittenError(f"{ratio.text!r} is out of bounds", "it must lie between 0 and 0.5, limits included")
    return ratio


def above_zero(written: Uncertain) -> Uncertain:
    """Pass a quantity whose limits stay above zero."""
    if written.lower <= 0:
        raise WrittenError(f"{written.text!r} reaches down to 0 or below", "it must be above 0, limits included")
    return written


PoissonRatio = Annotated[Uncertain, uncertain("number"), AfterValidator(_elastic)]
Length = Annotated[Uncertain, uncertain("length"), AfterValidator(above_zero)]


class Material(DocumentModel):
    """An isotropic, linearly elastic material; handbooks differ by about 2 % in modulus, 0.02 in Poisson's ratio."""

    name: str
    elastic_modulus: Annotated[Uncertain, uncertain("stress"), AfterValidator(above_zero)]
    poisson_ratio: PoissonRatio
    expansion: Annotated[Uncertain, uncertain("expansion")]  # linear, of the part
    yield_strength: Annotated[Quantity, quantity("stress", above="0 MPa")]

    def inputs(self) -> tuple[Input, ...]:
        """Elastic modulus (Pa), Poisson's ratio, expansion (1/K)."""
        return (
            self.elastic_modulus.input("elastic modulus"),
            self.poisson_ratio.input("poisson ratio"),
            self.expansion.input("expansion"),
        )
