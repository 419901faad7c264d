"""An agreement shows no more than its U: the reader sees that share, and a flaw inside it does pass."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from rigproof.steps.base import GAIN, RESPONSE_TO_LOAD
from rigproof.verdict import extent
from rigproof.verdict.record import Verdict

if TYPE_CHECKING:
    from tests.conftest import Acceptance

    from rigproof.run.plan import Plan


@pytest.fixture(scope="module")
def sound(spool: Plan, accept: Acceptance, tmp_path_factory: pytest.TempPathFactory) -> Verdict:
    return accept(spool, tmp_path_factory.mktemp("sound"))


def shares(line: str) -> dict[str, float]:
    """The subjects of a line, and their shares in per cent."""
    groups = re.findall(r"([\w, ]+) to ([0-9.]+) %", line.rpartition("(")[2])
    return {name: float(share) for names, share in groups for name in names.strip().split(", ")}


def test_what_agreement_showed_says_to_which_share(sound: Verdict) -> None:
    gain, response = extent.by_agreement(sound)
    assert gain.startswith(f"{GAIN} (")
    assert response.startswith(f"{RESPONSE_TO_LOAD} (")
    for name, share in shares(response).items():
        limits = [
            50 * (check.tolerance.upper - check.tolerance.lower) / abs(check.expected)
            for check in sound.checks
            if check.subject == name and check.step_kind in {"cycles", "proof"} and check.expected
            if check.tolerance.upper is not None and check.tolerance.lower is not None
        ]
        assert share == pytest.approx(min(limits), rel=0.02)  # two digits of it
    assert gain.count("%") == 1  # what is alike stands together
    assert set(shares(response)) == set(shares(gain)) == {"hoop", "axial"}


def test_the_rest_stands_as_it_is(sound: Verdict) -> None:
    said = extent.shown(sound)
    assert [line.partition(" (")[0] for line in said] == [aspect.partition(" (")[0] for aspect in sound.shown]
    assert sum(" to " in line.partition("(")[2] for line in said) == len(extent.by_agreement(sound))


def test_a_flaw_of_a_third_of_the_share_passes(spool: Plan, accept: Acceptance, sound: Verdict, tmp_path: Path) -> None:
    (tmp_path / "far").mkdir()
    third = shares(extent.by_agreement(sound)[1])["hoop"] / 3
    assert accept(spool, tmp_path, [f"wrong-gauge-factor={third:.2f} %"]).verdict == "accept"
    assert accept(spool, tmp_path / "far", [f"wrong-gauge-factor={12 * third:.2f} %"]).verdict == "reject"


def test_a_step_that_did_not_accept_shows_nothing(sound: Verdict) -> None:
    steps = tuple(
        step.model_copy(update={"finding": "undecided"} if step.kind in {"cycles", "proof"} else {})
        for step in sound.steps
    )
    doubted = sound.model_copy(update={"steps": steps})
    assert extent.by_agreement(doubted)[1] == RESPONSE_TO_LOAD
