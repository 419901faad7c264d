"""An accuracy alone, and a tolerance around something else."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from rigproof.quantities.forms import ACCURACY, Form, coverage_factor, form_text
from rigproof.quantities.kinds import Kind, kind_of
from rigproof.quantities.lexer import WrittenError, clean
from rigproof.quantities.quantity import exact

SHARES = ("%", "‰", "ppm")
# From here on a share must carry its sign: `within 1` is meant as 1 %, and would be 100 %. Hardly a limit or an
# accuracy of this trade is as wide as 10 %, and one that is can be written so (common practice, no source).
SIGNED_FROM = 0.1
_SIGNS = ("±", "+/-", "+-")


@dataclass(frozen=True)
class Spread:
    """A standard uncertainty without a value: a share of the reading and a part in the base unit of `kind`."""

    u_relative: float
    u_absolute: float
    shape: Literal["rectangular", "normal"]
    kind: str
    text: str

    def __str__(self) -> str:
        return self.text


@dataclass(frozen=True)
class Within:
    """A tolerance to both sides: a share of a reference, or a limit in the base unit of `kind`."""

    limit: float
    relative: bool
    kind: str
    text: str

    def around(self, reference: float) -> float:
        """The limit in base units for a `reference` value (of no account when it is not relative)."""
        return self.limit * abs(reference) if self.relative else self.limit

    def __str__(self) -> str:
        return self.text


def parse_spread(written: object, kind: str, absolute: bool = False) -> Spread:
    """Read "0.05 %", "± 0.02 bar" (limits) or {U: 0.05 %, k: 2}; with `absolute` a share of the reading is refused.

    A ratio is a share of the reading unless `absolute` is asked for.
    """
    wanted = kind_of(kind)
    if isinstance(written, Mapping):
        form = Form(written, ACCURACY)
        size = form.take("U", lambda text: _size(text, wanted, absolute))
        k = form.take("k", coverage_factor)
        form.finish()
        if size is None or k is None:
            raise AssertionError("Form.finish lets no missing number through")
        return _spread(size, k, "normal", kind, form_text(written, ACCURACY))
    # Limits alone: rectangular, u = a/√3 (JCGM 100:2008, 4.3.7, equation 7).
    return _spread(_size(written, wanted, absolute), math.sqrt(3.0), "rectangular", kind, str(written).strip())


def parse_within(written: object, kind: str, absolute: bool = False) -> Within:
    """Read "within 1 %" (of a reference) or "within 5 µε"; with `absolute` a share is refused: nothing says of what."""
    text = clean(written)
    word, _, rest = text.partition(" ")
    if word != "within":
        raise WrittenError(f"{text!r} does not say 'within'", f"write 'within {text.lstrip('±<= ')}'")
    limit, relative = _size(rest, kind_of(kind), absolute)
    return Within(limit, relative, kind, str(written).strip())


def _size(written: object, kind: Kind, absolute: bool) -> tuple[float, bool]:
    """Half-width, and whether it is a share."""
    text = clean(written)
    for sign in _SIGNS:
        text = text.removeprefix(sign).lstrip()
    share = text.endswith(SHARES) or kind.name == "ratio"
    if share and absolute and kind.name != "ratio":
        unit = kind_of(kind.difference).shown
        raise WrittenError(
            f"{text!r} is a share, and nothing says of what", f"write it in a unit of {kind.difference} such as {unit}"
        )
    size, _unit = exact(text, kind_of("ratio") if share else kind_of(kind.difference))
    if size < 0:
        raise WrittenError(f"{text!r} is negative", "write its size, without a sign")
    if share:
        refuse_share(text, float(size))
    return float(size), share and not absolute


def refuse_share(text: str, size: float) -> None:
    """Raise a WrittenError for a share that is a forgotten % sign, or as much as what it is a share of."""
    if size >= SIGNED_FROM and not text.endswith(SHARES):
        raise WrittenError(f"{text!r} without a % is {100 * size:g} %", f"write {text} % or {size / 100:g}")
    if size >= 1:
        raise WrittenError(f"{text!r} is as much as the whole", "write a smaller share, for example 1 %")


def _spread(
    size: tuple[float, bool], divisor: float, shape: Literal["rectangular", "normal"], kind: str, text: str
) -> Spread:
    u = size[0] / divisor
    return Spread(u, 0.0, shape, kind, text) if size[1] else Spread(0.0, u, shape, kind, text)
