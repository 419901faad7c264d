"""Questions at a terminal, on a pseudo-terminal: what counts as an answer, and what ends the wait for one."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from rigproof.commands.terminal import Terminal
from rigproof.errors import InstrumentError, Stopped, UsageError
from rigproof.people import LONGEST_NAME, Question, checked_name

Make = Callable[..., tuple[Terminal, object]]
ASKED = Question("indicator", "value", "1", "strain indicator, channel 1, in µε:")


def nothing() -> None:
    """The run goes on."""


def test_the_answer_is_the_line_that_was_typed(terminal: Make) -> None:
    made, screen = terminal("-12 µε\n")
    assert made.answer(ASKED, nothing) == "-12 µε"
    assert screen.getvalue() == "\nstrain indicator, channel 1, in µε:\n> "  # type: ignore[attr-defined]


def test_what_was_typed_before_the_question_is_no_answer(terminal: Make) -> None:
    made, _ = terminal("12\n", beforehand="\n\n77\n")
    assert made.answer(ASKED, nothing) == "12"


def test_a_second_line_does_not_answer_the_next_question(terminal: Make) -> None:
    made, _ = terminal("12\n\n\n", "yes\n")
    assert made.answer(ASKED, nothing) == "12"
    assert made.answer(ASKED, nothing) == "yes"


def test_the_end_of_the_input_is_no_answer(terminal: Make) -> None:
    made, _ = terminal("\x04", "13\n")
    with pytest.raises(InstrumentError, match="indicator: no answer: the input ended"):
        made.answer(ASKED, nothing)
    assert made.answer(ASKED, nothing) == "13"  # the safe end can still ask


def test_a_stop_ends_the_wait_and_comes_before_an_answer(terminal: Make) -> None:
    looked = []

    def stopped() -> None:
        looked.append(1)
        if len(looked) > 2:
            raise Stopped("stopped by the operator (Ctrl-C)")

    made, _ = terminal()
    with pytest.raises(Stopped):
        made.answer(ASKED, stopped)
    made, _ = terminal("12\n")
    looked[:] = [1]  # the next look is before the line is read, the one after it stops
    with pytest.raises(Stopped):
        made.answer(ASKED, stopped)


def test_patience_ends(terminal: Make) -> None:
    made, _ = terminal()
    with pytest.raises(InstrumentError, match="nobody answered in time"):
        made.answer(Question("weights", "empty", "", "Is every weight off?", patience_s=0.1), nothing)


def test_who_works_against_the_clock_is_told_when_the_least_time_is_over(terminal: Make) -> None:
    made, screen = terminal()
    asked = Question("bonding", "done", "press", "press: type yes.", patience_s=1.2, takes_s=0.1)
    with pytest.raises(InstrumentError, match="nobody answered in time"):
        made.answer(asked, nothing)
    assert screen.getvalue().endswith("\npress: 0 s over: the least time has gone by\n> ")  # type: ignore[attr-defined]


def test_what_is_left_is_told_now_and_then(terminal: Make, monkeypatch: pytest.MonkeyPatch) -> None:
    made, screen = terminal()
    now = 0.0
    monkeypatch.setattr("rigproof.commands.terminal.time.monotonic", lambda: now)
    counting = made._counting(Question("bonding", "done", "rest", "", takes_s=900.0), nothing)
    for now in (0.0, 1.0, 299.0, 300.0, 500.0, 891.0, 901.0, 950.0):  # noqa: B007  the clock looks at it
        counting()
    said = [line for line in screen.getvalue().splitlines() if line.startswith("rest")]  # type: ignore[attr-defined]
    assert said == [
        "rest: 10 min left",
        "rest: 10 s left",
        "rest: 15 min over: the least time has gone by",
    ]


def test_a_closed_terminal_is_a_lost_instrument() -> None:
    import io
    import os

    master, slave = os.openpty()
    made = Terminal(slave, io.StringIO(), "A. Tester")
    os.close(master)
    os.close(slave)
    with pytest.raises(InstrumentError, match="indicator: the terminal is gone: Bad file descriptor"):
        made.answer(ASKED, nothing)


def test_the_name_is_asked_until_it_is_one(terminal: Make) -> None:
    made, screen = terminal("\n", "123\n", "  A.   Example \n", name="")
    assert made.name == "A. Example"
    assert screen.getvalue().count("is no name of a person") == 2  # type: ignore[attr-defined]


def test_without_a_name_nothing_begins(terminal: Make) -> None:
    with pytest.raises(UsageError, match="nobody gave a name: the input ended; use --person NAME"):
        terminal("\x04", name="")


@pytest.mark.parametrize("written", ["", "  ", "42", "a\x1b[2J", "a\x00", "x" * (LONGEST_NAME + 1)])
def test_what_is_no_name(written: str) -> None:
    with pytest.raises(UsageError, match="is no name of a person"):
        checked_name(written)


def test_names_of_all_scripts_are_names() -> None:
    assert checked_name("Zoë  Łuczak-Müller") == "Zoë Łuczak-Müller"
    assert checked_name("李 明") == "李 明"


def test_lines_stay_within_80_columns(terminal: Make) -> None:
    made, screen = terminal("ok\n")
    made.tell("word " * 60)
    made.answer(Question("indicator", "value", "1", "very-long-word " * 30 + "\nsecond paragraph"), nothing)
    shown = screen.getvalue()  # type: ignore[attr-defined]
    assert max(map(len, shown.splitlines())) <= 80
    assert "\nsecond paragraph\n> " in shown
