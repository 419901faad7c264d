from __future__ import annotations

import tracemalloc
from pathlib import Path

import numpy as np
import pytest

from rigproof.errors import NumberError
from rigproof_strain.rosette import DELTA, PAIR, RECTANGULAR, Rosette
from rigproof_strain.samples import BLOCK, principal_samples


@pytest.mark.parametrize("rosette", [RECTANGULAR, DELTA, PAIR])
@pytest.mark.parametrize(("count", "block"), [(0, 7), (3, 1), (1, 7), (7, 7), (8, 7), (100, 7), (5, BLOCK)])
def test_blocks_give_what_the_whole_gives(rosette: Rosette, count: int, block: int) -> None:
    legs = len(rosette.angles_deg)
    readings = np.random.default_rng(4).normal(0, 1e-3, (legs, count))
    kts = (0.01, 0.02, -0.01)[:legs]
    state = rosette.state(list(readings), kts)
    expected = np.array([*state.principal(), state.angle()])
    found = principal_samples(rosette, readings, kts, block=block)
    assert found.shape == (3, count)
    assert found == pytest.approx(expected, rel=1e-10, abs=1e-15)


def test_memory_does_not_grow_with_the_record(tmp_path: Path) -> None:
    """From file to file: what is held is some blocks, for a record of 48 MB as for one of 5 MB."""
    peaks = []
    for count in (200_000, 2_000_000):
        readings = np.memmap(tmp_path / f"in{count}", np.float64, "w+", shape=(3, count))
        out = np.memmap(tmp_path / f"out{count}", np.float64, "w+", shape=(3, count))
        readings[:] = 1e-4
        tracemalloc.start()
        assert principal_samples(RECTANGULAR, readings, out=out) is out
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
        assert out[:2, -1] == pytest.approx([1e-4, 1e-4], abs=1e-15)
    assert max(peaks) < 20 * BLOCK * 8
    assert peaks[1] < 1.5 * peaks[0]


def test_a_missing_sample_stays_missing_and_alone() -> None:
    readings = np.full((3, 9), 2e-4)
    readings[1, 4] = np.nan
    found = principal_samples(RECTANGULAR, readings, block=3)
    assert np.isnan(found[:, 4]).all()
    assert np.isfinite(np.delete(found, 4, axis=1)).all()


def test_readings_are_left_as_they_are() -> None:
    readings = np.random.default_rng(4).normal(0, 1e-3, (3, 10))
    before = readings.copy()
    principal_samples(DELTA, readings)
    assert (readings == before).all()


@pytest.mark.parametrize(
    ("shape", "out", "block", "message"),
    [
        ((2, 5), None, 4, r"readings.shape=\(2, 5\): \(0.0, 45.0, 90.0\) takes \(3, n\), a row a leg"),
        ((3,), None, 4, r"readings.shape=\(3,\)"),
        ((3, 5), (3, 4), 4, r"out.shape=\(3, 4\): must be \(3, 5\) for e1, e2 and angle"),
        ((3, 5), None, 0, "block=0: must be 1 sample or more; leave it out"),
    ],
)
def test_shapes_that_do_not_fit_are_refused(
    shape: tuple[int, ...], out: tuple[int, ...] | None, block: int, message: str
) -> None:
    with pytest.raises(NumberError, match=message):
        principal_samples(RECTANGULAR, np.zeros(shape), out=None if out is None else np.zeros(out), block=block)
