"""A whole guided installation: simulated, with a file, suspended over a night; its record in verdict and report."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from rigproof.__main__ import run
from rigproof.clock import JumpingClock
from rigproof.commands.scripted import Scripted
from rigproof.documents import load_both
from rigproof.errors import DocumentError, ExitCode, UsageError
from rigproof.journal import read_journal
from rigproof.plugins import Registry
from rigproof.run.accepting import run_and_judge
from rigproof.run.opening import Reach
from rigproof.run.plan import Plan, make_plan
from rigproof.run.planned import planned as planned_record
from rigproof.run.progress import Silent
from rigproof.run.resuming import Earlier, take_up
from rigproof.steps.tasks import COMMON_PRACTICE
from rigproof.verdict.judging import judge
from rigproof.verdict.record import Verdict, to_bytes

BEAM = Path(__file__).parents[3] / "rigs" / "beam"
INSTALLATION = "installation.yaml"
PLATES = """\
weights serial number: D-0005
indicator serial number: S-0031
ohmmeter serial number: R-0117
insulation tester serial number: M-0020
weights empty: yes
"""
Acceptance = Callable[..., Verdict]


@pytest.fixture(scope="module")
def beam(registry: Registry) -> Plan:
    return make_plan(BEAM, registry, INSTALLATION)


@pytest.fixture(scope="module")
def installed(accept: Acceptance, beam: Plan, tmp_path_factory: pytest.TempPathFactory) -> tuple[Verdict, Path]:
    folder = tmp_path_factory.mktemp("installed")
    return accept(beam, folder, rig_folder=BEAM), folder


@pytest.fixture
def guided(tmp_path: Path) -> Callable[[str], Path]:
    """A function: the lines of `steps:` -> the beam's folder with a procedure of them."""

    def make(steps: str) -> Path:
        for name in ("rig.yaml", "twin.yaml"):
            (tmp_path / name).write_text((BEAM / name).read_text("utf-8"), "utf-8")
        (tmp_path / "acceptance.yaml").write_text(f"rigproof: procedure/1\nname: x\nsteps:\n{steps}", "utf-8")
        return tmp_path

    return make


def answers(folder: Path, *lines: str) -> Path:
    file = folder / "answers.txt"
    file.write_text("\n".join(["rigproof: answers/1", "person: A. Example", *lines]), "utf-8")
    return file


def test_the_simulated_beam_is_installed_and_accepted(installed: tuple[Verdict, Path], beam: Plan) -> None:
    verdict, _ = installed
    assert verdict.verdict == "accept", verdict.why
    assert verdict.why == ("every check is inside its acceptance limits",)
    tasks = [task.name for step in beam.procedure.steps if step.kind != "signature" for task in step.tasks()]
    assert [line.item for line in verdict.installation] == tasks
    assert {line.person for line in verdict.installation} == {"simulated person"}
    assert [text.partition(",")[0] for text in verdict.signatures] == [
        "ready for bonding: another person than simulated person",
        "handed over: simulated person",
    ]
    assert not any("person" in aspect or "bonding" in aspect for aspect in verdict.shown)  # words show nothing


def test_every_default_says_that_it_has_no_source(installed: tuple[Verdict, Path]) -> None:
    lines = {(line.of, line.item): line for line in installed[0].installation}
    assert {line.origin for line in lines.values()} == {COMMON_PRACTICE, "procedure: sheet of the adhesive, page 3"}
    assert lines["bonding, bottom", "press"].at_least_origin == "procedure: sheet of the adhesive, page 2"
    assert lines["bonding, top", "rest"].at_least_origin == COMMON_PRACTICE
    assert lines["strain relief", "loop"].range_origin == COMMON_PRACTICE
    assert lines["cure of coating", "cure"].at_least_origin == COMMON_PRACTICE
    entries = read_journal(installed[1] / "journal.jsonl").entries
    asked = [e.data["question"] for e in entries if e.kind == "asked" and e.data["label"] == "bonding, top begin rest"]
    assert all("At least 2 min." in question and COMMON_PRACTICE not in question for question in asked)
    assert asked


def test_the_coating_cured_by_its_thickness(installed: tuple[Verdict, Path]) -> None:
    lines = {line.of: line for line in installed[0].installation}
    (thickness,) = (line.value for line in installed[0].installation if line.measured == "coating thickness")
    assert thickness is not None
    assert lines["cure of coating"].at_least == pytest.approx(86400 * thickness / 0.4e-3)
    assert lines["cure of coating"].took >= (lines["cure of coating"].at_least or 0.0)


