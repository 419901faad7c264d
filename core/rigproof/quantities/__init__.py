"""Quantities: every number in a document with its unit, and its uncertainty where it is written."""

from rigproof.quantities.fields import KindName, WrittenField, absolute_spread, quantity, spread, uncertain, within
from rigproof.quantities.forms import FormError
from rigproof.quantities.kinds import KINDS, Kind, kind_of
from rigproof.quantities.lexer import WrittenError
from rigproof.quantities.nearest import did_you_mean, nearest
from rigproof.quantities.quantity import Quantity, fitting, parse, show, shown, unit, unit_of
from rigproof.quantities.spread import Spread, Within, parse_spread, parse_within
from rigproof.quantities.uncertain import Uncertain, parse_uncertain

__all__ = [
    "KINDS",
    "FormError",
    "Kind",
    "KindName",
    "Quantity",
    "Spread",
    "Uncertain",
    "Within",
    "WrittenError",
    "WrittenField",
    "absolute_spread",
    "did_you_mean",
    "fitting",
    "kind_of",
    "nearest",
    "parse",
    "parse_spread",
    "parse_uncertain",
    "parse_within",
    "quantity",
    "show",
    "shown",
    "spread",
    "uncertain",
    "unit",
    "unit_of",
    "within",
]
