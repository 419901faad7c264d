"""The exchange of messages (IEEE 488.2-1992, 6), with an instrument that is cheap to understand."""

from __future__ import annotations

from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof_twin.clock import VirtualClock
from rigproof_twin.faults import FaultyWire
from rigproof_twin.status import Status
from rigproof_twin.wire import INPUT_LIMIT, OUTPUT_LIMIT, Ending, Exchange

LF = 10


class Echo:
    """Answers `echo TEXT` with TEXT after 1 s of work; takes anything else in silence."""

    def __init__(self) -> None:
        self.clock = VirtualClock()
        self.status = Status()
        self.alive = True
        self.terminator = b"\n"
        self.wire: FaultyWire | None = None
        self.busy_until_s = 0.0
        self.heard: list[bytes] = []

    def execute(self, message: bytes, message_available: bool) -> tuple[bytes, float]:
        self.heard.append(message)
        if not message.startswith(b"echo "):
            return b"", self.busy_until_s
        self.busy_until_s = max(self.clock.now(), self.busy_until_s) + 1.0
        return message[5:], self.busy_until_s


@pytest.fixture
def echo() -> Echo:
    echo = Echo()
    echo.status.clear()
    return echo


def errors(echo: Echo) -> list[int]:
    entries = []
    while (entry := int(echo.status.next_error().split(",")[0])) != 0:
        entries.append(entry)
    return entries


def test_a_reply_comes_after_its_latency(echo: Echo) -> None:
    exchange = Exchange(echo, bus=True)
    exchange.write(b"echo hello")
    assert echo.clock.now() == 0.0
    assert exchange.read(100, None, 5.0) == (b"hello\n", Ending.END)
    assert echo.clock.now() == 1.0


def test_a_read_in_vain_takes_the_timeout_and_says_why(echo: Echo) -> None:
    exchange = Exchange(echo, bus=True)
    exchange.write(b"echo hello")
    assert exchange.read(100, None, 0.25) == (b"", Ending.TIMEOUT)
    assert echo.clock.now() == 0.25
    assert exchange.silence == "the reply is 1 s away, the timeout is 0.25 s"
    assert exchange.read(100, None, 0.75) == (b"hello\n", Ending.END)  # it was late, not lost
    assert errors(echo) == []


def test_a_read_without_patience_takes_what_is_there(echo: Echo) -> None:
    exchange = Exchange(echo, bus=True)
    exchange.write(b"echo hello")
    assert exchange.read(100, None, 0.0)[1] is Ending.TIMEOUT
    echo.clock.wait(1.0)
    assert exchange.read(100, None, 0.0) == (b"hello\n", Ending.END)


def test_a_read_without_timeout_that_nothing_can_end_comes_back_at_once(echo: Echo) -> None:
    exchange = Exchange(echo, bus=True)
    exchange.write(b"echo hello")
    assert exchange.read(100, None, inf) == (b"hello\n", Ending.END)
    assert exchange.read(100, None, inf) == (b"", Ending.TIMEOUT)
    assert echo.clock.now() == 1.0


def test_end_comes_before_stop_comes_before_count(echo: Echo) -> None:
    exchange = Exchange(echo, bus=True)
    exchange.write(b"echo abc")
    assert exchange.read(4, LF, 5.0) == (b"abc\n", Ending.END)
    exchange.write(b"echo abc")
    assert exchange.read(2, ord("b"), 5.0) == (b"ab", Ending.STOP)
    assert exchange.read(1, None, 5.0) == (b"c", Ending.COUNT)
    assert exchange.read(9, None, 5.0) == (b"\n", Ending.END)


def test_a_bus_message_ends_with_lf_or_end_and_not_before(echo: Echo) -> None:
    exchange = Exchange(echo, bus=True)
    exchange.write(b"one\ntw", end=False)
    exchange.write(b"o", end=False)
    assert echo.heard == [b"one"]
    exchange.write(b"!\n")
    assert echo.heard == [b"one", b"two!"]
    exchange.write(b"three")
    assert echo.heard == [b"one", b"two!", b"three"]


