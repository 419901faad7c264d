"""Every way a table can be wrong, each named with its place, the value, the rule and a remedy."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from rigproof.documents import describe
from rigproof.errors import DocumentError, Fault, InstrumentError
from rigproof_replay.replay import Replay

Find = Callable[..., list[Fault]]
Make = Callable[..., Replay]

CLOCK = {"column": "t", "form": "date and time"}
DAY = {"column": "t", "form": "time of day", "date": "2026-11-25", "zone": "+01:00"}
MORNING = "2026-11-25T08:00:0"

# Table, settings, place (line, column), what is said, what helps.
FAULTY: dict[str, tuple[str | bytes, dict[str, Any], tuple[int, int], str, str]] = {
    "decimal comma in quotes": (
        't,p\n0,1.5\n1,"2,5"\n', {}, (3, 3), "'2,5' has a decimal comma, and the file is read with a decimal point",
        "write `decimal: comma`",
    ),
    "decimal comma between commas": (
        "t,p\n0,1.5\n1,2,5\n", {}, (3, 3), "3 columns stand here, and the header has 2", "another delimiter",
    ),
    "decimal point in a comma file": (
        "t;p\n0,0;1,5\n1,0;2.5\n", {"decimal": "comma", "delimiter": "semicolon"}, (3, 5),
        "'2.5' has a decimal point, and the file is read with a decimal comma", "write `decimal: point`",
    ),
    "digits in groups": (
        't,p\n0,"1,234,567"\n', {}, (2, 3), "'1,234,567' has its digits in groups", "without separators of thousands",
    ),
    "a cell too many": ("t,p\n0,1,7\n", {}, (2, 3), "3 columns stand here", "take out what is too many"),
    "a row of units": ("t,p\n0,bar\n", {}, (2, 3), "'bar' is no number", "passed over by `first row: 3`"),
    "a date in elapsed time": (
        f"t,p\n{MORNING}0,1\n", {}, (2, 1), f"'{MORNING}0' is a date and time", "write `form: date and time`",
    ),
    "a word": ("t,p\n0,1\n1,broken\n", {}, (3, 3), "'broken' is no number", "goes into `missing:`"),
    "python's own numbers": ("t,p\n0,1_0\n", {}, (2, 3), "'1_0' is no number", "goes into `missing:`"),
    "infinity": ("t,p\n0,inf\n", {}, (2, 3), "'inf' is no number", "goes into `missing:`"),
    "no time": ("t,p\n0,1\n,2\n", {}, (3, 1), "nothing stands here, and a number is wanted", "complete the row"),
    "unsorted": ("t,p\n0,1\n2,1\n1,1\n", {}, (4, 1), "'1' is before '2', the row before", "sort the rows by time"),
    "doubled": ("t,p\n0,1\n1.0,1\n1,1\n", {}, (4, 1), "'1' is the time of the row before", "one row for each time"),
    "a gap": (
        "t,p\n0,1\n1,1\n12,1\n", {"longest_gap": "10 s"}, (4, 1),
        "11 s lie between '1' and '12', and the longest gap allowed is 10 s", "cut the record",
    ),
    "too few columns": ("t,p,q\n0,1,2\n1,1\n", {}, (3, 3), "2 columns stand here, and the header has 3", "complete"),
    "unknown column": ("t,P1,q\n0,1,2\n", {}, (1, 1), "the header names no column 'p'", "did you mean 'P1'?"),
    "column twice": ("t,p,p\n0,1,2\n", {}, (1, 3), "'p' stands there 2 times", "its own name"),
    "wrong delimiter": ("t;p\n0;1\n", {}, (1, 1), "the header names no column 't'", "is `delimiter` right?"),
    "open quote": ('t,p\n0,1\n1,"2\n2","3"\n', {}, (3, 1), "a quote that is not closed on its line", "close it"),
    "open quote to the end": ('t,p\n0,1\n1,"2\n2,3\n', {}, (3, 1), "is no row of a table", "quote that is not closed"),
    "text behind a quote": ('t,p\n0,1\n1,"2"3\n', {}, (3, 1), "is no row of a table", "a quote that is not closed"),
    "letters of another encoding": (
        "t,p,T °C\n0,1,2\n".encode("latin-1"), {}, (1, 1), "the byte 0xb0 is no letter in the encoding", "latin-1",
    ),
    "a line without end": (b"t,p\n0,1\n" + b"1" * 70000, {}, (3, 1), "more than 65,536 characters", "with lines?"),
    "no zone": (
        f"t,p\n{MORNING}0,1\n", {"time": CLOCK}, (2, 1), f"'{MORNING}0' names no zone", "state the zone of the record",
    ),
    "mixed zones": (
        f"t,p\n{MORNING}0+01:00,1\n{MORNING}1+02:00,1\n", {"time": CLOCK}, (3, 1), "in another zone", "in one zone",
    ),
    "aware after naive": (
        f"t,p\n{MORNING}0,1\n{MORNING}1Z,1\n", {"time": {**CLOCK, "zone": "Z"}}, (3, 1),
        "names a zone, unlike the rows before it", "write all rows alike",
    ),
    "naive after aware": (
        f"t,p\n{MORNING}0Z,1\n{MORNING}1,1\n", {"time": {**CLOCK, "zone": "Z"}}, (3, 1),
        "names no zone, unlike the rows before it", "write all rows alike",
    ),
    "no date and time": ("t,p\n25.11.2026 8:00,1\n", {"time": CLOCK}, (2, 1), "is no date and time", "ISO 8601"),
    "a date alone": ("t,p\n2026-11-25,1\n", {"time": CLOCK}, (2, 1), "is a date without a time", "ISO 8601"),
    "no time of day": ("t,p\n8 o'clock,1\n", {"time": DAY}, (2, 1), "is no time of day", "08:00:00"),
    "a zone twice": ("t,p\n08:00:00Z,1\n", {"time": DAY}, (2, 1), "names a zone, which `zone:` states", "take it out"),
    "an hour back": ("t,p\n02:59:59,1\n02:00:00,1\n", {"time": DAY}, (3, 1), "is before '02:59:59'", "sort the rows"),
}  # fmt: skip


@pytest.mark.parametrize("name", FAULTY)
def test_is_named_with_place_value_rule_and_remedy(faults: Find, name: str) -> None:
    text, changed, place, said, remedy = FAULTY[name]
    (fault,) = [fault for fault in faults(text, **changed) if fault.line == place[0]]
    assert Path(fault.file).name == "log.csv"
    assert (fault.line, max(1, fault.column)) == place
    assert said in fault.message
    assert remedy in fault.remedy
    assert said in describe([fault])


WHOLE: dict[str, tuple[bytes, dict[str, Any], str, str]] = {
    "empty": (b"", {}, "is empty", "Was the record copied whole?"),
    "binary": (b"\x7fELF\x02\x01\0\0\0", {}, "is a binary file", "export the record as CSV"),
    "UTF-16": ("t,p\n0,1\n".encode("utf-16"), {}, "begins as UTF-16 does", "write `encoding: utf-16`"),
    "no rows": (b"t,p\n", {}, "has a header and no readings", "copied whole?"),
    "no header": (b"t,p\n0,1\n", {"header_row": 9}, "has no row 9 for a header", "correct `header row`"),
    "begins later": (b"t,p\n100,1\n200,1\n", {"starts_at": "300 s"}, "lies outside the record", "its first row"),
}


@pytest.mark.parametrize("name", WHOLE)
def test_what_is_wrong_with_a_file_as_a_whole(faults: Find, name: str) -> None:
    text, changed, said, remedy = WHOLE[name]
    (fault,) = faults(text, **changed)
    assert (fault.line, fault.column) == (0, 0)
    assert said in fault.message
    assert remedy in fault.remedy


def test_no_file_and_a_folder(replay: Make, tmp_path: Path) -> None:
    driver = replay("t,p\n0,1\n")
    driver.path.unlink()
    with pytest.raises(DocumentError, match="cannot be read: no such file"):
        driver.read_record()
    driver.path.mkdir()
    with pytest.raises(DocumentError, match="is no ordinary file"):
        driver.read_record()


def test_a_file_too_large_is_not_read(replay: Make) -> None:
    driver = replay("t,p\n0,1\n")
    with driver.path.open("ab") as stream:
        stream.truncate((1 << 30) + 1)  # a hole: it takes no room
    with pytest.raises(DocumentError, match=r"has 1,073,741,825 bytes, and at most 1,073,741,824 are read"):
        driver.read_record()


def test_too_many_rows(replay: Make, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("rigproof_replay.table.MOST_ROWS", 3)
    with pytest.raises(DocumentError, match=r"log.csv:5:1: line: is behind 3 rows"):
        replay("t,p\n0,1\n1,1\n2,1\n3,1\n").read_record()


def test_all_faults_come_at_once_and_no_more_than_twenty(faults: Find) -> None:
    found = faults('t,p\n0,"1,5"\n5,x\n4,1\n6\n7,2\n')
    assert [(fault.line, fault.column) for fault in found] == [(2, 3), (3, 3), (4, 1), (5, 1)]
    many = faults("t,p\n" + "".join(f'{n},"1,5"\n' for n in range(1000)))
    assert [fault.line for fault in many[:20]] == list(range(2, 22))
    assert "more than 20 faults" in many[20].message
    assert len(many) == 21


def test_a_gap_before_the_run_is_no_fault(replay: Make) -> None:
    assert replay("t,p\n0,1\n100,1\n101,1\n", longest_gap="10 s", starts_at="100 s").read_record().began is None


def test_the_caret_stands_under_the_cell(faults: Find) -> None:
    text = describe(faults('t,"a, b",p\n0,"x, y", 1e\n'))
    line, carets = text.splitlines()[1:3]
    assert line[carets.index("^") : carets.rindex("^") + 1] == "1e"


def test_opening_a_faulty_record_loses_the_instrument(replay: Make) -> None:
    with pytest.raises(
        InstrumentError, match=r"^logger: .*log.csv:2:3: column 'p': 'x' is no number; `rigproof check`"
    ):
        replay("t,p\n0,x\n").open()


@given(st.binary(max_size=300))
@settings(max_examples=300, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_no_bytes_whatever_break_it(replay: Make, data: bytes) -> None:
    counts: list[int] = []
    for start in (b"", b"t,p\n", b"t,p\n0,1\n"):
        try:
            replay(start + data, decimal="comma").read_record()
        except DocumentError as error:
            counts.append(len(error.faults))
    assert all(0 < count <= 21 for count in counts)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"inputs": {"1": {"column": "p", "unit": "bat"}}}, "did you mean 'bar'?"),
        ({"inputs": {}}, "at least 1 item"),
        ({"time": {"column": "t", "form": "time of day"}}, "a time of day alone is no time"),
        ({"time": {**CLOCK, "zone": "CET"}}, "'CET' is no zone; write Z or the offset from UTC"),
        ({"time": {**CLOCK, "date": "2026-11-25"}}, "`date` says nothing beside the form 'date and time'"),
        ({"time": {**DAY, "date": "25.11.2026"}}, "'25.11.2026' is no date"),
        ({"time": {"column": "t", "form": "elapsed", "zone": "Z"}}, "elapsed time has no zone"),
        ({"starts_at": "08:00"}, "08:00"),
        ({"time": CLOCK, "starts_at": "120 s"}, "'120 s' is no date and time"),
        ({"header_row": 3, "first_row": 2}, "row 2 is not behind the header in row 3"),
        ({"longest_gap": "0 s"}, "out of bounds"),
        ({"delimiter": ";"}, "'comma', 'semicolon' or 'tab'"),
    ],
)
def test_settings_that_cannot_be(replay: Make, changed: dict[str, object], said: str) -> None:
    with pytest.raises(ValidationError) as caught:
        replay("t,p\n0,1\n", **changed)
    assert said in str(caught.value)
