"""What is possible and hardly meant: a caution of `check`, `plan` and every run."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from rigproof.documents import load_procedure
from rigproof.errors import DocumentError
from rigproof.plugins import Registry
from rigproof.run.plan import Plan
from rigproof.run.planned import hopeless_of
from rigproof.run.plausible import doubtful

Planned = Callable[..., Plan]
PROOF = "  - proof: {source: pump, to: 35.75 bar}\n"
MATERIAL = """\
    elastic modulus: 206 GPa ± 2 %
    poisson ratio: 0.29 ± 0.01
    expansion: 11.7 ppm/K ± 0.3 ppm/K
    yield strength: 235 MPa
"""


def said(plan: Plan) -> list[str]:
    return list(doubtful(plan.rig, plan.procedure))


def test_nothing_is_doubtful_of_the_spool(spool: Plan) -> None:
    assert said(spool) == []


@pytest.mark.parametrize(
    ("old", "new", "starts"),
    [
        # first yield by Lame and von Mises at the bore: 109.7 bar (tests/reference/test_cylinders.py)
        (
            "limit: 40 bar",
            "limit: 400 bar",
            ["limit of pump: 400 bar is beyond 109.7 bar, the load at first yield: overpressure, hoop strain, "],
        ),
        ("above: 38 bar", "above: 45 bar", ["interlock 'overpressure' can never trip: at 40 bar, below its 45 bar"]),
        (
            "{model: quarter bridge, wires: 3, lead: 0.8 Ω ± 10 %}\n    instrument: bridge\n    input: 1",
            "{model: half bridge, arrangement: along and across, poisson ratio: 0.29, lead: 0.8 Ω ± 10 %}\n"
            "    instrument: bridge\n    input: 1",
            # (1 - (1 - 2 nu)/(2 - nu))/(1 + nu) = 0.585 of it, with nu = 0.29, and a little transverse sensitivity
            ["hoop: where the part strains by 1035 µε along the gauge, this half bridge shows 60"],
        ),
        (MATERIAL, "", ["Not written, and so taken from the built-in table: part.material.elastic modulus"]),
        (
            "    yield strength: 235 MPa\n",
            "",
            ["Not written, and so taken from the built-in table: part.material.yiel"],
        ),
    ],
)
def test_a_rig_that_guards_nothing_or_leaves_values_out(
    planned: Planned, old: str, new: str, starts: list[str]
) -> None:
    found = said(planned(PROOF, (old, new)))
    assert [text.startswith(start) for text, start in zip(found, starts, strict=True)] == [True] * len(starts), found


@pytest.mark.parametrize(
    ("step", "word"),
    [
        # 0.5 % of 35.75 bar in a second, times 60
        ("  - proof: {source: pump, to: 35.75 bar, hold: 1 s}\n", "a leak slower than 10.7 bar/min stays within"),
        ("  - cycles: {source: pump, to: 25 bar, zero return: within 99 %}\n", "`zero return: within 99 %` is so wide"),
    ],
)
def test_a_step_that_hardly_shows_anything(planned: Planned, step: str, word: str) -> None:
    (text,) = said(planned(step))
    assert word in text


def test_a_step_beyond_the_highest_proof_load(planned: Planned) -> None:
    """Nine tenths of 109.7 bar; the source aims 1 % above what it is to show."""
    interlocks = [("above: 38 bar", "above: 105 bar"), ("limit: 40 bar", "limit: 105 bar")]
    (text,) = said(planned(PROOF.replace("35.75", "100"), *interlocks))
    assert text.startswith("Step 1 proof goes to 101 bar, beyond 98.69 bar, the highest proof load")


def test_a_risk_that_leaves_no_guard_band(spool: Plan) -> None:
    rule = replace(spool.procedure.decision, risk=0.5)
    (text,) = said(replace(spool, procedure=replace(spool.procedure, decision=rule)))
    assert text.startswith("decision: a risk of 50 %")


def test_no_load_no_acceptance(planned: Planned, spool: Plan) -> None:
    plan = planned("  - balance: {}\n")
    assert "no step loads the part and reads hoop, axial: write one such as `cycles` or `proof`" in list(
        hopeless_of(plan.rig, plan.rehearsed)
    )
    assert not any("no step loads" in text for text in hopeless_of(spool.rig, spool.rehearsed))


def test_a_shunt_resistor_that_lost_its_prefix(registry: Registry) -> None:
    text = "rigproof: procedure/1\nname: x\nsteps:\n  - shunt: {resistor: 174.8 Ω}\n"
    with pytest.raises(DocumentError, match="out of bounds") as error:
        load_procedure(text=text, registry=registry)
    assert error.value.faults[0].remedy.startswith("it must be at least 1 kΩ")


SHUNT = "  - shunt: {channels: [hoop], resistor: 174.8 kΩ ± 0.1 %}\n"
ARMING = "  - arming: {source: pump}\n"
BALANCE = "  - balance: {settle: 5 s}\n"
LOADED = "  - cycles: {source: pump, to: 25 bar}\n"


@pytest.mark.parametrize(
    ("steps", "alike"),
    [
        (SHUNT + SHUNT, ["Steps 1 and 2 shunt are alike"]),
        (
            SHUNT + BALANCE + ARMING + SHUNT + ARMING,
            ["Steps 1 and 4 shunt are alike", "Steps 3 and 5 arming are alike"],
        ),
        (SHUNT + SHUNT + SHUNT, ["Steps 1 and 2 shunt are alike", "Steps 2 and 3 shunt are alike"]),
        (SHUNT + SHUNT.replace("hoop", "axial") + SHUNT, ["Steps 1 and 3 shunt are alike"]),
        (SHUNT + SHUNT.replace("[hoop]", "hoop"), ["Steps 1 and 2 shunt are alike"]),  # two ways to write one thing
        (SHUNT + SHUNT.replace("hoop", "axial"), []),
        (SHUNT + SHUNT.replace("0.1 %", "0.2 %"), []),
        (BALANCE + SHUNT + LOADED + BALANCE + SHUNT, []),
        (LOADED + LOADED, []),  # each loading exercises the bond
        (BALANCE + "  - thermal output: {}\n" + BALANCE, []),
        (BALANCE + "  - inspection: {of: rewiring, items: {leads: {do: Solder the leads anew}}}\n" + BALANCE, []),
    ],
)
def test_a_step_taken_twice_alike(planned: Planned, steps: str, alike: list[str]) -> None:
    found = [text.partition(",")[0] for text in said(planned(steps))]
    assert found == alike