def test_a_stream_message_ends_with_lf_only(echo: Echo) -> None:
    exchange = Exchange(echo, bus=False)
    exchange.write(b"echo a")
    assert exchange.read(100, LF, 2.0) == (b"", Ending.TIMEOUT)
    assert exchange.silence == "nothing was asked; 6 bytes wait for LF"
    exchange.write(b"\n")
    assert exchange.read(100, LF, 2.0) == (b"a\n", Ending.STOP)


def test_silence_tells_what_was_asked(echo: Echo) -> None:
    """A message that has no reply, and none after one that had."""
    exchange = Exchange(echo, bus=False)
    exchange.write(b"set\n")
    assert exchange.read(100, LF, 2.0) == (b"", Ending.TIMEOUT)
    assert exchange.silence == "no reply came to b'set'"
    exchange.write(b"echo a\n")
    assert exchange.read(100, LF, 2.0) == (b"a\n", Ending.STOP)
    assert exchange.read(100, LF, 2.0) == (b"", Ending.TIMEOUT)
    assert exchange.silence == "nothing was asked"


def test_interrupted_a_new_message_drops_the_unread_reply_on_a_bus(echo: Echo) -> None:
    exchange = Exchange(echo, bus=True)
    exchange.write(b"echo old")
    exchange.write(b"echo new")
    assert errors(echo) == [-410]
    assert exchange.read(100, None, 5.0) == (b"new\n", Ending.END)
    assert echo.clock.now() == 1.0  # the old work was broken off, too
    exchange.write(b"echo long")
    exchange.read(2, None, 5.0)
    exchange.write(b"echo x")
    assert errors(echo) == [-410]  # half a reply read is not a reply read


def test_unterminated_reading_what_was_not_asked_for_on_a_bus(echo: Echo) -> None:
    exchange = Exchange(echo, bus=True)
    assert exchange.read(100, None, 2.0) == (b"", Ending.TIMEOUT)
    assert exchange.silence == "nothing was asked"
    assert errors(echo) == [-420]


