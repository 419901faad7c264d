"""acceptance.yaml: a right one, and every wrong one at its place."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from rigproof.documents import fit, load_procedure, load_rig
from rigproof.errors import DocumentError, Fault, PluginFault
from rigproof.plugins import Registry
from rigproof.uncertainty import Rule

Faults = Callable[[str], list[Fault]]


def test_a_right_procedure(kinds: Registry, procedure_text: str) -> None:
    found = load_procedure(text=procedure_text, name="a.yaml", registry=kinds)
    assert (found.name, found.file) == ("Look at the plate", "a.yaml")
    assert found.decision == Rule("guarded acceptance", 0.05, 0.99)
    assert [step.kind for step in found.steps] == ["look", "look", "press"]
    assert found.steps[0] == kinds.steps["look"]()


def test_the_decision_has_defaults(kinds: Registry, procedure_text: str) -> None:
    text = procedure_text.replace("decision: {rule: guarded acceptance, risk: 5 %}\n", "")
    assert load_procedure(text=text, registry=kinds).decision == Rule()


def test_guard_bands_may_be_a_multiple_of_u_instead(kinds: Registry, procedure_text: str) -> None:
    """JCGM 106, 8.3.2: w = r U; 1 is the rule of ISO 14253-1 (from memory)."""
    text = procedure_text.replace("risk: 5 %", "multiple: 1")
    assert load_procedure(text=text, registry=kinds).decision == Rule("guarded acceptance", multiple=1.0)


WRONG = [
    ("risk: 5 %", "risk: 5 %, multiple: 1", "3:11", "decision", "both say how wide", "write one of them"),
    ("risk: 5 %", "multiple: -1", "3:48", "decision.multiple", "out of bounds", "at least 0"),
    ("procedure/1", "procedure/2", "1:11", "rigproof", "another version", "write `rigproof: procedure/1`"),
    ("procedure/1", "rig/1", "1:11", "rigproof", "this is no procedure", "begins `rigproof: procedure/1`"),
    (
        "rule: guarded acceptance",
        "rule: guarded acceptence",
        "3:18",
        "decision.rule",
        "none of",
        "'guarded acceptance'?",
    ),
    ("risk: 5 %", "risk: 5", "3:44", "decision.risk", "out of bounds", "at most 50 %"),
    ("risk: 5 %", "risk: 0 %", "3:44", "decision.risk", "out of bounds", "above 0 %"),
    ("risk: 5 %", "risc: 5 %", "3:38", "decision.risc", "unknown key", "did you mean 'risk'?"),
    ("  - look\n", "  - loook\n", "5:5", "steps[1]", "'loook' is no kind of step", "did you mean 'look'?"),
    ("  - look:", "  - lok:", "6:5", "steps[2].lok", "'lok' is no kind of step", "did you mean 'look'?"),
    ("hold: 10 min", "hold: 10", "6:38", "steps[2].look.hold", "'10' has no unit", "min"),
    ("hold: 10 min", "hld: 10 min", "6:32", "steps[2].look.hld", "unknown key 'hld'", "did you mean 'hold'?"),
    ("{channels: [middle], hold: 10 min}", "middle", "6:11", "steps[2].look", "'middle' stands where", "key: value"),
    ("press: {to: 50 kN}", "press: {}", "7:5", "steps[3].press", "the key 'to' is missing", "write `to: …`"),
    ("press: {to: 50 kN}", "press", "7:5", "steps[3]", "the key 'to' is missing", "write `to: …`"),
    ("press: {to: 50 kN}", "{press: {to: 50 kN}, look: }", "7:26", "steps[3].look", "two keys", "begin the next"),
    ("press: {to: 50 kN}", "[press]", "7:5", "steps[3]", "a step is a key with its parameters", "look, press"),
    ("to: 50 kN", "to: 50 mm", "7:17", "steps[3].press.to", "no gauge pressure or force", "kN"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "place", "where", "said", "remedy"), WRONG)
def test_a_wrong_procedure(
    procedure_text: str, procedure_faults: Faults, old: str, new: str, place: str, where: str, said: str, remedy: str
) -> None:
    assert procedure_text.count(old) == 1
    (fault,) = procedure_faults(procedure_text.replace(old, new))
    assert (f"{fault.line}:{fault.column}", fault.where) == (place, where)
    assert said in fault.message
    assert remedy in fault.remedy


def test_no_steps_are_a_fault(procedure_text: str, procedure_faults: Faults) -> None:
    (fault,) = procedure_faults(procedure_text[: procedure_text.index("steps:")] + "steps: []\n")
    assert (fault.line, fault.where) == (4, "steps")
    assert "at least 1 must" in fault.message


def test_what_does_not_fit_the_rig_is_placed(kinds: Registry, rig_text: str, procedure_text: str) -> None:
    rig = load_rig(text=rig_text, registry=kinds)
    fit(rig, load_procedure(text=procedure_text, registry=kinds))
    wrong = load_procedure(text=procedure_text.replace("[middle]", "[midle]"), registry=kinds)
    for _ in range(2):  # the tree is kept, and its faults are those of its form alone
        with pytest.raises(DocumentError) as caught:
            fit(rig, wrong)
    (fault,) = caught.value.faults
    assert (fault.line, fault.column, fault.where) == (6, 22, "steps[2].look.channels")
    assert fault.message == "'midle' is no channel of the rig"


def _lose(step: object, rig: object) -> None:
    raise KeyError("lost")


def test_a_step_that_breaks_is_named(
    kinds: Registry, rig_text: str, procedure_text: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    rig = load_rig(text=rig_text, registry=kinds)
    procedure = load_procedure(text=procedure_text, registry=kinds)
    monkeypatch.setattr(kinds.steps["look"], "problems", _lose)
    with pytest.raises(PluginFault, match="step 'look' broke while it looked at a rig: KeyError: 'lost'"):
        fit(rig, procedure)
