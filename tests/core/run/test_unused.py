"""What a procedure asks for and a rig will not give, said beforehand."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from rigproof.run.plan import Plan
from rigproof.run.rehearsal import rehearse
from rigproof.run.unused import fewer_readings

OHMMETER = (
    "    driver: manual meter\n    resource: by hand\n    settings:\n      readings: {most}\n      inputs:\n"
    "        1: {{label: A, reads: resistance, unit: Ω, resolution: 10 mΩ, lowest: 300 Ω, highest: 400 Ω}}\n"
    "        2: {{label: B, reads: resistance, unit: Ω, resolution: 10 mΩ, lowest: 300 Ω, highest: 400 Ω}}\n"
    "        3: {{label: C, reads: resistance, unit: Ω, resolution: 10 mΩ, lowest: 90 Ω, highest: 130 Ω}}\n"
)


@pytest.mark.parametrize(
    ("most", "step", "said"),
    [
        (1, "{readings: 2}", "`readings: 2`, and ohmmeter gives 1 at most: that one counts, and shows no scatter."),
        (3, "{readings: 5}", "`readings: 5`, and ohmmeter gives 3 at most: those count."),
        (3, "{readings: 3}", ""),
        (1, "{}", ""),  # nobody wrote how many
    ],
)
def test_readings_that_nobody_takes_are_told(
    planned: Callable[..., Plan], spool: Plan, most: int, step: str, said: str
) -> None:
    text = spool.rig.text
    begin = text.index("    driver:", text.index("\n  ohmmeter:\n"))
    end = _end(text, begin)
    plan = planned(f"  - resistance: {step}\n", (text[begin:end], OHMMETER.format(most=most)))
    told = fewer_readings(plan.rig, rehearse(plan.rig, plan.procedure))
    assert [text.partition(". Write")[0] for text in told] == ([f"Step 1 resistance: {said[:-1]}"] if said else [])


def _end(text: str, begin: int) -> int:
    """Where the lines end that are indented as the one at `begin`."""
    at = begin
    while text.startswith("    ", at):
        at = text.index("\n", at) + 1
    return at
