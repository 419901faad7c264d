"""Stages, stands and holds are found in what any step writes, whatever it is called."""

from __future__ import annotations

from rigproof.journal import Entry
from rigproof_report.drawing import LETTER, fitted
from rigproof_report.events import Span, shut_in, stages, stands, step_parts

MOVES = [
    (0.0, "step", {"step": 1, "step_kind": "arming", "taken": "begun"}),
    (1.0, "command", {"source": "s", "target": 5.0, "text": "series 1 of 2: force 1"}),
    (3.0, "reached", {"source": "s", "target": 5.0}),
    (6.0, "command", {"source": "s", "target": 9.0, "text": "series 1 of 2: force 2"}),
    (8.0, "reached", {"source": "s", "target": 9.0}),
    (9.0, "command", {"source": "s", "isolate": True}),
    (90.0, "command", {"source": "s", "isolate": False}),
    (91.0, "command", {"source": "s", "target": 0.0, "text": "back"}),
    (92.0, "step", {"step": 1, "step_kind": "arming", "taken": "whole"}),
    (93.0, "step", {"step": 2, "step_kind": "other", "taken": "begun"}),
    (99.0, "command", {"channel": "hoop", "shunt": True}),
]


def entries(*, upto: int = len(MOVES)) -> list[Entry]:
    return [Entry(n, t, kind, data) for n, (t, kind, data) in enumerate(MOVES[:upto])]


def test_steps_end_where_they_say_so() -> None:
    first, second = step_parts(entries())
    assert (first.step, first.kind, first.start_s, first.end_s) == (1, "arming", 0.0, 92.0)
    assert (second.kind, second.end_s, second.moves) == ("other", 99.0, [])


def test_stages_are_the_words_before_the_colon() -> None:
    part = step_parts(entries())[0]
    assert stages(part) == [Span(1.0, 91.0, "series 1 of 2"), Span(91.0, 92.0, "back")]
    assert list(stands(part)) == [Span(3.0, 6.0, ""), Span(8.0, 91.0, "")]
    assert list(shut_in(part)) == [Span(9.0, 90.0, "shut in, 1.4 min")]


def test_a_run_cut_off_in_a_hold() -> None:
    part = step_parts(entries(upto=6))[0]
    assert part.end_s == 9.0
    assert list(stands(part))[-1] == Span(8.0, 9.0, "")
    assert list(shut_in(part)) == [Span(9.0, 9.0, "shut in, 0.0 min")]


def test_a_step_begun_again_is_there_twice() -> None:
    resumed = Entry(9, 5.0, "resumed", {"utc": ""})
    parts = step_parts([*entries(upto=4), resumed, *entries()])
    assert [(part.step, part.counts, part.end_s) for part in parts] == [
        (1, False, 6.0),
        (1, True, 92.0),
        (2, True, 99.0),
    ]


def test_a_name_is_shortened_to_its_room() -> None:
    text = "stage 2 of 4"
    assert [fitted(text, room * LETTER) for room in (12, 11, 7, 6, 1, 0.5)] == [
        text,
        "stage 2",
        "stage 2",
        "2",
        "2",
        "",
    ]


def test_a_trip_or_a_safe_end_takes_the_load_off() -> None:
    for kind in ("trip", "safe", "safe after the test"):
        moves = [*MOVES[:3], (4.0, kind, {}), (80.0, "command", {"source": "s", "target": 1.0}), MOVES[8]]
        part = step_parts([Entry(n, t, name, data) for n, (t, name, data) in enumerate(moves)])[0]
        assert list(stands(part)) == [Span(3.0, 4.0, "")]
