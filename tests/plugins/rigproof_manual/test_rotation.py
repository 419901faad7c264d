"""A part that a person rotates: called for by its angle until that angle is typed."""

from __future__ import annotations

from collections.abc import Callable
from math import radians
from typing import Any

import pytest

from rigproof.errors import InstrumentError
from rigproof.instruments import NOT_ASKED
from rigproof.quantities import WrittenError
from rigproof_manual.rotation import ManualRotation

Make = Callable[..., ManualRotation]


def asked(made: ManualRotation) -> Any:
    return made.connection.person.asked  # type: ignore[attr-defined]


@pytest.mark.parametrize("typed", ["120", "120°", " 120 ° ", "120.4"])
def test_the_angle_is_asked_for_by_its_label_and_kept(rotation: Make, typed: str) -> None:
    made = rotation(typed)
    made.rotate_to(radians(120))
    (question,) = asked(made)
    assert question.label == "turntable rotate 120°"
    assert "Without load, rotate the part until 120° faces the line" in question.text


@pytest.mark.parametrize("wrong", ["240", "", "yes", "122°", "120 kN"])
def test_any_other_answer_is_asked_about_again(rotation: Make, wrong: str) -> None:
    made = rotation(wrong, "120")
    made.rotate_to(radians(120))
    assert asked(made)[1].text.startswith(f"{wrong!r} is not 120°.")


def test_where_nobody_answers_the_instrument_is_lost(rotation: Make) -> None:
    with pytest.raises(InstrumentError, match="turntable"):
        rotation().rotate_to(0.0)


def test_a_scale_has_no_plate_and_no_wire(rotation: Make) -> None:
    made = rotation()
    assert made.open().firmware == NOT_ASKED
    assert made.errors() == []
    made.close()
    assert asked(made) == []
    with pytest.raises(WrittenError, match="is no place where a person works"):
        made.check_resource("TCPIP::192.0.2.1::INSTR")
