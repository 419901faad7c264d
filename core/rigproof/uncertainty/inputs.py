"""The uncertain inputs of a budget, Type A and Type B (JCGM 100, 4.2 and 4.3)."""

from __future__ import annotations

import math
from typing import Literal, NamedTuple, Self, get_args

import numpy.typing as npt

from rigproof.errors import NumberError
from rigproof.uncertainty.statistics import mean_and_u

Shape = Literal["exact", "normal", "rectangular", "triangular", "arcsine", "t", "trapezoid", "curvilinear trapezoid"]
SHAPES: tuple[Shape, ...] = get_args(Shape)
Limits = Literal["rectangular", "triangular", "arcsine"]

# Half width divided by standard uncertainty: JCGM 100, 4.3.7 and 4.3.9 b, JCGM 101, 6.4.6.
_DIVISOR: dict[str, float] = {"rectangular": math.sqrt(3), "triangular": math.sqrt(6), "arcsine": math.sqrt(2)}
_SHAPES, _INF, _make = (
    frozenset(SHAPES),
    math.inf,
    tuple.__new__,
)  # names of their own: the check of an input is half of its making
_FORMED = ("trapezoid", "curvilinear trapezoid")


class _Fields(NamedTuple):
    name: str
    value: float
    u: float
    dof: float
    shape: Shape
    unit: str
    form: float
    stated: str
    source: str


class Input(_Fields):
    """One input quantity of a measurement model; `value` and `u` in the same unit.

    `u` is the standard uncertainty; for shape "t" it is the scale s/√n with `dof` = n-1 (JCGM 100, 4.2.3), not the
    larger standard deviation of that t distribution (JCGM 101, 6.4.9). `dof` may be real-valued. An input with
    u = 0 is exact whatever its shape. `form` tells the trapezoids apart: for "trapezoid" the width of the top over that
    of the base, for "curvilinear trapezoid" the inexactness of the limits over the half width, both 0 to 1; 0 for all
    other shapes. `stated` is how it was written and `source` where, for whoever reads the budget. Raises NumberError
    for numbers outside these rules.

    A tuple underneath: every check of every run makes inputs of its own, and the `__init__` of a frozen dataclass took
    a third of the time of a whole budget.
    """

    __slots__ = ()

    def __new__(
        cls,
        name: str,
        value: float,
        u: float,
        dof: float = math.inf,
        shape: Shape = "normal",
        unit: str = "",
        form: float = 0.0,
        stated: str = "",
        source: str = "",
    ) -> Self:
        """See the class."""
        if not (-_INF < value < _INF and 0 <= u < _INF and dof > 0 and shape in _SHAPES):
            raise NumberError(_fault(name, value, u, dof, shape))
        if shape == "exact" and u != 0:
            raise NumberError(f"{name}: u={u!r} with shape 'exact': give u = 0 or another shape")
        if form and not (shape in _FORMED and 0 < form <= 1):
            raise NumberError(
                f"{name}: form={form!r} with shape {shape!r}: must lie in 0..1 for {' or '.join(_FORMED)} and be 0 "
                "otherwise; give a share of the width"
            )
        return _make(cls, (name, value, u, dof, shape, unit, form, stated, source))

    def named(self, name: str, source: str = "") -> Input:
        """The same input under another name, with another `source` where one is given."""
        return Input(
            name, self.value, self.u, self.dof, self.shape, self.unit, self.form, self.stated, source or self.source
        )

    @property
    def half_width(self) -> float | None:
        """Of a shape with limits, in the unit of the value; None for the others."""
        match self.shape:
            case "rectangular" | "triangular" | "arcsine":
                return self.u * _DIVISOR[self.shape]
            case "trapezoid":
                return self.u * math.sqrt(6 / (1 + self.form**2))
            case "curvilinear trapezoid":
                return self.u / math.sqrt(1 / 3 + self.form**2 / 9)
        return None

    @classmethod
    def exact(cls, name: str, value: float, unit: str = "") -> Self:
        """A value without uncertainty, such as a defined constant."""
        return cls(name, value, 0.0, math.inf, "exact", unit)

    @classmethod
    def limits(
        cls,
        name: str,
        value: float,
        half_width: float,
        *,
        shape: Limits = "rectangular",
        dof: float = math.inf,
        unit: str = "",
    ) -> Self:
        """Type B from limits (JCGM 100, 4.3.7 rectangular, 4.3.9 triangular; JCGM 101, 6.4.6 arcsine)."""
        if shape not in _DIVISOR:
            raise NumberError(f"{name}: shape={shape!r}: limits need one of {', '.join(_DIVISOR)}")
        return cls(name, value, half_width / _DIVISOR[shape], dof, shape, unit)

    @classmethod
    def trapezoid(cls, name: str, value: float, half_width: float, top: float, *, unit: str = "") -> Self:
        """Type B, symmetric trapezoid: `top` is the width of its top over that of its base (JCGM 101, 6.4.4)."""
        return cls(name, value, half_width * math.sqrt((1 + top * top) / 6), math.inf, "trapezoid", unit, top)

    @classmethod
    def inexact_limits(cls, name: str, value: float, half_width: float, within: float, *, unit: str = "") -> Self:
        """Type B from limits value ± half_width that are themselves known only to ± `within` (JCGM 101, 6.4.3)."""
        if not (0 <= within <= half_width and half_width > 0):
            raise NumberError(
                f"{name}: within={within!r}: must lie in 0..half width ({half_width!r}); limits that may meet say "
                "nothing, ask for better ones"
            )
        u = math.sqrt(half_width**2 / 3 + within**2 / 9)
        return cls(name, value, u, math.inf, "curvilinear trapezoid", unit, within / half_width)

    @classmethod
    def statistics(cls, name: str, mean: float, s: float, n: int, *, unit: str = "") -> Self:
        """Type A from the standard deviation `s` of one reading and the number n >= 2 of readings (JCGM 100, 4.2.3)."""
        if n < 2:
            raise NumberError(f"{name}: n={n}: a standard deviation needs at least 2 readings; take more")
        return cls(name, mean, s / math.sqrt(n), n - 1.0, "t", unit)

    @classmethod
    def certificate(
        cls, name: str, value: float, expanded: float, k: float, *, dof: float = math.inf, unit: str = ""
    ) -> Self:
        """Type B from an expanded uncertainty and its coverage factor `k` (JCGM 100, 4.3.3)."""
        if not (math.isfinite(k) and k > 0):
            raise NumberError(f"{name}: k={k!r}: a coverage factor must be finite and > 0; read it off the certificate")
        return cls(name, value, expanded / k, dof, "normal", unit)

    @classmethod
    def readings(cls, name: str, samples: npt.ArrayLike, *, autocorrelated: bool = False, unit: str = "") -> Self:
        """Type A from repeated readings, shape (n,), n >= 2 (JCGM 100, 4.2.3); see `statistics.mean_and_u`."""
        mean, u, dof = mean_and_u(samples, autocorrelated=autocorrelated)
        return cls(name, mean, u, dof, "t", unit)


def _fault(name: str, value: float, u: float, dof: float, shape: str) -> str:
    if not math.isfinite(value):
        return f"{name}: value={value!r}: must be a finite number; look at the reading it comes from"
    if not (math.isfinite(u) and u >= 0):
        return f"{name}: u={u!r}: a standard uncertainty must be finite and >= 0; give its magnitude"
    if shape not in SHAPES:
        return f"{name}: shape={shape!r}: must be one of {', '.join(SHAPES)}"
    return f"{name}: dof={dof!r}: degrees of freedom must be > 0 (inf for a Type B input)"
