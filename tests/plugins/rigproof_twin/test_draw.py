"""Draws: within what is stated, a stream of its own for each consumer, the same for the same seed."""

from __future__ import annotations

import numpy as np
import pytest

from rigproof.errors import UsageError
from rigproof.quantities import parse_uncertain
from rigproof_twin.draw import Streams


def test_the_same_seed_and_name_give_the_same_numbers() -> None:
    assert np.array_equal(Streams(7).generator("wall").random(5), Streams(7).generator("wall").random(5))


def test_another_seed_or_name_gives_others() -> None:
    first = Streams(7).generator("wall").random()
    assert Streams(8).generator("wall").random() != first
    assert Streams(7).generator("walls").random() != first


def test_limits_are_kept_and_filled_evenly() -> None:
    stated = parse_uncertain("350 Ω ± 1 %", "resistance")
    drawn = np.array([Streams(seed).truth("gauge", stated) for seed in range(400)])
    assert drawn.min() >= 346.5
    assert drawn.max() <= 353.5
    assert drawn.std() == pytest.approx(3.5 / np.sqrt(3), rel=0.1)


def test_a_certificate_is_drawn_normal() -> None:
    stated = parse_uncertain({"value": "4.52 mm", "U": "0.06 mm", "k": "2"}, "length")
    drawn = np.array([Streams(seed).truth("wall", stated) for seed in range(400)])
    assert drawn.mean() == pytest.approx(4.52e-3, abs=5e-6)
    assert drawn.std() == pytest.approx(0.03e-3, rel=0.12)
    assert drawn.max() > 4.58e-3  # a certificate gives no limits


def test_statistics_are_drawn_with_their_degrees_of_freedom() -> None:
    stated = parse_uncertain({"value": "10 Ω", "s": "2 Ω", "n": "4"}, "resistance")
    drawn = np.array([Streams(seed).truth("lead", stated) for seed in range(1000)])
    assert np.median(np.abs(drawn - 10.0)) == pytest.approx(0.765, rel=0.12)  # t with 3 dof: quartile 0.765 (tables)


def test_an_exact_value_is_itself() -> None:
    assert Streams(3).truth("r0", parse_uncertain("100 Ω", "resistance")) == 100.0


def test_a_negative_seed_is_refused() -> None:
    with pytest.raises(UsageError, match="seed=-1"):
        Streams(-1)
