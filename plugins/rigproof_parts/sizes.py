"""Lengths of parts, and the rules they keep among each other, limits included."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator

from rigproof.quantities import Uncertain, WrittenError, parse_uncertain, uncertain


def above_zero(written: Uncertain) -> Uncertain:
    """Pass a quantity whose limits stay above zero."""
    if written.lower <= 0:
        raise WrittenError(f"{written.text!r} reaches down to 0 or below", "it must be above 0, limits included")
    return written


def _not_negative(bore: Uncertain) -> Uncertain:
    if bore.lower < 0:
        raise WrittenError(f"{bore.text!r} reaches below 0", "write the inside diameter, or leave it out if solid")
    return bore


Length = Annotated[Uncertain, uncertain("length"), AfterValidator(above_zero)]
Bore = Annotated[Uncertain, uncertain("length"), AfterValidator(_not_negative)]
SOLID = parse_uncertain("0 mm", "length")


def bore_inside(bore: Uncertain, diameter: Uncertain | None) -> Uncertain:
    """Pass a bore that leaves a wall; `diameter` is None where it could not be read itself."""
    if diameter is not None and bore.upper >= diameter.lower:
        raise WrittenError(
            f"{bore.text!r} is not below the diameter of {diameter.text!r}, limits included",
            "write the inside diameter",
        )
    return bore


def slender(length: Uncertain, thickness: Uncertain | None, least: float = 10.0) -> None:
    """Refuse a strip too short for beam theory, which leaves out shear: length over thickness (common practice)."""
    if thickness is not None and length.lower < least * thickness.upper:
        ratio = length.lower / thickness.upper
        raise WrittenError(
            f"{thickness.text!r} gives length/thickness = {ratio:.4g}, limits included, and beam theory holds from "
            f"{least:g} up",
            "take a thinner or longer strip",
        )
