"""The user's page: its documents are loaded and run as written, and its numbers and words are those of the program."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import cast

import pytest

from rigproof.documents import bench, fit, load_procedure, load_rig
from rigproof.errors import UsageError
from rigproof.plugins import Registry
from rigproof.run.accepting import run_and_judge
from rigproof.run.plan import Plan
from rigproof.run.progress import Silent
from rigproof.run.simulated import reach_of, simulation
from rigproof_twin import faults
from rigproof_twin.faults import Fault, FaultyWire
from rigproof_twin.simulator import SimulatedRig

ROOT = Path(__file__).parents[3]
SPOOL = ROOT / "tests" / "rigs" / "spool"
PAGE = (ROOT / "plugins" / "rigproof_scpi" / "README.md").read_text("utf-8")
STEPS = """\
  - balance: {settle: 2 s}
  - shunt: {resistor: 174.8 kΩ ± 0.1 %}
  - cycles: {source: pump, to: 20 bar, times: 2, levels: 2, exercise: 0, dwell: 2 s, rest: 5 s, readings: 5}
"""


def snippet(name: str) -> str:
    (found,) = re.findall(rf"<!-- {name} -->\n```yaml\n(.*?)```", PAGE, re.DOTALL)
    return str(found)


def put(document: str, snippet: str) -> str:
    """The document with the snippet in the place of the entry, or entries, of its name."""
    indented = re.sub("^(?=.)", "  ", snippet, flags=re.MULTILINE)
    entry = re.compile(rf"^  {snippet.split(':')[0]}:\n(?:    .*\n)+", re.MULTILINE)
    assert len(entry.findall(document)) == 1
    return entry.sub(lambda _: indented, document)


@pytest.fixture
def page_plan(registry: Registry) -> Callable[..., Plan]:
    """A function: a change (old, new) of the page's rig -> the spool with what the page writes."""

    def make(old: str = "", new: str = "") -> Plan:
        text = (SPOOL / "rig.yaml").read_text("utf-8")
        text = put(put(text, snippet("rig: instruments")), snippet("rig: channels"))
        assert old in text
        rig = load_rig(text=text.replace(old, new) if old else text, registry=registry)
        head = f"rigproof: procedure/1\nname: x\n{snippet('procedure')}"
        procedure = load_procedure(text=f"{head}steps:\n{STEPS}", registry=registry)
        fit(rig, procedure)
        return Plan(rig, procedure, registry)

    return make


def test_the_rig_of_the_page_is_accepted_with_a_retry_and_its_certificate(
    page_plan: Callable[..., Plan], tmp_path: Path
) -> None:
    plan = page_plan()
    rig = cast("SimulatedRig", simulation(plan.rig, SPOOL, plan.registry, 0, ()))
    rig.bench.instruments[plan.rig.instruments["transmitter"].resource].wire = FaultyWire(Fault(faults.NO_REPLY, 60))
    try:
        verdict = run_and_judge(plan, reach_of(rig), tmp_path, Silent())
    finally:
        rig.close()
    assert verdict.verdict == "accept", verdict.why
    assert [(each.instrument, each.count) for each in verdict.retries] == [("transmitter", 1)]
    (transmitter,) = [each for each in verdict.instruments if each.name == "transmitter"]
    assert (transmitter.certificate, transmitter.calibration_due) == ("2026-0305", "2027-03-15")
    lines = [line for check in verdict.checks for line in check.budget]
    gains = {line.input: line.u for line in lines if line.input == "pressure: accuracy of reading"}
    assert gains == {"pressure: accuracy of reading": pytest.approx(0.025e-2)}  # U = 0.05 %, k = 2


def test_the_procedure_of_the_page_refuses(page_plan: Callable[..., Plan], tmp_path: Path) -> None:
    """The twin's day is 2026-11-25."""
    plan = page_plan("due: 2027-03-15", "due: 2026-11-24")
    rig = simulation(plan.rig, SPOOL, plan.registry, 0, ())
    with pytest.raises(UsageError, match=r"2026-0305.* ran out on 2026-11-24"):
        run_and_judge(plan, reach_of(rig), tmp_path, Silent())
    rig.close()


def test_the_numbers_of_the_page() -> None:
    policy = bench.Retries(times=1)
    assert f"`wait` before each, {policy.wait.text} unless written; `in a run` altogether, {policy.in_a_run}" in PAGE
    assert f"no more than {bench.MOST_BLIND_S:g} s" in PAGE


@pytest.mark.parametrize(
    "said",
    [
        *("cannot be resolved", "connection refused", "does not answer", "no way to", "and not for a port"),
        "wrong terminator",
        *("wrong baud rate, parity or number of bits", "connected, and silent", "no identity"),
    ],
)
def test_the_page_explains_what_the_diagnosis_says(said: str) -> None:
    assert said in PAGE
    folder = ROOT / "plugins" / "rigproof_scpi"
    assert any(said in (folder / name).read_text("utf-8") for name in ("diagnosis.py", "session.py"))
