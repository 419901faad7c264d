"""Statistics of repeated readings (JCGM 100, 4.2), by methods that keep their digits.

Sums are correctly rounded (math.fsum): unlike those of a linear-algebra library they are the same on every processor,
and a record judged again on another machine gives the same bytes.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from rigproof.errors import NumberError

FloatArray = npt.NDArray[np.float64]

_LARGEST = 1e150  # its square is still a number


def finite_row(samples: npt.ArrayLike, at_least: int, what: str = "samples") -> FloatArray:
    """`samples` as a float array of shape (n,); NumberError when n < at_least or one is no usable number."""
    array = np.asarray(samples, dtype=np.float64)
    if array.ndim != 1:
        raise NumberError(f"{what}: shape={array.shape}: must be one row of numbers; pick one channel")
    if array.size < at_least:
        raise NumberError(f"{what}: n={array.size}: at least {at_least} are needed; take more readings")
    usable = np.abs(array) <= _LARGEST
    if not usable.all():
        at = int(np.argmin(usable))
        raise NumberError(
            f"{what}: [{at}]={float(array[at])!r}: must be finite (and within ±{_LARGEST}); leave out missing readings"
        )
    return array


def total(array: FloatArray) -> float:
    """The correctly rounded sum of `array`, shape (n,)."""
    return math.fsum(array.tolist())


def mean_and_deviations(array: FloatArray) -> tuple[float, FloatArray]:
    """Mean and deviations from it."""
    mean = total(array) / array.size
    return mean, array - mean


def mean_and_sd(samples: npt.ArrayLike) -> tuple[float, float]:
    """Mean and experimental standard deviation (n-1) of n >= 2 readings (JCGM 100, 4.2.1 and 4.2.2), two passes."""
    array = finite_row(samples, 2)
    mean, deviations = mean_and_deviations(array)
    return mean, math.sqrt(total(deviations**2) / (array.size - 1))


def autocorrelation(samples: npt.ArrayLike, lag: int = 1) -> float:
    """Autocorrelation coefficient at `lag` (NIST StRD: one overall mean, the denominator over all n); 0 if constant."""
    array = finite_row(samples, 2)
    if not 0 <= lag < array.size:
        raise NumberError(f"lag={lag}: must lie in 0..{array.size - 1}, one less than the number of samples")
    _, deviations = mean_and_deviations(array)
    squares = total(deviations**2)
    return total(deviations[lag:] * deviations[: array.size - lag]) / squares if squares > 0 else 0.0


def mean_and_u(samples: npt.ArrayLike, *, autocorrelated: bool = False) -> tuple[float, float, float]:
    """Mean of n >= 2 readings, its standard uncertainty and degrees of freedom (JCGM 100, 4.2.3: s/√n and n-1).

    That holds for independent readings (JCGM 100, 4.2.7). With `autocorrelated` the n readings count as
    n/`correlation_time` independent ones, two at least; u and the degrees of freedom follow from that number.
    """
    array = finite_row(samples, 2)
    mean, deviations = mean_and_deviations(array)
    squares = total(deviations**2)
    independent = float(array.size)
    if autocorrelated and squares > 0:
        independent = max(2.0, independent / _correlation_time(deviations))
    # E[squares] = σ²(n - n/independent) and u² = σ²/independent; independent = n gives s²/n
    dof = independent - 1.0
    return mean, math.sqrt(squares / array.size / dof), dof


def correlation_time(samples: npt.ArrayLike) -> float:
    """Number of successive readings, n >= 2, that tell as much about the mean as one independent reading; 1 at least.

    The larger of two estimates: 1 + 2 Σ (1 - k/n) r_k up to the first r_k <= 0 (N. F. Zhang, Metrologia 43, 2006,
    S276-S281; from memory), which sees slow wander under white noise, and (1 + r_1)/(1 - r_1) of a first-order
    autoregressive process, which is the better one for few readings. Both tend to be low when n is below some
    thirty correlation times.
    """
    _, deviations = mean_and_deviations(finite_row(samples, 2))
    return _correlation_time(deviations) if deviations.any() else 1.0


def _correlation_time(deviations: FloatArray) -> float:
    n = deviations.size
    spectrum = np.fft.rfft(deviations, 2 * n)  # padded, so that the ends do not meet
    r = np.fft.irfft(spectrum * spectrum.conj(), 2 * n)[:n]
    r /= r[0]
    negative = r <= 0  # some are: the r_k from k = 1 on add up to -1/2
    lags = np.arange(1, int(np.argmax(negative)) if negative.any() else n)
    summed = 1.0 + 2.0 * float(((1.0 - lags / n) * r[lags]).sum())
    return max(1.0, summed, float((1.0 + r[1]) / (1.0 - r[1])))
