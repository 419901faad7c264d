"""The record explains itself, and a verdict older than its newest fields still loads and is told."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from rigproof.commands.screen import print_verdict, table
from rigproof.documents import schema
from rigproof.journal import Entry
from rigproof.plugins import Registry
from rigproof.quantities import kind_of
from rigproof.verdict import words
from rigproof.verdict.record import Check, Verdict, from_bytes, to_bytes

# What every verdict has had from the first on.
OLD_CHECK: dict[str, Any] = {
    "step": 5,
    "step_kind": "cycles",
    "name": "sensitivity",
    "subject": "hoop",
    "kind": "strain per pressure",
    "measured": 9.37e-11,
    "u": 0.14e-11,
    "dof": None,
    "expected": 9.46e-11,
    "tolerance": {"lower": 9.11e-11, "upper": 9.81e-11, "origin": "computed: part", "computed": True},
    "guard_band": 0.1e-11,
    "acceptance_lower": 9.11e-11,
    "acceptance_upper": 9.81e-11,
    "conformance_probability": 1.92e-101,
    "finding": "accept",
    "budget": [
        {
            "input": "part wall", "value": 4.52e-3, "u": 3e-5, "unit": "m", "dof": None,
            "sensitivity": 1.0, "contribution": 3e-5, "share": 1.0,
        }
    ],
}  # fmt: skip


def test_every_field_of_the_schema_has_a_description(registry: Registry) -> None:
    found = schema("verdict", registry)
    models = {"Verdict": found, **found["$defs"]}
    bare = [
        f"{model}.{name}"
        for model, of_model in models.items()
        for name, field in of_model["properties"].items()
        if not field.get("description")
    ]
    assert bare == []
    assert {"Verdict", "Check", "BudgetLine", "ToleranceRecord"} <= set(models)


def test_an_older_check_loads_and_is_told() -> None:
    check = Check.model_validate_json(json.dumps(OLD_CHECK))
    assert (check.rule, check.U, check.u_decides) == ("", None, check.u)
    said = "; ".join(words.sentences(check))
    assert said == (
        "measured 9.37 µε/bar, u 0.14 µε/bar; expected 9.46(14) µε/bar; "
        "tolerance 9.11 to 9.81 µε/bar (computed: part); conformance probability below 0.01 %"
    )
    assert words.expected(check) == ""


@pytest.fixture(scope="module")
def whole(sound: tuple[Entry, ...], judged: Callable[..., Verdict]) -> Verdict:
    return judged(sound)


def named(verdict: Verdict, name: str) -> Check:
    return next(check for check in verdict.checks if (check.name, check.subject) == (name, "hoop"))


def test_a_verdict_comes_back_as_it_was_written(whole: Verdict) -> None:
    assert from_bytes(to_bytes(whole)) == whole


def test_a_limit_says_whether_anybody_wrote_it(sound: tuple[Entry, ...], told: Any, judged: Any) -> None:
    steps = """\
  - resistance: {change from packet: within 0.5 %}
  - insulation: {}
  - balance: {drift: within 5 µε}
  - shunt: {resistor: 174.8 kΩ ± 0.1 %}
