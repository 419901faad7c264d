"""The uncertain inputs of a budget, Type A and Type B (JCGM 100, 4.2 and 4.3)."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from typing import Literal, Self, get_args

import numpy.typing as npt

from rigproof.errors import NumberError
from rigproof.uncertainty.statistics import mean_and_u

Shape = Literal["exact", "normal", "rectangular", "triangular", "arcsine", "t"]
SHAPES: tuple[Shape, ...] = get_args(Shape)
Limits = Literal["rectangular", "triangular", "arcsine"]

# Half width divided by standard uncertainty: JCGM 100, 4.3.7 and 4.3.9 b, JCGM 101, 6.4.6.
_DIVISOR: dict[str, float] = {"rectangular": math.sqrt(3), "triangular": math.sqrt(6), "arcsine": math.sqrt(2)}


@dataclass(frozen=True, slots=True, init=False)
class Input:
    """One input quantity of a measurement model; `value` and `u` in the same unit.

    `u` is the standard uncertainty; for shape "t" it is the scale s/√n with `dof` = n-1 (JCGM 100, 4.2.3), not the
    larger standard deviation of that t distribution (JCGM 101, 6.4.9). `dof` may be real-valued. An input with
    u = 0 is exact whatever its shape. Raises NumberError for numbers outside these rules.
    """

    name: str
    value: float
    u: float
    dof: float
    shape: Shape
    unit: str

    def __init__(
        self, name: str, value: float, u: float, dof: float = math.inf, shape: Shape = "normal", unit: str = ""
    ) -> None:
        # Every check of every run makes inputs of its own. The __init__ that a frozen dataclass gets looks each field
        # up by name, which took a third of the time of a whole budget; setting the slots directly halves that.
        _set_name(self, name)
        _set_value(self, value)
        _set_u(self, u)
        _set_dof(self, dof)
        _set_shape(self, shape)
        _set_unit(self, unit)
        if not (-math.inf < value < math.inf and 0 <= u < math.inf and dof > 0 and shape in SHAPES):
            raise NumberError(self._fault())
        if shape == "exact" and u != 0:
            raise NumberError(f"{name}: u={u!r} with shape 'exact': give u = 0 or another shape")

    def _fault(self) -> str:
        if not math.isfinite(self.value):
            return f"{self.name}: value={self.value!r}: must be a finite number; look at the reading it comes from"
        if not (math.isfinite(self.u) and self.u >= 0):
            return f"{self.name}: u={self.u!r}: a standard uncertainty must be finite and >= 0; give its magnitude"
        if self.shape not in SHAPES:
            return f"{self.name}: shape={self.shape!r}: must be one of {', '.join(SHAPES)}"
        return f"{self.name}: dof={self.dof!r}: degrees of freedom must be > 0 (inf for a Type B input)"

    def named(self, name: str) -> Input:
        """The same input under another name."""
        return Input(name, self.value, self.u, self.dof, self.shape, self.unit)

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


_set_name, _set_value, _set_u, _set_dof, _set_shape, _set_unit = (
    getattr(Input, field.name).__set__ for field in fields(Input)
)
