"""Random tables, written by Python's csv module and read back at random times; numpy is the second route."""

from __future__ import annotations

import csv
import hashlib
import io
import subprocess
import sys
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from rigproof.errors import InstrumentError
from rigproof.replaying import REPLAYED_FIRMWARE
from rigproof_replay.replay import Replay

Make = Callable[..., Replay]

TIMES = st.lists(st.integers(0, 3_600_000), min_size=2, max_size=40, unique=True).map(sorted)
READINGS = st.floats(-1e3, 1e3, allow_nan=False) | st.just(float("nan"))
LETTERS = {"comma": ",", "semicolon": ";", "tab": "\t"}


@st.composite
def tables(draw: st.DrawFn) -> tuple[list[float], list[list[float]]]:
    times = [ms / 1000 for ms in draw(TIMES)]
    rows = draw(st.lists(st.lists(READINGS, min_size=2, max_size=2), min_size=len(times), max_size=len(times)))
    return times, rows


def written(times: list[float], rows: list[list[float]], delimiter: str, decimal: str) -> str:
    """As a data logger writes it; a decimal comma in a comma-separated file stands in quotes."""
    stream = io.StringIO()
    writer = csv.writer(stream, delimiter=LETTERS[delimiter])
    writer.writerow(["t", "p", "q"])
    for time, row in zip(times, rows, strict=True):
        cells = [repr(number) for number in (time, *row)]
        writer.writerow([cell.replace(".", ",") if decimal == "comma" else cell for cell in cells])
    return stream.getvalue()


@given(
    tables(),
    st.sampled_from(sorted(LETTERS)),
    st.sampled_from(["point", "comma"]),
    st.sampled_from(["no", "linear"]),
    st.lists(st.floats(0, 1), min_size=1, max_size=20),
)
@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_reads_what_numpy_reads(
    replay: Make,
    table: tuple[list[float], list[list[float]]],
    delimiter: str,
    decimal: str,
    interpolate: str,
    shares: list[float],
) -> None:
    times, rows = table
    columns = {"1": {"column": "q", "unit": "kPa"}, "2": {"column": "p", "unit": "bar"}}
    text = written(times, rows, delimiter, decimal)
    driver = replay(
        text, delimiter=delimiter, decimal=decimal, interpolate=interpolate, inputs=columns, longest_gap="2 h"
    )
    driver.open()
    values = np.array(rows)
    for share in sorted(shares):
        at = (times[-1] - times[0]) * share
        assume(all(abs(at - (time - times[0])) > 2e-6 for time in times))  # a row a microsecond ahead is one of now
        driver.connection.clock.wait(at - driver.connection.clock.now())
        found = driver.read([2, 1], 1, 0.0)
        assert found.shape == (1, 2)
        now = driver.connection.clock.now() + times[0]
        earlier = values[max(i for i, time in enumerate(times) if time <= now)]
        linear = np.array([np.interp(now, times, values[:, i]) for i in (0, 1)])
        wanted = linear if interpolate == "linear" else earlier
        np.testing.assert_allclose(found[0], wanted * [1e5, 1e3], rtol=1e-9, atol=1e-6)