"""
    verdict = judged(told(sound, steps=steps))
    assert named(verdict, "change from packet").tolerance.origin == "procedure: within 0.5 %"
    assert named(verdict, "insulation").tolerance.origin == "default: at least 1 GΩ"
    assert named(verdict, "offset").tolerance.origin == "default: within 1.5 mV/V"
    assert named(verdict, "drift").tolerance.origin == "procedure: within 5 µε"
    assert named(verdict, "zero after shunt").tolerance.origin == "default: within 2 µε"


def test_every_input_says_where_it_comes_from(whole: Verdict) -> None:
    lines = [line for check in whole.checks for line in check.budget]
    assert lines
    assert [line.input for line in lines if not (line.source and line.unit and line.shape)] == []
    sources = {line.input: (line.stated, line.source) for line in lines}
    for name, stated, source in (
        ("part elastic modulus", "206 GPa ± 2 %", "rig.yaml: part.material.elastic modulus"),
        ("hoop gauge factor", "2.08 ± 0.5 %", "rig.yaml: gauges.hoop.gauge factor"),
        ("hoop lead", "0.8 Ω ± 10 %", "rig.yaml: channels.hoop.reduction.lead"),
        ("hoop gauge resistance", "as measured in this run", "as measured in this run"),
        ("shunt resistor", "174.8 kΩ ± 0.1 %", "procedure: shunt.resistor"),
        ("pressure: accuracy of reading", "0.1 %", "rig.yaml: channels.pressure.accuracy.of reading"),
        ("hoop: accuracy fixed", "resolution 0.005 µV/V", "rig.yaml: channels.hoop.accuracy.resolution"),
        ("wall temperature r0", "100 Ω", "default: channels.wall temperature.reduction.r0"),
        ("hoop output", "", "mean of 100 readings"),
    ):
        assert sources[name] == (stated, source)
    (filling,) = {source for name, source in sources.items() if name == "part filling temperature"}
    assert filling[1] == "default: part.filling temperature"


def test_checks_carry_the_unit_of_their_numbers(whole: Verdict) -> None:
    assert [c.name for c in whole.checks if c.unit != kind_of(c.kind).base] == []
    assert named(whole, "sensitivity").unit == "1/Pa"


def test_a_shunt_reading_stands_for_a_strain_between_named_points(whole: Verdict) -> None:
    """-Rg/(F (Rg + Rs)) of strain (Rs 174.8 kΩ on 350 Ω at F = 2.08), a hundredth of it for leads and linearity."""
    check = named(whole, "shunt reading")
    assert check.equivalent_strain == pytest.approx(-350 / (2.08 * (350 + 174.8e3)), rel=0.015)
    assert "between the excitation and the signal terminal" in check.note
    assert "µε of indicated strain" in "; ".join(words.sentences(check))


def test_noise_has_degrees_of_freedom_and_a_budget(whole: Verdict) -> None:
    """u(s) = s/√(2 (n - 1)), n = 100 (GUM, E.4.3); the guard band is that of noise at the limit of 2 µε."""
    check = named(whole, "noise")
    assert check.measured is not None
    assert (check.dof, [line.source for line in check.budget]) == (99, ["standard deviation of 100 readings"])
    assert check.u == pytest.approx(check.measured / math.sqrt(198))
    assert check.acceptance_upper == pytest.approx(2e-6 * (1 - 1.6604 / math.sqrt(198)), rel=1e-4)


def test_the_screen_names_the_rules(whole: Verdict, capsys: pytest.CaptureFixture[str]) -> None:
    print_verdict(whole, Path("record"))
    assert "\nrules: guarded acceptance, risk 5 %; agreement within U, 99 %\n" in capsys.readouterr().out


def test_the_table_fits_eighty_columns(whole: Verdict) -> None:
    undecided = [check.model_copy(update={"finding": "undecided"}) for check in whole.checks]
    long = [check.model_copy(update={"subject": "gauge at the lower weld, east side"}) for check in whole.checks]
    for checks in (undecided, long, whole.checks):
        lines = table(checks).splitlines()
        assert max(map(len, lines)) <= 80
    assert any("accept sensitivity, hoop" in line and "µε/bar" in line and " ± " in line for line in lines)


@pytest.mark.parametrize(
    ("share", "said"),
    [(0.0, "below 0.01 %"), (1.92e-103, "below 0.01 %"), (1e-4, "0.01 %"), (0.5, "50 %"), (0.97251, "97.25 %"),
     (0.9998, "99.98 %"), (0.99995, "above 99.99 %"), (1.0, "above 99.99 %")],
)  # fmt: skip
def test_probabilities_as_people_read_them(share: float, said: str) -> None:
    assert words.percent(share) == said