def test_the_record_alone_gives_the_same_bytes(installed: tuple[Verdict, Path], registry: Registry) -> None:
    verdict, folder = installed
    again = judge(read_journal(folder / "journal.jsonl"), registry)
    assert to_bytes(again) == to_bytes(verdict) == (folder / "verdict.json").read_bytes()


def test_screen_and_report_have_the_installation_record(
    installed: tuple[Verdict, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = installed[1]
    assert run(["judge", str(folder / "journal.jsonl"), "--out", str(tmp_path)]) == ExitCode.ACCEPT
    shown = capsys.readouterr().out
    assert "bonding, bottom: 7 items, simulated person, 2026-11-25 08:04 to 08:09 UTC" in shown
    assert "signed: handed over: simulated person, 2026-11-26 " in shown
    assert run(["report", str(folder)]) == ExitCode.ACCEPT
    html = (folder / "report.html").read_text("utf-8")
    assert "Installation record" in html
    assert "distance of the loop 11.5 mm (10 to 13 mm)" in html
    assert "The gauges were installed as recorded" in html


def test_a_plan_has_every_item_with_its_time_and_caution(beam: Plan, capsys: pytest.CaptureFixture[str]) -> None:
    record = planned_record(beam)
    bonding = record.steps[3]
    assert [task.name for task in bonding.tasks] == [task.name for task in beam.procedure.steps[3].tasks()]
    assert bonding.duration.value == 60 + 90 + 120  # the least times
    assert run(["plan", str(BEAM), "--procedure", INSTALLATION]) == ExitCode.ACCEPT
    shown = " ".join(capsys.readouterr().out.split())
    assert "Leave the tape on. At least 2 min." in shown
    assert shown.count("common practice") == 1  # for all of the plan
    assert shown.count("Dust of metal and abrasive") == 1  # beside the work, and not again at the end
    assert "At least 90 s (procedure: sheet of the adhesive, page 2)." in shown
    cautions = shown.partition("CAUTIONS")[2]
    assert "safety data sheets" in cautions
    for word in ("Solvents burn", "Scrapers are sharp", "glue skin", "dust", "hold energy"):
        assert word in shown


def test_deviations_are_conceded_by_name_and_told_everywhere(
    guided: Callable[[str], Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = guided("  - inspection: {of: glue, items: {press: {do: Press, at least: 1 min}}}\n" + CYCLES)
    file = answers(folder, "after: 40 s", "glue done press: yes", "after: 2 s", "glue done press: short: it had set")
    out = tmp_path / "out"
    command = ["run", str(folder), "--simulated", "--answers", str(file), "--out", str(out)]
    assert run(command) == ExitCode.ACCEPT
    told = "glue, press: 42 s in place of at least 1 min: it had set (A. Example)"
    assert f"DEVIATION {told}" in capsys.readouterr().out
    verdict = json.loads((out / "verdict.json").read_text("utf-8"))
    inside = "every check is inside its acceptance limits or stands by a concession"
    assert verdict["why"] == [inside, f"by concession: {told}"]
    assert verdict["people"] == [{"name": "A. Example", "how": "file answers.txt; at the instruments simulated"}]
    assert run(["report", str(out)]) == ExitCode.ACCEPT
    html = (out / "report.html").read_text("utf-8")
    assert "42 s in place of at least 1 min: it had set" in html
    assert "every check is inside its acceptance limits, or stands by a concession" in html
    assert "A. Example (file answers.txt; at the instruments simulated)" in html


CYCLES = "  - cycles: {source: weights, to: 58.85 N, times: 2, levels: 3, exercise: 0, dwell: 1 s, rest: 1 s}\n"


def test_after_a_refusal_no_work_goes_on(guided: Callable[[str], Path], tmp_path: Path) -> None:
    folder = guided(
        "  - inspection: {of: bonding}\n  - inspection: {of: coating}\n  - cure: {since: coating}\n" + CYCLES
    )
    file = answers(folder, "bonding done position: no: the packet was empty")
    out = tmp_path / "out"
    assert (
        run(["run", str(folder), "--simulated", "--answers", str(file), "--out", str(out), "--quiet"])
        == ExitCode.REJECT
    )
    verdict = Verdict.model_validate_json((out / "verdict.json").read_bytes())
    assert [step.taken for step in verdict.steps] == ["whole", "not taken", "not taken", "not taken"]
    assert verdict.steps[1].why.startswith("not before earlier steps are settled (inspection: items done of bonding")
    assert "position: the packet was empty" in verdict.why[0]


NIGHT = """\
  - inspection:
      of: coating
      items:
        dry: {do: Look}
        film: {do: Measure, value: {of: coating thickness, lowest: 0.2 mm, highest: 0.5 mm}}
        rim: {do: Look, at least: 5 s}
  - cure: {since: coating, concessions: no}
  - signature: {of: end, statement: It is hard, by: another person}
"""
EVENING = """\
coating done dry: yes
coating done film: yes
coating value film: 0.6 mm
coating keep film: keep: one coat less would leave the edge bare
after: 5 s
coating done rim: yes
weights empty: yes
"""


def test_a_long_cure_suspends_a_real_run_that_goes_on_the_next_day(
    guided: Callable[[str], Path], registry: Registry, tmp_path: Path
) -> None:
    """All of the beam's instruments are read by hand, so that a file and a clock make a real run of it."""
    folder, out = guided(NIGHT), tmp_path / "out"
    out.mkdir()
    plan, clock = make_plan(folder, registry), JumpingClock(datetime(2026, 11, 25, 16, tzinfo=UTC))

    def go_on(lines: str, earlier: Earlier | None = None) -> Verdict:
        script = Scripted(answers(folder, *PLATES.splitlines(), *lines.splitlines()), lambda _: None, clock)
        return run_and_judge(plan, Reach(clock=clock, answers=script), out, Silent(), earlier=earlier)

    evening = go_on(EVENING)
    assert (evening.verdict, evening.not_before) == ("void", "2026-11-27T04:00:05+00:00")  # 36 h for 0.6 mm
    assert evening.why == ("suspended until 2026-11-27 04:00:05 UTC: cure of coating",)
    assert [line.item for line in evening.installation] == ["dry", "film", "rim"]
    with pytest.raises(UsageError, match="suspended until 2026-11-27 04:00:05 UTC"):
        go_on("", _of(out, plan))
    clock.wait(40 * 3600)
    verdict = go_on("end name: A. Example\nend name: B. Example\nend sign: yes\nweights empty: yes\n", _of(out, plan))
    assert [step.finding for step in verdict.steps] == ["accept", "accept", "accept"]
    assert verdict.end == "finished: to the end of the procedure"
    assert verdict.verdict == "undecided"  # for want of a load
    cure = verdict.installation[-1]
    assert (cure.of, cure.at_least, cure.took) == ("cure of coating", 36 * 3600, 40 * 3600)
    (asked,) = (e.data for e in read_journal(out / "journal.jsonl").entries if e.data.get("answer") == "B. Example")
    assert "A. Example did the work" in asked["question"]
    first = next(e.data for e in read_journal(out / "journal.jsonl").entries if e.data.get("label") == "end name")
    assert "Signed for so far: coating, film: one coat less would leave the edge bare." in first["question"]
    assert to_bytes(judge(read_journal(out / "journal.jsonl"), registry)) == (out / "verdict.json").read_bytes()


def _of(out: Path, plan: Plan) -> Earlier:
    return take_up(out, plan, False, False)


def test_an_inspection_that_was_cut_off_goes_on_where_it_was(
    guided: Callable[[str], Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder, out = guided("  - inspection: {of: layout}\n" + CYCLES), tmp_path / "out"
    command = ["run", str(folder), "--simulated", "--out", str(out), "--answers"]
    half = answers(folder, "layout done packet: yes", "layout done lines: yes")
    assert run([*command, str(half)]) == ExitCode.VOID
    assert "no answer: layout: " in capsys.readouterr().out
    rest = answers(folder, "layout done place: yes", "layout done clean again: yes")
    assert run([*command, str(rest), "--resume"]) == ExitCode.ACCEPT
    verdict = Verdict.model_validate_json((out / "verdict.json").read_bytes())
    assert [line.item for line in verdict.installation] == ["packet", "lines", "place", "clean again"]
    assert verdict.checks[0].measured == 4


def test_a_cure_watches_its_temperature(
    accept: Acceptance, spool: Plan, planned: Callable[..., Plan], tmp_path: Path
) -> None:
    steps = (
        "  - inspection: {of: glue, items: {look: {do: Look}}}\n  - cure: {since: glue, at least: 3 h, temperature: "
    )
    warmth = "{channel: water, lowest: 15 °C, highest: %s}}\n"
    verdict = accept(planned(steps + warmth % "30 °C"), tmp_path)
    time, coldest, warmest = (check for check in verdict.checks if check.step == 2)
    assert (time.finding, coldest.finding, warmest.finding) == ("accept", "accept", "accept")
    assert (coldest.measured or 0.0) < (warmest.measured or 0.0)
    assert coldest.budget
    assert "readings, the longest time between two of them 10 min" in warmest.note
    (tmp_path / "cold").mkdir()
    cold = accept(planned(steps + warmth % "16 °C"), tmp_path / "cold")
    assert [check.finding for check in cold.checks if check.at == "warmest"] == ["reject"]


def test_without_anybody_to_ask_a_run_is_not_begun(
    spool_folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("rig.yaml", "twin.yaml"):
        (tmp_path / name).write_text((spool_folder / name).read_text("utf-8"), "utf-8")
    (tmp_path / "acceptance.yaml").write_text(
        "rigproof: procedure/1\nname: x\nsteps:\n  - inspection: {of: layout}\n", "utf-8"
    )
    assert run(["run", str(tmp_path), "--out", str(tmp_path / "out")]) == ExitCode.WRONG_INPUT
    assert capsys.readouterr().err == (
        "step 1 inspection: a person works this by hand, and there is no terminal to ask in; start the run in a "
        "terminal, give --answers FILE, or --simulated\n"
    )
    assert run(["run", str(tmp_path), "--replayed", "--out", str(tmp_path / "out")]) == ExitCode.WRONG_INPUT
    assert "--replayed: step 1 inspection: a person is asked, and a record has none" in capsys.readouterr().err


WRONG = {
    "- inspection: {of: bondng}": ("steps[1].inspection.of", "no ready-made list is called 'bondng'", "'bonding'"),
    "- inspection: {of: bonding, gauge: tip}": ("steps[1].inspection.gauge", "'tip' is no gauge of the rig", "'top'"),
    "- inspection: {of: 'a:b', items: {x: {do: y}}}": ("steps[1].inspection.of", "'a:b' is no name", "letters"),
    "- inspection: {of: bonding, changes: {pres: {at least: 2 min}}}": (
        *("steps[1].inspection.changes.pres", "'pres' is no item of the ready-made list `bonding`", "'press'"),
    ),
    "- inspection: {of: coating, leave out: [primer]}": (
        *("steps[1].inspection.leave out[1]", "'primer' is no item of the ready-made list `coating`", "coat"),
    ),
    "- inspection: {of: x, items: {a: {do: y}}, leave out: [a]}": ("steps[1].inspection", "'a' is no item", "items"),
    "- inspection: {of: wiring, leave out: [solder, flux, marks]}": (
        *("steps[1].inspection.leave out[1]", "nothing of the list is left", "leave the whole step out"),
    ),
    "- inspection: {of: x, items: {a: {do: y, at least: 5 mm}}}": (
        *("steps[1].inspection.items.a.at least", "a time is wanted", "min"),
    ),
    "- inspection: {of: x, items: {a: {do: y, value: {of: v, lowest: 1 mm, highest: 2 N}}}}": (
        *("steps[1].inspection.items.a.value.highest", "'2 N' is a force, and `lowest` a length", "one unit"),
    ),
    "- signature: {of: x, statement: y, by: another persn}": (
        *("steps[1].signature.by", "'another persn' is none of anyone, another person", "another person"),
    ),
    "- cure: {since: glue, at least: 1 h}": (
        "steps[1].cure.since",
        "no inspection of 'glue' comes before",
        "inspection",
    ),
    "- inspection: {of: bonding}\n  - cure: {since: bonding}": (
        *("steps[2].cure.since", "neither `at least` nor `thickness` is written", "sheet of the adhesive"),
    ),
    "- inspection: {of: coating}\n  - cure: {since: coatin}": ("steps[2].cure.since", "'coatin'", "'coating'"),
    "- inspection: {of: coating}\n  - cure: {since: coating, temperature: {channel: a, lowest: 1 °C, highest: 2 °C}}": (
        *("steps[2].cure.temperature", "'a' is no temperature channel of the rig", "nothing of the sort"),
    ),
    "- inspection: {of: coating}\n  - cure: {since: coating, temperature: {channel: a, lowest: 9 °C, highest: 9 °C}}": (
        *("steps[2].cure.temperature.highest", "'9 °C' is not above '9 °C'", "write the higher temperature here"),
    ),
    "- inspection: {of: x, items: {a: {do: y, value: {of: coating thickness, lowest: 1 N, highest: 2 N}}}}\n"
    "  - cure: {since: x}": ("steps[2].cure.since", "'x' measures no coating thickness", "write `at least`"),
}


@pytest.mark.parametrize("written", WRONG)
def test_what_is_wrong_is_placed(guided: Callable[[str], Path], registry: Registry, written: str) -> None:
    with pytest.raises(DocumentError) as caught:
        load_both(guided(f"  {written}\n"), registry)
    (fault,) = caught.value.faults
    where, message, remedy = WRONG[written]
    assert fault.where.startswith(where)
    assert message in fault.message
    assert remedy in fault.remedy
    assert fault.line >= 4


def test_a_procedure_that_is_not_there(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", str(BEAM), "--procedure", "none.yaml"]) == ExitCode.WRONG_INPUT
    assert "none.yaml" in capsys.readouterr().err
