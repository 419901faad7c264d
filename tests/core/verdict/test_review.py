"""What a reviewer reads of two verdicts: what moved is told, the rest is counted."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from rigproof.campaign.trial import Trial, acceptance
from rigproof.verdict.difference import differences
from rigproof.verdict.record import Check, Verdict
from rigproof.verdict.review import OWN, review

RIG = Path(__file__).parents[2] / "rigs" / "spool"
LEFT = re.compile(r"(\d+) differences?(?:, (\d+) of them without their numbers .*: --all has every one)?")


@pytest.fixture(scope="module")
def sound() -> Verdict:
    return acceptance(RIG, Trial((), 3))


@pytest.fixture(scope="module")
def other() -> Verdict:
    return acceptance(RIG, Trial((), 4))


@pytest.fixture(scope="module")
def flawed() -> Verdict:
    return acceptance(RIG, Trial(("wrong-shunt=2 %",), 3))


def counts(lines: list[str]) -> tuple[int, int]:
    """(differences, of these without their numbers), of the last line."""
    said = LEFT.fullmatch(lines[-1])
    assert said, lines[-1]
    return int(said[1]), int(said[2] or 0)


def elsewhere(verdict: Verdict) -> Verdict:
    """The same with another journal."""
    return verdict.model_copy(update={"journal": verdict.journal.model_copy(update={"sha256": "0" * 64})})


def with_check(verdict: Verdict, place: int, **update: Any) -> Verdict:
    check = verdict.checks[place].model_copy(update=update)
    return verdict.model_copy(update={"checks": (*verdict.checks[:place], check, *verdict.checks[place + 1 :])})


def place(verdict: Verdict, name: str, subject: str) -> int:
    return next(i for i, each in enumerate(verdict.checks) if (each.name, each.subject) == (name, subject))


def test_two_seeds_are_short_and_tell_each_reading_that_moved_by_more_than_2_u(sound: Verdict, other: Verdict) -> None:
    lines = review(sound, other)
    assert lines[:3] == [
        "verdict: accept, as before (two journals)",
        "",
        f"no finding changed ({len(sound.checks)} checks)",
    ]
    assert "  twin 1 seed: 3 -> 4" in lines
    assert len(lines) < 50
    found, left = counts(lines)
    assert found == len(differences(sound, other)) > left > found - 2 * len(lines)
    for old, new in zip(sound.checks, other.checks, strict=True):
        apart = old.measured is not None and new.measured is not None and abs(new.measured - old.measured)
        far = apart > 2 * max(old.u, new.u)
        assert far == any(f"{old.step} {old.step_kind}: {old.name} of {old.subject}" in line and "measured" in line
                          for line in lines if old.at in line)  # fmt: skip


def test_numbers_are_as_long_as_their_uncertainty_and_the_largest_change_comes_first(
    sound: Verdict, other: Verdict
) -> None:
    lines = review(sound, other)
    at = lines.index("margins (from the reading to the nearest acceptance limit), the largest change in u first:")
    assert re.fullmatch(
        r"  3 balance: offset of \w+: margin 1\.\d{5,6} -> 1\.\d{5,6} mV/V; "
        r"measured -?0\.\d+\(\d\d\) -> -?0\.\d+\(\d\d\) mV/V",
        lines[at + 1],
    ), lines[at + 1]


def test_a_flaw_tells_outcome_findings_and_steps(sound: Verdict, flawed: Verdict) -> None:
    lines = review(sound, flawed)
    assert lines[0] == "verdict: accept -> reject (two journals)"
    assert any(line.startswith("  step 7 proof: whole, accept -> not taken, no load before") for line in lines)
    text = "\n".join(lines)
    gone = len(sound.checks) - len(flawed.checks)
    assert f"{gone + 2} findings changed ({len(sound.checks)} checks, now {len(flawed.checks)}):" in text
    assert re.search(
        r"shunt reading of hoop: accept -> reject\n    margin .*\n    measured .* mV/V\n    accepts ", text
    )
    assert sum(map(int, re.findall(r"  \d \w+: (\d+) checks: accept -> is not made", text))) == gone


@pytest.mark.parametrize(
    "field", sorted(set(Check.model_fields) - {"step", "step_kind", "name", "subject", "kind", "unit"})
)
def test_whatever_changes_in_a_check_is_seen(sound: Verdict, field: str) -> None:
    """One field by a millionth, or by a word: in its line where the journal is the same, else in the count at least."""
    at = place(sound, "sensitivity", "hoop")
    old = sound.checks[at]
    value = getattr(old, field)
    if field == "tolerance":
        new: Any = value.model_copy(update={"upper": value.upper * (1 + 1e-6)})
    elif field == "budget":
        new = (value[0].model_copy(update={"u": value[0].u * (1 + 1e-6)}), *value[1:])
    elif isinstance(value, float):
        new = value * (1 + 1e-6)
    else:
        new = {"finding": "undecided", "method": "Monte Carlo", "guards": "acceptance"}.get(field) or (
            0.5 if value is None else "another"
        )
    changed = with_check(sound, at, **{field: new})
    lines = review(sound, changed)
    assert any("sensitivity of hoop" in line and ("->" in line or "also changed" in line) for line in lines), lines
    assert counts(lines)[0] == 1
    lines = review(sound, elsewhere(changed))
    told = any("sensitivity of hoop" in line for line in lines)
    found, left = counts(lines)
    assert (found, told or left == 1) == (2, True)  # the journal is told, too


def test_a_reading_that_hardly_moved_is_told_beside_the_same_journal_and_counted_beside_another(sound: Verdict) -> None:
    at = place(sound, "sensitivity", "hoop")
    changed = with_check(sound, at, measured=(sound.checks[at].measured or 0.0) * (1 + 1e-6))
    (line,) = [line for line in review(sound, changed) if "sensitivity of hoop" in line]
    assert re.search(r"; measured 9\.\d{6,8} -> 9\.\d{6,8} µε/bar$", line)
    lines = review(sound, elsewhere(changed))
    assert not any("sensitivity of hoop" in line for line in lines)
    assert counts(lines) == (2, 1)


def test_beside_the_same_reading_of_another_run_each_change_is_told(sound: Verdict) -> None:
    """As after a document was edited: same seed, another journal."""
    at = place(sound, "sensitivity", "hoop")
    old = sound.checks[at]
    changed = elsewhere(with_check(sound, at, expected=(old.expected or 0.0) * (1 + 1e-6)))
    lines = review(sound, changed)
    (line,) = [line for line in lines if "sensitivity of hoop" in line]
    assert re.search(r": expected 9\.\d{6,8} -> 9\.\d{6,8} µε/bar$", line)
    assert counts(lines) == (2, 0)


def test_a_check_that_could_not_be_made_has_nothing_to_hold_beside_the_other(sound: Verdict) -> None:
    at = place(sound, "shunt reading", "hoop")
    nothing = sound.checks[at].tolerance.model_copy(update={"lower": None, "upper": None, "origin": "not reached"})
    gone = {"measured": None, "expected": None, "acceptance_lower": None, "acceptance_upper": None, "rule": "none"}
    broken = with_check(sound, at, **gone, tolerance=nothing, finding="undecided", note="not switched on")
    lines = review(sound, elsewhere(broken))
    first = lines.index("  4 shunt: shunt reading of hoop: accept -> undecided")
    assert re.fullmatch(r"    measured -0\.50\d{3}\(\d\d\) mV/V -> not made", lines[first + 1])
    assert re.fullmatch(r"    note: .* -> not switched on", lines[first + 2])
    assert not any(line.endswith("-> ") for line in lines)
    found, left = counts(lines)
    assert found - left == 4  # journal, finding, measured, note


def test_lists_tell_what_went_and_what_came(sound: Verdict) -> None:
    first, *rest = sound.cautions
    changed = sound.model_copy(update={"cautions": (*rest, "Mind the step."), "instruments": ()})
    lines = review(sound, changed)
    assert f"  cautions: no longer: {first}" in lines
    assert "  cautions: now: Mind the step." in lines
    assert f"  instruments: {len(sound.instruments)} -> nothing" in lines
    turned = sound.model_copy(update={"cautions": sound.cautions[::-1]})
    assert "  cautions: in another order or number" in review(sound, turned)


def test_a_limit_that_somebody_set_is_told_however_little_it_moved(sound: Verdict, other: Verdict) -> None:
    at = place(sound, "change from packet", "hoop")
    old = sound.checks[at].tolerance
    tight = old.model_copy(update={"upper": 0.00499, "lower": -0.00499, "origin": "procedure: within 0.499 %"})
    changed = with_check(sound, at, tolerance=tight)
    for pair in ((sound, elsewhere(changed)), (sound, changed), (with_check(sound, at, tolerance=old), changed)):
        (line,) = [line for line in review(*pair) if "change from packet of hoop" in line]
        assert "tolerance ± 0.5 -> ± 0.499 %; set by: procedure: within 0.5 % -> procedure: within 0.499 %" in line
    line = next(line for line in review(other, changed) if "change from packet of hoop" in line)
    assert "tolerance ± 0.5 -> ± 0.499 %" in line


def test_an_uncertainty_is_told_where_it_moved_by_more_than_it_is_known_to(sound: Verdict) -> None:
    at = place(sound, "change from packet", "hoop")
    old = sound.checks[at]
    read = {"measured": (old.measured or 0.0) * (1 + 1e-6)}  # another reading
    for factor, told in ((1.05, False), (1.3, True)):
        changed = elsewhere(with_check(sound, at, u=old.u * factor, **read))
        lines = [line for line in review(sound, changed) if "change from packet of hoop" in line]
        assert bool(lines) == told
    few = with_check(sound, at, dof=4.0)
    changed = elsewhere(with_check(sound, at, u=old.u * 1.3, dof=4.0, **read))
    assert not any("change from packet of hoop" in line for line in review(few, changed))


RECORDS = {"resumed", "retries", "people", "installation", "relief_devices"}  # a run of this rig has none


@pytest.mark.parametrize("field", sorted(set(Verdict.model_fields) - RECORDS - {"format", "checks", "journal"}))
def test_whatever_changes_beside_the_checks_is_seen(sound: Verdict, field: str) -> None:
    """What goes with each run (its times, the load that was left) is counted beside another journal, all else told."""
    value = getattr(sound, field)
    new: Any = "void" if field == "verdict" else "another"
    if field in ("rig", "procedure"):
        new = value.model_copy(update={"sha256": "f" * 64})
    elif field == "twin":
        new = None
    elif isinstance(value, bool):
        new = not value
    elif isinstance(value, float) or value is None:
        new = 0.123
    elif isinstance(value, tuple):
        new = value[:-1] if value else ("another",)
    changed = sound.model_copy(update={field: new})
    found = differences(sound, changed)
    own = [each for each in found if OWN.fullmatch(each.at)]
    assert bool(own) == (field in ("started", "ended", "safe_end", "part"))  # `part` has the kind of the load
    assert counts(review(sound, changed)) == (len(found), 0)
    lines = review(sound, elsewhere(changed))
    assert counts(lines) == (len(found) + 1, len(own))
    for each in found:
        step = re.fullmatch(r"steps (\d+) .*", each.at)
        head = "  no longer: " if each.at == "why" else f"  {each.at}: "
        assert each in own or any(
            line.startswith((head, f"  step {step[1]} ") if step else head) or each.at == "verdict" for line in lines
        ), each
