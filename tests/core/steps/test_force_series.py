"""Step `force series`: what it asks of rig and procedure, its path, and the class that a figure gives."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from rigproof.documents import load_procedure, load_rig
from rigproof.documents.load import fit
from rigproof.documents.rig import Rig
from rigproof.errors import DocumentError, InstrumentError
from rigproof.plugins import Registry
from rigproof.run.paper import PaperRig
from rigproof.steps.checks import Subject
from rigproof.steps.class_limits import ClassLimits, class_check
from rigproof.steps.force_series import ForceSeries
from rigproof.steps.record import StepRecord
from rigproof.uncertainty import Estimate, Rule

FOLDER = Path(__file__).parents[3] / "rigs" / "forcecell"
RULE = Rule("guarded acceptance", 0.05, 0.99)


@pytest.fixture(scope="module")
def rig(registry: Registry) -> Rig:
    return load_rig(FOLDER / "rig.yaml", registry)


def step(registry: Registry, rig: Rig | None = None, *changes: tuple[str, str]) -> ForceSeries:
    text = (FOLDER / "acceptance.yaml").read_text("utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    procedure = load_procedure(text=text, registry=registry)
    if rig is not None:
        fit(rig, procedure)
    found = procedure.steps[-1]
    assert isinstance(found, ForceSeries)
    return found


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("[0°, 120°, 240°]", "[0°, 360°, 240°]", "14:22: .*360° is the same position as 0°"),
        ('wanted class: "1"', 'wanted class: "3"', "17:21: .*'3' is none of the classes 00, 0.5, 1, 2"),
        ("degree: 3", "creep until: 30 s", "16:20: .*30 s is not after the dwell of 30 s"),
        ("degree: 3", "degree: 4", "degree"),
        ("rotated by: turntable", "rotated by: turntabel", "'turntabel' is no instrument of the rig that rotates"),
        ("rotated by: turntable", "rate: 5 kN/s", "'press' is no instrument of the rig that rotates the part"),
        ('wanted class: "1"', 'wanted class: "00"', "the force is known to 0.023 % .k = 2., and class 00 asks 0.01 %"),
        ("reproducibility: within 0.20 %, ", "", "reproducibility"),
        ("to: 100 kN", "to: 100 bar", "gauge pressure"),
    ],
)
def test_what_does_not_fit_is_refused_with_its_place(
    registry: Registry, rig: Rig, old: str, new: str, message: str
) -> None:
    with pytest.raises(DocumentError, match=message):
        step(registry, rig, (old, new))


def test_its_path_on_paper_is_that_of_the_series(registry: Registry, rig: Rig) -> None:
    """Two series up in the first position, one up and down in each other, preloads between, creep at the end."""
    made = step(registry, rig)
    paper = PaperRig(rig, RULE)
    paper.begin_step(5, made.kind)
    made.acquire(paper)
    record = paper.record()
    levels = [(b.tags["series"], b.tags["level"], b.tags["direction"]) for b in record.blocks("level")]
    up, down = [(n, "up") for n in range(1, 11)], [(n, "down") for n in range(9, 0, -1)]
    assert levels == [
        *((series, *at) for series in (1, 2) for at in up),
        *((series, *at) for series in (3, 4) for at in (*up, *down)),
    ]
    commands = record.events("command")
    turns = [round(np.degrees(command["rotate_rad"])) for command in commands if "rotate_rad" in command]
    assert turns == [0, 120, 240]
    assert sum("preload" in str(command.get("text")) for command in commands) == 2 * (3 + 1 + 1)
    assert [(b.tags["after"], b.tags["at"]) for b in record.blocks("creep")] == [
        (after, at) for after in ("load", "unload") for at in ("soon", "late")
    ]
    soon, late = record.blocks("creep")[:2]
    assert late.t - soon.t == pytest.approx(270.0, abs=2.0)
    checks = made.judge(rig, RULE, record)
    assert [check.finding for check in checks] == ["accept"] * 9
    assert {check.note for check in checks[3:]} == {"class 00 by this figure"}


def test_series_that_were_broken_off_are_not_judged(registry: Registry, rig: Rig) -> None:
    made = step(registry, rig)
    paper = PaperRig(rig, RULE)
    paper.begin_step(5, made.kind)
    made.acquire(paper)
    record = paper.record()
    short = StepRecord(record.step, record.kind, record.entries[:-3])
    last = made.judge(rig, RULE, short)[-1]
    assert (last.finding, last.note) == ("undecided", "the series were not finished")


def test_nothing_is_rotated_under_load(rig: Rig) -> None:
    paper = PaperRig(rig, RULE)
    paper.begin_step(1, "force series")
    paper.rise_to("press", 10e3, None, "up")
    with pytest.raises(InstrumentError, match="turntable: the part is under load; it is rotated without load alone"):
        paper.rotate("turntable", 1.0)
    paper.rise_to("press", 0.0, None, "down")
    paper.rotate("turntable", 1.0)


def limits(share: str) -> ClassLimits:
    figures = ("reproducibility", "repeatability", "interpolation", "reversibility", "zero", "creep")
    return ClassLimits.model_validate(dict.fromkeys(figures, f"within {share}"))


@pytest.mark.parametrize(
    ("value", "u", "finding", "note"),
    [
        (0.0002, 1e-6, "accept", "class fine by this figure"),
        (0.0009, 1e-6, "accept", "class usual by this figure"),
        (-0.0009, 1e-6, "accept", "class usual by this figure"),
        (0.0015, 1e-6, "reject", "class coarse by this figure"),
        (0.0099, 1e-3, "reject", "no class of the table by this figure"),
        (0.00045, 1e-4, "accept", "class usual by this figure"),  # inside fine, and not surely
        (0.0010, 1e-4, "undecided", "class coarse by this figure"),
    ],
)
def test_the_class_is_the_first_that_surely_holds(value: float, u: float, finding: str, note: str) -> None:
    classes = {"fine": limits("0.05 %"), "usual": limits("0.1 %"), "coarse": limits("0.2 %")}
    record = StepRecord(1, "force series", ())
    tried = [(Subject("creep", "cell", "ratio", f"at {at}"), Estimate(at * value, u, np.inf)) for at in (0.5, 1.0)]
    check = class_check(record, tried, classes, "usual", RULE, "procedure, from a data sheet")
    assert (check.finding, check.note, check.at) == (finding, note, "at 1.0")
    assert check.tolerance.origin == "procedure, from a data sheet, class usual: within 0.1 %"