@given(tables())
@settings(max_examples=50, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_row_holds_from_its_own_time_on(replay: Make, table: tuple[list[float], list[list[float]]]) -> None:
    times, rows = table
    driver = replay(written(times, rows, "comma", "point"), longest_gap="2 h")
    driver.open()
    for (before, now), row in zip(pairwise([times[0], *times]), rows, strict=True):
        driver.connection.clock.wait(now - before)
        np.testing.assert_array_equal(driver.read([1], 1, 0.0)[0, 0], row[0] * 1e5)


def test_a_block_takes_its_time_and_goes_along_the_record(replay: Make) -> None:
    driver = replay("t,p\n0,0\n1,1\n2,2\n3,3\n4,4\n", interpolate="linear", starts_at="1 s")
    driver.open()
    found = driver.read([1], 5, 0.5)
    np.testing.assert_allclose(found[:, 0] / 1e5, [1, 1.5, 2, 2.5, 3])
    assert driver.connection.clock.now() == pytest.approx(2.5)


@pytest.mark.parametrize(
    ("start", "waits", "said"),
    [
        (None, 4.5, "log.csv ends 4 s after the run's zero, and a reading was asked at 4.5 s; replay a procedure"),
        ("-", 0.0, "log.csv begins 2 s after the run does, and a reading was asked at 0 s; correct `starts at:`"),
    ],
)
def test_outside_the_record_there_is_no_reading(replay: Make, start: str | None, waits: float, said: str) -> None:
    text = "t,p\n0,0\n4,4\n" if start is None else "t,p\n2,0\n4,4\n"
    driver = replay(text, **({} if start is None else {"starts_at": "0 s"}))
    driver.open()
    driver.connection.clock.wait(waits)
    with pytest.raises(InstrumentError, match=r"^logger: ") as caught:
        driver.read([1], 1, 0.0)
    assert said in str(caught.value)


def test_opening_it_again_does_not_begin_the_record_again(replay: Make) -> None:
    """As `safe_end` does where a source does not answer: its load must not be that of the start."""
    driver = replay("t,p\n0,0\n10,30\n20,30\n")
    driver.open()
    driver.connection.clock.wait(15.0)
    driver.close()
    driver.open()
    assert driver.read([1], 1, 0.0)[0, 0] == 30e5


def test_it_says_that_it_is_a_record(replay: Make) -> None:
    """FIPS 180-4 by Python's hashlib, over the bytes of the file."""
    text = "t,p\n0,0\n1,1\n"
    identity = replay(text).open()
    assert identity.firmware == REPLAYED_FIRMWARE
    assert (identity.model, identity.serial_number) == ("log.csv", hashlib.sha256(text.encode()).hexdigest())


@pytest.mark.parametrize("missing", ["", " ", "NaN", "nan", "OVL", "ovl", "9.9E+37", "9.91E37", "-9.9E37"])
def test_a_missing_reading_is_not_a_number(replay: Make, missing: str) -> None:
    driver = replay(f"t,p\n0,{missing}\n1,1\n")
    driver.open()
    assert np.isnan(driver.read([1], 1, 0.0)[0, 0])


@pytest.mark.parametrize(
    ("written_text", "settings_of"),
    [
        ("\ufefft,p\r\n0,2\r\n1,2\r\n".encode(), {}),
        ("t,p\n0,2\n1,2".encode("utf-16"), {"encoding": "utf-16"}),
        ("T in °C,t,p\n20,0,2\n20,1,2\n".encode("latin-1"), {"encoding": "latin-1"}),
        (b"made by a logger\nt,p\ns,bar\n0,2\n\n1,2\n\n", {"header_row": 2, "first_row": 4}),
        (b"t,p,\n0,2,\n1,2,\n", {}),
        (b"t,p\n0,2,\n1,2,\n", {}),
        (b'"t", "p"\n"0","2"\n 1 , +2.0E0 \n', {}),
    ],
    ids=["byte order mark", "UTF-16", "Latin-1", "preamble and units", "last comma", "last comma of rows", "quotes"],
)
def test_tables_as_they_come(replay: Make, written_text: bytes, settings_of: dict[str, object]) -> None:
    driver = replay(written_text, **settings_of)
    driver.open()
    assert driver.read([1], 2, 1.0)[:, 0].tolist() == [2e5, 2e5]


def test_temperatures_have_an_offset(replay: Make) -> None:
    """0 °C is 273.15 K (SI Brochure, 9th edition, 2.3.1)."""
    driver = replay("t,T\n0,273.15\n1,0\n", {1: "temperature"}, inputs={"1": {"column": "T", "unit": "K"}})
    driver.open()
    assert driver.read([1], 1, 0.0)[0, 0] == pytest.approx(0.0, abs=1e-12)


READ_IN_A_PROCESS_OF_ITS_OWN = """
import resource, sys
from pathlib import Path
from rigproof_replay.settings import ReplaySettings
from rigproof_replay.table import read_table

layout = ReplaySettings.model_validate({
    "time": {"column": "t", "form": "elapsed"},
    "inputs": {"1": {"column": "p", "unit": "bar"}},
    "longest gap": "1 s",
})
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
table = read_table(Path(sys.argv[1]), layout, ["p"])
after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
print(len(table.times), *table.columns["p"][[0, 999, -1]], (after - before) * 1024)
"""


def test_a_million_rows_take_no_more_memory_than_their_numbers(tmp_path: Path) -> None:
    """8 bytes a number for time and column, what growing arrays add, and a little for the file's own buffers.

    The kernel's own measure (getrusage(2), ru_maxrss); the rows as text alone would be 40 MB.
    """
    rows, path = 1_000_000, tmp_path / "long.csv"
    with path.open("w") as stream:
        stream.write("t,p,note\n")
        stream.writelines(f"{n / 10},{n % 1000},a text that nobody keeps\n" for n in range(rows))
    command = [sys.executable, "-c", READ_IN_A_PROCESS_OF_ITS_OWN, str(path)]
    said = subprocess.run(command, capture_output=True, text=True, check=True).stdout.split()
    assert said[:4] == [str(rows), "0.0", "999.0", "999.0"]
    assert float(said[4]) < 4 * 8 * rows