def test_deadlocked_replies_that_nobody_reads_are_dropped(echo: Echo) -> None:
    exchange = Exchange(echo, bus=False)
    part = b"echo " + b"x" * 60_000 + b"\n"
    for _ in range(OUTPUT_LIMIT // 60_000):
        exchange.write(part)
    assert errors(echo) == []
    exchange.write(part)
    assert errors(echo) == [-430]
    assert exchange.next_ready() is None


def test_a_message_without_end_is_dropped_up_to_its_end(echo: Echo) -> None:
    exchange = Exchange(echo, bus=False)
    for _ in range(3):
        exchange.write(b"x" * (INPUT_LIMIT + 1))
    exchange.write(b"tail\necho ok\n")
    assert errors(echo) == [-363]
    exchange.write(b"x" * (INPUT_LIMIT + 1) + b"\necho at once\n")
    assert errors(echo) == [-363]
    exchange.write(b"x" * INPUT_LIMIT + b"\n")
    assert errors(echo) == []
    assert echo.heard == [b"echo ok", b"echo at once", b"x" * INPUT_LIMIT]


def test_replies_queue_up_on_a_stream(echo: Echo) -> None:
    exchange = Exchange(echo, bus=False)
    exchange.write(b"echo one\necho two\n")
    assert exchange.read(100, LF, 5.0) == (b"one\n", Ending.STOP)
    assert echo.clock.now() == 1.0
    assert exchange.read(100, LF, 5.0) == (b"two\n", Ending.STOP)
    assert echo.clock.now() == 2.0
    assert errors(echo) == []


def test_a_stream_has_no_end_so_a_read_without_stop_times_out_and_loses_what_came(echo: Echo) -> None:
    exchange = Exchange(echo, bus=False)
    exchange.write(b"echo one\necho two\n")
    assert exchange.read(100, None, 5.0) == (b"one\ntwo\n", Ending.TIMEOUT)
    assert echo.clock.now() == 5.0
    assert exchange.silence == "8 bytes came, but neither their number nor a stop byte ended the read"
    assert exchange.read(100, LF, 1.0) == (b"", Ending.TIMEOUT)


def test_a_read_by_count_crosses_replies_of_a_stream(echo: Echo) -> None:
    exchange = Exchange(echo, bus=False)
    exchange.write(b"echo one\necho two\n")
    assert exchange.read(6, None, 5.0) == (b"one\ntw", Ending.COUNT)
    assert exchange.read(2, None, 5.0) == (b"o\n", Ending.COUNT)


def test_each_connection_of_a_stream_hears_its_own_replies(echo: Echo) -> None:
    one, two = Exchange(echo, bus=False), Exchange(echo, bus=False)
    one.write(b"echo one\n")
    two.write(b"echo two\n")
    assert two.read(100, LF, 5.0) == (b"two\n", Ending.STOP)
    assert echo.clock.now() == 2.0  # the instrument does one thing after the other
    assert one.read(100, LF, 5.0) == (b"one\n", Ending.STOP)


def test_take_ready_gives_only_what_time_has_brought(echo: Echo) -> None:
    exchange = Exchange(echo, bus=False)
    exchange.write(b"echo one\necho two\n")
    assert exchange.take_ready() == b""
    assert exchange.next_ready() == 1.0
    echo.clock.wait(1.5)
    assert exchange.take_ready() == b"one\n"
    assert exchange.next_ready() == 2.0


def test_a_device_clear_forgets_messages_but_not_errors(echo: Echo) -> None:
    exchange = Exchange(echo, bus=True)
    echo.status.report(-113)
    exchange.write(b"echo gone")
    exchange.write(b"half a mess", end=False)
    exchange.clear()
    exchange.write(b"echo new")
    assert exchange.read(100, None, 5.0) == (b"new\n", Ending.END)
    assert echo.clock.now() == 1.0
    assert errors(echo) == [-113, -410]


def test_a_serial_poll_sees_a_reply_once_it_is_ready(echo: Echo) -> None:
    exchange = Exchange(echo, bus=True)
    exchange.write(b"echo hello")
    assert exchange.status_byte() == 0
    echo.clock.wait(1.0)
    assert exchange.status_byte() == 16
    exchange.read(100, None, 0.0)
    assert exchange.status_byte() == 0


def test_a_dead_instrument_swallows_everything(echo: Echo) -> None:
    exchange = Exchange(echo, bus=True)
    exchange.write(b"echo hello")
    echo.alive = False
    exchange.write(b"echo there")
    assert exchange.read(100, None, 3.0) == (b"", Ending.TIMEOUT)
    assert exchange.silence == "the instrument is dead"
    assert exchange.next_ready() is None
    assert echo.heard == [b"echo hello"]
    assert echo.clock.now() == 3.0
    echo.clock.wait(1.0)
    assert exchange.take_ready() == b""


def test_an_instrument_that_dies_over_its_work_answers_no_more(echo: Echo) -> None:
    class DeadlyClock(VirtualClock):
        def wait(self, seconds: float) -> None:
            super().wait(seconds)
            echo.alive = False

    echo.clock = DeadlyClock()
    exchange = Exchange(echo, bus=True)
    exchange.write(b"echo hello")
    assert exchange.read(100, None, 3.0) == (b"", Ending.TIMEOUT)
    assert echo.clock.now() == 3.0


@given(st.lists(st.binary(max_size=20), max_size=12), st.booleans())
def test_however_bytes_are_cut_the_messages_are_the_same(pieces: list[bytes], bus: bool) -> None:
    cut, whole = Echo(), Echo()
    at_once, in_pieces = Exchange(whole, bus), Exchange(cut, bus)
    at_once.write(b"".join(pieces), end=False)
    for piece in pieces:
        in_pieces.write(piece, end=False)
    assert cut.heard == whole.heard


@given(st.lists(st.integers(1, 7), min_size=1), st.sampled_from([None, LF, ord("a")]))
def test_however_a_stream_is_read_no_byte_is_lost_or_doubled(counts: list[int], stop: int | None) -> None:
    echo = Echo()
    exchange = Exchange(echo, bus=False)
    exchange.write(b"echo banana\necho \x00\xff\necho a\n")
    expected, got = b"banana\n\x00\xff\na\n", b""
    for count in counts:
        data, ending = exchange.read(count, stop, 100.0)
        got += data
        assert ending is not Ending.COUNT or len(data) == count
        assert ending is not Ending.STOP or data[-1] == stop
    assert got == expected[: len(got)]
