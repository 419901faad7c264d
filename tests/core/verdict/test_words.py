"""All numbers of one check stand in one unit, and in one that fits them."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.verdict import words
from rigproof.verdict.record import Check, ToleranceRecord


def force_check(measured: float, u: float, upper: float, **changed: object) -> Check:
    limits = ToleranceRecord(lower=None, upper=upper, origin="procedure", computed=False)
    values: dict[str, object] = {
        "step": 1,
        "step_kind": "cycles",
        "name": "highest load",
        "subject": "load",
        "kind": "force",
        "measured": measured,
        "u": u,
        "dof": None,
        "tolerance": limits,
        "guard_band": 0.0,
        "acceptance_lower": None,
        "acceptance_upper": upper,
        "conformance_probability": 1.0,
        "finding": "accept",
    }
    return Check.model_validate(values | changed)


@pytest.mark.parametrize(
    ("measured", "u", "upper", "concise", "limit"),
    [
        (58.851, 0.038, 61.7925, "58.851(38) N", "at most 61.7925 N"),  # as it is: it decides
        (58.9, 12.0, 61.7925, "59(12) N", "at most 61.7925 N"),
        (950.0, 0.4, 1100.0, "0.95000(40) kN", "at most 1.1 kN"),  # one unit for both, that of the larger
        (0.0, 0.0, 0.29425, "0 N", "at most 0.29425 N"),
    ],
)
def test_a_small_force_is_in_newton(measured: float, u: float, upper: float, concise: str, limit: str) -> None:
    check = force_check(measured, u, upper)
    assert words.concise(check) == concise
    assert words.interval(check) == limit
    assert words.value(check).endswith(limit.rpartition(" ")[2])
    assert not u or words.uncertainty(check).endswith(limit.rpartition(" ")[2])


def test_a_sensitivity_and_what_was_expected() -> None:
    limits = ToleranceRecord(lower=8.94e-6, upper=9.40e-6, origin="part model", computed=True)
    check = force_check(
        9.145e-6,
        0.030e-6,
        0.0,
        kind="strain per force",
        tolerance=limits,
        expected=9.17e-6,
        u_expected=0.11e-6,
        difference=-0.025e-6,
        u_difference=0.09e-6,
        U=0.23e-6,
    )
    assert words.concise(check) == "9.145(30) µε/N"
    assert words.expected(check) == "9.17(11) ± 0.23"
    assert words.interval(check) == "8.940 to 9.400 µε/N"
    assert "difference -0.03 ± 0.23 µε/N" in "; ".join(words.sentences(check))


def test_a_reason_is_short_and_leaves_rule_and_probability_to_the_check() -> None:
    check = force_check(0.95, 0.0004, 0.9, finding="reject", rule="guarded acceptance, risk 5 %")
    said = "cycles: highest load of load is reject: measured 0.95000(40) N, tolerance at most 0.9 N (procedure)"
    assert words.reason(check) == said
    count = force_check(0, 0.0, 1.0, kind="number", note="did not trip")
    assert words.reason(count).endswith("measured 0, tolerance at most 1 (procedure); did not trip")
    assert ", u " not in "; ".join(words.sentences(count))


def test_what_was_not_made_is_not_called_without_limits() -> None:
    open_limits = ToleranceRecord(lower=None, upper=None, origin="not reached", computed=False)
    check = force_check(0.0, 0.0, 1.0, tolerance=open_limits, note="the step ended", finding="undecided")
    check = check.model_copy(update={"measured": None})
    assert (words.concise(check), words.interval(check)) == ("not made", "")
    assert words.reason(check) == "cycles: highest load of load is undecided: not made (the step ended)"
    assert "; ".join(words.sentences(check)) == "not made (the step ended)"


def test_what_is_accepted_above_the_range_says_so() -> None:
    check = force_check(0.0, 0.0, 1.0, note="above 20 GΩ, the end of the tester's range; see the leads")
    assert words.concise(check.model_copy(update={"measured": None})) == "above 20 GΩ"


@given(value=st.floats(-1e6, 1e6), u=st.floats(1e-6, 1e3))
def test_a_limit_that_leans_lets_nothing_more_in(value: float, u: float) -> None:
    up, down = (float(words.rounded(value, u, "number", lean=lean)) for lean in (1.0, -1.0))
    place = 10.0 ** (math.floor(math.log10(u)) - 1)
    slack = 0.0011 * place if place < 1 else 0.0011
    assert down - slack <= value <= up + slack
    assert up - down <= 1.01 * min(place, 1.0) + 1e-9
