"""Numbers that no formula of this package can take: refused with value, rule and remedy, never computed with.

Floats or arrays; of an array the first bad number is named. NaN fails every rule here.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from rigproof.errors import NumberError
from rigproof.models import Numbers

LARGEST_KT = 0.1  # transverse over axial sensitivity; foil grids show a few per cent at most

Truth = bool | np.bool_ | npt.NDArray[np.bool_]


def positive(name: str, value: Numbers, remedy: str) -> None:
    """`value` must be finite and above 0."""
    _demand((value > 0) & (value < math.inf), name, value, "must be finite and above 0", remedy)


def not_negative(name: str, value: Numbers, remedy: str) -> None:
    """`value` must be finite and 0 or more."""
    _demand((value >= 0) & (value < math.inf), name, value, "must be finite and not below 0", remedy)


def finite(name: str, value: Numbers, remedy: str) -> None:
    """`value` must be a finite number."""
    _demand((value > -math.inf) & (value < math.inf), name, value, "must be a finite number", remedy)


def transverse(kt: Numbers) -> None:
    """Transverse sensitivity Kt must lie within ±0.1."""
    remedy = "give the packet's value as a ratio (0.4 % is 0.004)"
    _demand((kt >= -LARGEST_KT) & (kt <= LARGEST_KT), "kt", kt, f"must lie within ±{LARGEST_KT}", remedy)


def poisson(ratio: Numbers, name: str = "poisson") -> None:
    """Poisson's ratio must lie between 0 and 0.5, neither included: an isotropic elastic metal."""
    _demand((ratio > 0) & (ratio < 0.5), name, ratio, "must lie between 0 and 0.5", "give the material's, such as 0.29")


def _demand(good: Truth, name: str, value: Numbers, rule: str, remedy: str) -> None:
    if good is True or np.all(good):  # `is True` first: floats stand in the path of every budget
        return
    bad = np.broadcast_to(value, np.shape(good))[~np.asarray(good)].flat[0]
    raise NumberError(f"{name}={bad:g}: {rule}; {remedy}")
