"""Long records of a rosette, reduced in blocks: memory stays the same however long the record is."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from rigproof.errors import NumberError
from rigproof_strain.rosette import Rosette

FloatArray = npt.NDArray[np.float64]

BLOCK = 1 << 14  # samples; the few rows a block needs stay in the processor's cache


def principal_samples(
    rosette: Rosette, readings: FloatArray, kts: Sequence[float] = (), out: FloatArray | None = None, block: int = BLOCK
) -> FloatArray:
    """Principal strains e1, e2 and the angle of e1 (rad) for every sample: array (3, n).

    `readings` are reported strains, shape (legs, n); they and `out`, shape (3, n), may be memory maps of files. `kts`
    and angles as in `Rosette`. Besides them a few rows of `block` numbers are held. nan in any leg gives nan. Raises
    NumberError for other shapes and a block below 1.
    """
    legs = len(rosette.angles_deg)
    if readings.ndim != 2 or readings.shape[0] != legs:
        raise NumberError(f"readings.shape={readings.shape}: {rosette.angles_deg} takes ({legs}, n), a row a leg")
    count = readings.shape[1]
    result = np.empty((3, count)) if out is None else out
    if result.shape != (3, count):
        raise NumberError(f"out.shape={result.shape}: must be (3, {count}) for e1, e2 and angle")
    if block < 1:
        raise NumberError(f"block={block}: must be 1 sample or more; leave it out for {BLOCK}")
    weights = np.array(rosette.weights(kts), dtype=np.float64)
    work = np.empty((4, min(block, count)))
    for start in range(0, count, block):
        part = readings[:, start : start + block]
        _reduce(weights, part, work[:, : part.shape[1]], result[:, start : start + block])
    return result


def _reduce(weights: FloatArray, readings: FloatArray, work: FloatArray, out: FloatArray) -> None:
    """One block; every intermediate lies in `work`, shape (4, m)."""
    state, radius = work[:3], work[3]
    np.matmul(weights, readings, out=state)
    centre, difference, shear = state
    np.arctan2(shear, difference, out=out[2])
    out[2] *= 0.5
    np.multiply(shear, shear, out=shear)
    np.multiply(difference, difference, out=difference)
    np.add(difference, shear, out=radius)
    np.sqrt(radius, out=radius)
    np.add(centre, radius, out=out[0])
    np.subtract(centre, radius, out=out[1])
