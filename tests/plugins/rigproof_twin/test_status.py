"""Error queue, event registers and status byte: IEEE 488.2-1992, 11 and SCPI-1999, volume 2, 21.8 (from memory)."""

from __future__ import annotations

import pytest

from rigproof_twin.status import ERRORS, QUEUE_LENGTH, Status


def test_a_new_instrument_has_power_on_set_and_no_error() -> None:
    status = Status()
    assert status.take_events() == 128
    assert status.take_events() == 0
    assert status.next_error() == '0,"No error"'


def test_errors_come_out_oldest_first_with_their_detail() -> None:
    status = Status()
    status.report(-113, "FOO:BAR?")
    status.report(-222)
    assert status.next_error() == '-113,"Undefined header;FOO:BAR?"'
    assert status.next_error() == '-222,"Data out of range"'
    assert status.next_error() == '0,"No error"'


@pytest.mark.parametrize("number", sorted(ERRORS.keys() - {0}))
def test_each_class_of_error_sets_its_event_bit(number: int) -> None:
    status = Status()
    status.clear()
    status.report(number)
    assert status.take_events() == {1: 32, 2: 16, 3: 8, 4: 4}[abs(number) // 100]


def test_a_full_queue_keeps_the_oldest_and_ends_in_overflow() -> None:
    status = Status()
    for _ in range(QUEUE_LENGTH + 5):
        status.report(-113)
    entries = [status.next_error() for _ in range(QUEUE_LENGTH + 1)]
    assert entries[0] == '-113,"Undefined header"'
    assert entries[-2:] == ['-350,"Queue overflow"', '0,"No error"']
    assert status.take_events() == 128 | 32 | 8


def test_detail_never_breaks_the_quotes_nor_the_line() -> None:
    status = Status()
    status.report(-102, 'a"b\n\x00é' + "x" * 300)
    entry = status.next_error()
    assert entry.startswith('-102,"Syntax error;a.b...xxx')
    assert entry.count('"') == 2
    assert len(entry) == len('-102,""') + 255


def test_the_status_byte_sums_up_what_is_enabled() -> None:
    status = Status()
    assert status.byte(message_available=False) == 0
    assert status.byte(message_available=True) == 16
    status.report(-113)
    assert status.byte(message_available=False) == 4
    status.event_enable = 32
    assert status.byte(message_available=False) == 4 | 32
    status.service_enable = 32
    assert status.byte(message_available=False) == 4 | 32 | 64
    status.take_events()
    assert status.byte(message_available=False) == 4


def test_clearing_keeps_the_masks() -> None:
    status = Status()
    status.event_enable, status.service_enable = 60, 32
    status.report(-410)
    status.clear()
    assert status.next_error() == '0,"No error"'
    assert status.take_events() == 0
    assert (status.event_enable, status.service_enable) == (60, 32)
