"""One trial of a campaign gives what `rigproof run` gives."""

from __future__ import annotations

from pathlib import Path

import pytest

from rigproof.campaign.trial import Trial, acceptance, take
from rigproof.errors import UsageError

RIG = Path(__file__).parents[3] / "tests" / "rigs" / "spool"


def test_a_sound_rig_catches_nothing() -> None:
    result = take(RIG, Trial((), 5))
    assert (result.verdict, result.caught) == ("accept", ())


def test_a_flaw_is_caught_by_name() -> None:
    trial = Trial(("wrong-shunt=2 %",), 5)
    result, verdict = take(RIG, trial), acceptance(RIG, trial)
    assert result.verdict == "reject"
    assert {(check.kind, check.name, check.finding) for check in result.caught} == {
        ("shunt", "shunt reading", "reject"),
    }
    assert result.why == verdict.why[0]
    assert verdict.twin is not None
    assert verdict.twin.flaws == trial.flaws


def test_the_same_trial_gives_the_same_result() -> None:
    assert take(RIG, Trial(("thin-wall=8 %",), 3)) == take(RIG, Trial(("thin-wall=8 %",), 3))


def test_numbers_are_alike_where_a_flaw_never_comes_to_be() -> None:
    """Readings that freeze after the last step: nothing can find them."""
    sound = take(RIG, Trial((), 5))
    assert take(RIG, Trial(("frozen-readings=30 h",), 5)).numbers == sound.numbers
    assert take(RIG, Trial(("thin-wall=8 %",), 5)).numbers != sound.numbers
    assert take(RIG, Trial((), 6)).numbers != sound.numbers


def test_the_command_reproduces_it() -> None:
    assert Trial(("thin-wall=8 %", "open-lead"), 3).command(Path("rigs/spool")) == (
        "rigproof run rigs/spool --simulated --seed 3 --flaw 'thin-wall=8 %' --flaw 'open-lead'"
    )


def test_an_unknown_flaw_is_refused() -> None:
    with pytest.raises(UsageError, match="no flaw is called 'thin-wal'"):
        take(RIG, Trial(("thin-wal",), 0))


def test_flaws_that_share_a_word_are_all_named() -> None:
    with pytest.raises(UsageError, match="one of wrong-gauge-factor, wrong-shunt, wrong-gain, wrong-material"):
        take(RIG, Trial(("wrong-axis",), 0))
    with pytest.raises(UsageError, match="did you mean 'leakage'"):
        take(RIG, Trial(("leakag",), 0))
