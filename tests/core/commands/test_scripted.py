"""Answers from a file: each fits its question or ends the run, and nothing is guessed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from rigproof.clock import JumpingClock
from rigproof.commands.scripted import LARGEST, Scripted
from rigproof.errors import InstrumentError, Stopped, UsageError
from rigproof.people import Question

Make = Callable[..., Scripted]
VALUE = Question("indicator", "value", "1", "strain indicator,\nin µε:")
KEEP = Question("indicator", "keep", "1", "12 µε. Enter keeps it.", otherwise="")
HEAD = "rigproof: answers/1\nperson: A. Example\n"


def nothing() -> None:
    """The run goes on."""


@pytest.fixture
def shown() -> list[str]:
    return []


@pytest.fixture
def scripted(tmp_path: Path, shown: list[str]) -> Make:
    def make(text: str | bytes, head: str = HEAD) -> Scripted:
        file = tmp_path / "answers.txt"
        file.write_bytes(text if isinstance(text, bytes) else (head + text).encode())
        return Scripted(file, shown.append)

    return make


def test_answers_come_in_their_order_and_are_shown(scripted: Make, shown: list[str]) -> None:
    made = scripted("# a remark\n\nindicator  value 1:  12 µε \nindicator keep 1: 13 µε\nindicator keep 1:\n")
    assert made.answer(VALUE, nothing) == "12 µε"
    assert made.answer(KEEP, nothing) == "13 µε"
    assert made.answer(KEEP, nothing) == ""
    assert shown == ["    indicator value 1: 12 µε", "    indicator keep 1: 13 µε", "    indicator keep 1: "]
    assert (made.name, made.how) == ("A. Example", "file answers.txt")


def test_where_enter_would_do_the_line_can_be_left_out(scripted: Make) -> None:
    made = scripted("indicator value 1: 12\nindicator value 1: 14\n")
    assert made.answer(VALUE, nothing) == "12"
    assert made.answer(KEEP, nothing) == ""
    assert made.answer(VALUE, nothing) == "14"


def test_an_answer_may_have_a_colon(scripted: Make) -> None:
    assert scripted("indicator keep 1: keep: bent in transport").answer(KEEP, nothing) == "keep: bent in transport"


def test_a_line_for_another_question_ends_the_run(scripted: Make) -> None:
    made = scripted("ohmmeter value 1: 350 Ω\n")
    with pytest.raises(InstrumentError, match=r"line 3 answers 'ohmmeter value 1', and 'indicator value 1' is asked"):
        made.answer(VALUE, nothing)


def test_at_its_end_the_question_is_named(scripted: Make) -> None:
    with pytest.raises(InstrumentError, match=r"at its end, and .* \(strain indicator, in µε:\); write `indicator va"):
        scripted("").answer(VALUE, nothing)


def test_lines_that_nobody_asked_for_are_told_with_a_remedy(scripted: Make) -> None:
    made = scripted("indicator value 1: 12\nindicator value 1: 14\nnonsense: 8\nafter: 5 s\n")
    assert [text.split(": ", 1)[0] for text in made.unasked()] == [f"answers.txt:{line}" for line in (3, 4, 5, 6)]
    made.answer(VALUE, nothing)
    made.answer(KEEP, nothing)
    assert made.unasked() == [
        "answers.txt:4: `indicator value 1: 14` does not count: nobody asked for it after line 3. Delete the line; a "
        "correction of line 3 stands under it as `indicator keep 1: 14`.",
        "answers.txt:5: `nonsense: 8` does not count: nobody asked for it. Delete the line, or correct what stands "
        "before its colon.",
        "answers.txt:6: `after: 5 s` let no time pass: no answer that counts comes after it. Delete the line.",
    ]


def test_the_correction_that_is_named_is_taken(scripted: Make) -> None:
    made = scripted("indicator value 1: 12\nindicator keep 1: 14\n")
    assert [made.answer(question, nothing) for question in (VALUE, KEEP, KEEP)] == ["12", "14", ""]
    assert made.unasked() == []


def test_a_second_answer_in_the_way_of_the_next_is_called_so(scripted: Make) -> None:
    made = scripted("indicator value 1: 12\nindicator value 1: 14\nohmmeter value 1: 350 Ω\n")
    made.answer(VALUE, nothing)
    made.answer(KEEP, nothing)
    said = (
        r"line 4 answers 'indicator value 1', as line 3 did \(a correction of line 3 stands under it as `indicator keep"
    )
    with pytest.raises(InstrumentError, match=said):
        made.answer(Question("ohmmeter", "value", "1", "ohmmeter, in Ω:"), nothing)


def test_where_an_answer_did_not_do_that_is_told_and_not_the_end_of_the_file(scripted: Make, tmp_path: Path) -> None:
    made = scripted("indicator value 1: 1,5\n")
    made.answer(VALUE, nothing)
    again = Question("indicator", "value", "1", "'1,5' has a comma.\nin µε:", amiss="'1,5' has a comma; write a point")
    with pytest.raises(InstrumentError) as caught:
        made.answer(again, nothing)
    place = f"indicator: {tmp_path / 'answers.txt'}:3"
    remedy = "correct the line, or write `indicator value 1: …` under it"
    assert str(caught.value) == f"{place}: '1,5' has a comma; write a point; {remedy}"


def test_what_must_be_answered_by_a_reason_says_so(scripted: Make) -> None:
    made = scripted("indicator value 1: 9999\nnext: 3\n")
    made.answer(VALUE, nothing)
    text = "9999 µε is not plausible. Look again; or type `keep:` and why."
    with pytest.raises(InstrumentError) as caught:
        made.answer(Question("indicator", "keep", "1", text, amiss="9999 µε is not plausible"), nothing)
    assert str(caught.value).endswith(
        ":3: 9999 µε is not plausible; correct the line, or write `indicator keep 1: …` under it (Look again; or type "
        "`keep:` and why.)"
    )


def test_time_passes_before_the_answer_it_stands_at(scripted: Make) -> None:
    clock = JumpingClock()
    made = scripted("after: 65 s\nafter: 1 min\nindicator value 1: 12\n")
    made.clock = clock
    assert made.answer(KEEP, nothing) == ""  # what may be left out takes none of it
    assert clock.now() == 0.0
    assert made.answer(VALUE, nothing) == "12"
    assert clock.now() == pytest.approx(125.0)


def test_a_stop_ends_the_time_that_passes(scripted: Make) -> None:
    clock = JumpingClock()

    def stops() -> None:
        if clock.now() > 3:
            raise Stopped("stopped")

    made = scripted("after: 1 h\nindicator value 1: 12\n")
    made.clock = clock
    with pytest.raises(Stopped):
        made.answer(VALUE, stops)
    assert clock.now() < 5


def test_a_stop_comes_before_an_answer(scripted: Make) -> None:
    def stopped() -> None:
        raise Stopped("stopped")

    with pytest.raises(Stopped):
        scripted("indicator value 1: 12\n").answer(VALUE, stopped)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (b"", ":1: is no file of answers; begin it with `rigproof: answers/1`"),
        (b"rigproof: rig/1\n", ":1: is no file of answers"),
        (b"rigproof: answers/1\n", ":2: says nobody's name"),
        (b"rigproof: answers/1\nindicator value 1: 3\n", ":2: says nobody's name"),
        (b"rigproof: answers/1\n\nperson: 12\n", ":3: '12' is no name of a person"),
        (b"rigproof: answers/1\nperson: A. Example\n350.2 ohm\n", ":3: '350.2 ohm' has no colon"),
        (b"rigproof: answers/1\nperson: A. Example\nafter: 5 mm\n", ":3: '5 mm': 'mm' is a unit of length"),
        (b"\xff\xfe", "is no text in UTF-8"),
        (b"#" * (LARGEST + 1), f"at most {LARGEST} are read"),
    ],
)
def test_what_is_no_file_of_answers(scripted: Make, text: bytes, said: str) -> None:
    with pytest.raises(UsageError) as caught:
        scripted(text)
    assert said in str(caught.value)


def test_no_file_at_all(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"cannot be read \(No such file or directory\); name a file of answers"):
        Scripted(tmp_path / "none.txt", lambda _: None)
    with pytest.raises(UsageError, match=r"cannot be read \(Is a directory\)"):
        Scripted(tmp_path, lambda _: None)
