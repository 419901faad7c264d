"""A value with its uncertainty, as written in a document.

Three forms, each a statement people make: limits beside a value (`219.1 mm ± 0.5 %`), a certificate
(`{value: 2.08, U: 0.5 %, k: 2}`) and statistics (`{value: 3.2 mV, s: 0.4 µV, n: 20}`). A plain value is exact.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Literal

from rigproof.quantities.forms import (
    CERTIFICATE,
    STATISTICS,
    Form,
    coverage_factor,
    form_text,
    observations,
)
from rigproof.quantities.kinds import Kind, kind_of
from rigproof.quantities.lexer import NUMBER, WrittenError, a, clean, one_of, refuse_commas
from rigproof.quantities.quantity import exact
from rigproof.quantities.spread import SHARES, refuse_share

if TYPE_CHECKING:
    from rigproof.uncertainty import Input

Shape = Literal["exact", "rectangular", "normal", "t"]

_LIMITS = re.compile(r"±|\+/-|\+-")
_TWO_NUMBERS = re.compile(rf"({NUMBER}\s*[^\s\d]\S*)\s+({NUMBER}\s*[^\s\d]\S*)")


@dataclass(frozen=True)
class Uncertain:
    """A value and its standard uncertainty `u`, both in the base unit of `kind`; `u` of a temperature is in K."""

    value: float
    u: float
    dof: float  # degrees of freedom of u; inf unless it comes from statistics
    shape: Shape
    kind: str
    text: str

    def input(self, name: str, unit: str = "") -> Input:
        """The same as an input of a budget; `unit` is for the table and defaults to the base unit."""
        from rigproof.uncertainty import Input

        unit = unit or kind_of(self.kind).base
        return Input(name, self.value, self.u, self.dof, self.shape, unit, stated=self.text)

    @property
    def lower(self) -> float:
        """Lower bound a truth is drawn from: the limit where limits are stated, else value - 2 u (k = 2)."""
        return self.value - self._reach()

    @property
    def upper(self) -> float:
        """Upper bound, see `lower`."""
        return self.value + self._reach()

    def _reach(self) -> float:
        return self.u * (math.sqrt(3.0) if self.shape == "rectangular" else 2.0)

    def __str__(self) -> str:
        return self.text


def parse_uncertain(written: object, kind: str) -> Uncertain:
    """Read one of the four forms; a QuantityError (a FormError for a mapping) says what to write instead."""
    if isinstance(written, Mapping):
        return _from_mapping(written, kind_of(kind))
    text = clean(written)
    refuse_commas(text)
    value_text, *limits = (part.strip() for part in _LIMITS.split(text))
    if len(limits) > 1:
        raise WrittenError(f"{text!r} has two ±", "write one value and one limit")
    if not limits and (twice := _TWO_NUMBERS.fullmatch(text)):
        raise WrittenError(f"{text!r} has two numbers", f"is a ± missing? write '{twice[1]} ± {twice[2]}'")
    value, unit = exact(value_text, kind_of(kind))
    if not limits:
        return Uncertain(float(value), 0.0, math.inf, "exact", kind, str(written).strip())
    half = width(limits[0], kind_of(kind), value, unit)
    # Limits without more knowledge: a rectangular distribution, u = a/√3 (JCGM 100:2008, 4.3.7, equation 7).
    shape: Shape = "rectangular" if half else "exact"
    return Uncertain(float(value), half / math.sqrt(3.0), math.inf, shape, kind, str(written).strip())


def width(text: str, kind: Kind, value: Fraction, unit: str) -> float:
    """A half-width, U or s in base units: in a unit of the kind, or a share of `value` (written in `unit`).

    Beside a value that is itself written in %, a % is absolute, as gauge packets print it: 0.4 % ± 0.2 %.
    """
    if not text:
        raise WrittenError("nothing stands after ±", "write a limit with its unit, or leave the ± out")
    absolute = kind_of(kind.difference)
    if text[-1].isdigit() and (unit in SHARES or "" not in absolute.units):
        of_value = "" if kind.name == "temperature" else " or in % of the value"
        where = one_of(SHARES) if unit in SHARES else f"a unit of {absolute.name}{of_value}"
        said = f"{text!r} has no unit: {a(absolute.name)} is wanted"
        raise WrittenError(said, f"write it in {where}, for example '± 1 {absolute.shown}'")
    if unit not in SHARES and text.endswith(SHARES):
        _refuse_share(text, kind, value)
        share = exact(text, kind_of("ratio"))[0]
        refuse_share(text, float(share))
        size = share * abs(value)
    else:
        size, _ = exact(text, absolute)
    if size < 0:
        raise WrittenError(f"{text!r} is negative", "write its size, without a sign")
    return float(size)


def _refuse_share(text: str, kind: Kind, value: Fraction) -> None:
    if kind.name == "temperature":
        raise WrittenError(f"{text!r} of a temperature depends on where the scale has its zero", "write it in K")
    if value == 0:
        raise WrittenError(f"{text!r} of 0 is nothing", f"write it in a unit of {kind.difference}")


def _from_mapping(written: Mapping[object, object], kind: Kind) -> Uncertain:
    if "U" not in written and {"s", "n"} & written.keys():
        value, size, n = read_form(written, STATISTICS, kind, observations)
        # Standard uncertainty of a mean (JCGM 100:2008, 4.2.3, equation 5).
        return Uncertain(value, size / math.sqrt(n), n - 1.0, "t", kind.name, form_text(written, STATISTICS))
    value, size, k = read_form(written, CERTIFICATE, kind, coverage_factor)
    # A certificate's U = k u (JCGM 100:2008, 4.3.3).
    return Uncertain(
        value, size / k, math.inf, "normal" if size else "exact", kind.name, form_text(written, CERTIFICATE)
    )


def read_form(
    written: Mapping[object, object], keys: tuple[str, str, str], kind: Kind, count: Callable[[object], float]
) -> tuple[float, float, float]:
    """The three numbers of a mapping form, base units; a FormError carries all that is wrong in it."""
    form = Form(written, keys)
    value = form.take(keys[0], lambda text: exact(clean(text), kind))
    # A share needs the value; without it the half-width is still checked, against 1.
    beside = value or (Fraction(1), kind.shown)
    size = form.take(keys[1], lambda text: width(clean(text), kind, *beside))
    number = form.take(keys[2], count)
    form.finish()
    if value is None or size is None or number is None:
        raise AssertionError("Form.finish lets no missing number through")
    return float(value[0]), size, number
