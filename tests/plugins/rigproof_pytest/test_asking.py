"""When a reply is seen to name its input or message: a number that happens to be that of an input does not."""

from __future__ import annotations

import pytest

from rigproof_pytest.asking import _foreign, _names_input
from rigproof_pytest.peer import Exchange


@pytest.mark.parametrize(
    ("first", "second", "names"),
    [
        ((b"C1", b"CH1 +012.50"), (b"C2", b"CH2 -000.70"), True),
        ((b"T1?", b"T1=2946.5 dK"), (b"T2?", b"T2=2951.5 dK"), True),
        ((b"RD", b"1:+1.5"), (b"RD", b"2:-2.5"), True),  # chosen by a message before
        ((b"MEAS A?", b"A +1.5"), (b"MEAS B?", b"B -2.5"), True),
        ((b"F1?", b"+0012.34 kN"), (b"F2?", b"-0000.50 kN"), False),
        ((b"F1?", b"+0012.34 kN"), (b"F2?", b"+0022.34 kN"), False),  # a digit of a number
        ((b"F1?", b"1.20 kN"), (b"F2?", b"2.40 kN"), False),
        ((b"F1?", b"1 kN"), (b"F2?", b"2 kN"), False),  # the reading itself
        ((b"C1", b"CH1 +012.50"), (b"C2", b"2 -000.70 CH"), False),  # not at the same place
        ((b"READ? 1", b"#18\x00 1 9\xff"), (b"READ? 2", b"#18\x00 2 9\xff"), False),  # a block
    ],
)
def test_what_names_an_input(first: tuple[bytes, bytes], second: tuple[bytes, bytes], names: bool) -> None:
    assert _names_input(Exchange(*first), Exchange(*second), 1, 2) is names


@pytest.mark.parametrize(
    ("first", "second", "pairs"),
    [
        ((b"UNIT NM", b"UNIT SET"), (b"FILTER 2", b"FILTER SET"), [b"FILTER SET", b"UNIT SET"]),
        ((b"UNIT NM", b"UNIT SET"), (b"FILTER 2", b"OK"), [b"UNIT SET"]),  # nobody can tell a bare OK
        ((b"UNIT NM", b"UNIT NM OK"), (b"FILTER 2", b"OK"), [b"ID OK", b"UNIT NM OK"]),
        ((b"UNIT NM", b"OK"), (b"FILTER 2", b"DONE"), []),
    ],
)
def test_the_acknowledgement_of_another_setting(
    first: tuple[bytes, bytes], second: tuple[bytes, bytes], pairs: list[bytes]
) -> None:
    said = [Exchange(b"ID", b"own make,bench,7"), Exchange(*first), Exchange(*second)]
    assert [foreign.reply for _, foreign in _foreign(said, [first[0], second[0]])] == pairs
