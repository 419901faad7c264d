"""Weights placed by hand: asked for one by one, confirmed by their marks, and off at the end."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from pydantic import ValidationError

from rigproof.errors import InstrumentError
from rigproof_manual.source import ManualSource, SourceSettings

Make = Callable[..., ManualSource]
TWO_KG = 2 * 9.80665 * (1 - 0.00015)


def load(source: ManualSource) -> float:
    return float(source.read([1], 1, 0.0)[0, 0])


def person(source: ManualSource) -> Any:
    return source.connection.person


def test_weights_are_asked_for_one_by_one_and_read_once_confirmed(source: Make) -> None:
    made = source("yes", "A", "c", "C")
    assert made.is_safe()
    assert load(made) == 0.0
    made.rise_to(TWO_KG, 1.0)
    assert made.settled()
    assert load(made) == pytest.approx(TWO_KG)
    made.rise_to(1.25 * TWO_KG, 1.0)
    assert made.settled()
    assert load(made) == pytest.approx(1.25 * TWO_KG)
    made.rise_to(TWO_KG, 1.0)
    assert made.settled()
    assert [q.label for q in person(made).asked[3:]] == ["weights put on A", "weights put on C", "weights take off C"]
    assert "2 kg ± 0.1 %" in person(made).asked[3].text


def test_a_wrong_mark_is_asked_about_again(source: Make) -> None:
    made = source("yes", "B", "", "A")
    made.is_safe()
    made.rise_to(TWO_KG, 1.0)
    assert made.settled()
    assert "'B' is not the mark of this weight" in person(made).asked[-2].text
    assert "Nothing typed" in person(made).asked[-1].text


def test_between_call_and_confirmation_nobody_knows_the_load(source: Make) -> None:
    made = source("yes")
    made.is_safe()
    made.rise_to(TWO_KG, 1.0)
    with pytest.raises(InstrumentError, match="no answer"):
        made.settled()
    assert load(made) != load(made)  # nan


def test_the_safe_end_calls_loudly_and_believes_only_a_confirmation(source: Make) -> None:
    made = source("yes", "A", "no", "yes")
    made.is_safe()
    made.rise_to(TWO_KG, 1.0)
    made.settled()
    made.go_safe()
    assert person(made).told == ["TAKE ALL WEIGHTS OFF THE PAN NOW, one by one; keep your feet clear."]
    assert load(made) != load(made)
    assert not made.is_safe()
    assert made.is_safe()
    assert made.is_safe()  # not asked again
    assert load(made) == 0.0
    assert person(made).answers == []


def test_without_an_answer_the_safe_state_is_not_confirmed(source: Make) -> None:
    made = source()
    made.go_safe()
    with pytest.raises(InstrumentError, match="no answer"):
        made.is_safe()


def test_a_load_that_no_weights_make_is_refused_with_what_they_make(source: Make) -> None:
    made = source("yes")
    made.is_safe()
    with pytest.raises(InstrumentError, match=r"cannot make 30 N; they make 24\.513 N or 39\.221 N"):
        made.rise_to(30.0, 1.0)


@pytest.mark.parametrize(
    ("weights", "said"),
    [({}, "at least 1"), ({"A": "2 N"}, "mass"), ({"a": "1 kg", "A": "1 kg"}, "capitals"), ({" ": "1 kg"}, "no mark")],
)
def test_weights_that_nobody_can_call_are_refused(weights: dict[str, str], said: str) -> None:
    with pytest.raises(ValidationError, match=said):
        SourceSettings.model_validate({"weights": weights})
