"""`rigproof plan`: one page and a half of text, and JSON that alone makes the same text."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from rigproof.__main__ import run
from rigproof.commands.plan_text import shown, text_of
from rigproof.documents import schema
from rigproof.errors import ExitCode
from rigproof.plugins import Registry
from rigproof.quantities import kind_of
from rigproof.run.plan import Plan
from rigproof.run.plan_record import PlanRecord, value_in
from rigproof.run.planned import planned as planned_record

Planned = Callable[..., Plan]
Capture = pytest.CaptureFixture[str]
PROOF = "  - proof: {source: pump, to: 5 bar, stages: [50 %, 100 %]}\n"
NITROGEN = ("filling: water", "filling: nitrogen\n  volume: 60 l")


@pytest.fixture
def text(spool_folder: Path, capsys: Capture) -> str:
    assert run(["plan", str(spool_folder)]) == ExitCode.ACCEPT
    return capsys.readouterr().out


def test_the_text_is_readable(text: str) -> None:
    lines = text.splitlines()
    assert max(map(len, lines)) <= 80
    assert len(lines) < 145
    for title in ("PART at 36.11 bar", "INDICATED STRAIN foreseen", "GAUGES", "STEPS", "INTERLOCKS", "CAUTIONS"):
        assert any(line.startswith(title) for line in lines), title
    assert "CANNOT" not in text
    assert "  36.11 bar      342 ± 11 µε          85.2 ± 5.7 µε" in lines
    assert "power density in the grid     0.248 kW/m²  (at 2.5 V)" in text


def test_the_json_alone_gives_the_text(spool_folder: Path, text: str, capsys: Capture) -> None:
    assert run(["plan", str(spool_folder), "--json"]) == ExitCode.ACCEPT
    raw = json.loads(capsys.readouterr().out)
    assert raw["format"] == "rigproof: plan/1"
    assert text_of(PlanRecord.model_validate(raw)) + "\n" == text
    assert run(["plan", str(spool_folder), "--json"]) == ExitCode.ACCEPT
    assert json.loads(capsys.readouterr().out) == raw


def test_every_value_of_the_json_has_its_unit(spool: Plan) -> None:
    def walk(node: object) -> None:
        if isinstance(node, dict):
            if "value" in node and not isinstance(node["value"], dict):
                assert node["unit"] == kind_of(node["kind"]).base
            if "guard_band" in node:
                assert node["unit"] == kind_of(node["kind"]).base
            for child in node.values():
                walk(child)
        elif isinstance(node, list):
            for child in node:
                walk(child)

    record = planned_record(spool).model_dump(mode="json")
    walk(record)
    assert {"steps", "predicted", "gauges", "part_facts", "interlocks", "cannot_be_accepted", "cautions"} <= set(record)


def test_the_schema_knows_every_key_and_says_what_it_is(spool: Plan, registry: Registry) -> None:
    found = schema("plan", registry)
    assert set(found["required"]) | {"format"} == set(planned_record(spool).model_dump())
    assert "C_m = T/(4 u)" in found["$defs"]["PlannedCheck"]["description"]


def test_gas_shows_stored_energy_and_stand_off(planned: Planned) -> None:
    """Nitrogen, 60 l, 6.06 bar absolute: 2.5 p V (1 - (p0/p)^0.2857) with p0 = 101 kPa (ASME PCC-2-2008, II-2)."""
    absolute = 5.05e5 + 101e3
    energy = 2.5 * absolute * 0.060 * (1 - (101e3 / absolute) ** (0.4 / 1.4))
    record = planned_record(planned(PROOF, NITROGEN))
    facts = {fact.name: fact.value.value for fact in record.part_facts}
    assert facts["energy stored in the nitrogen"] == pytest.approx(energy, rel=1e-3)
    assert facts["stand-off distance"] == 30.0  # the fixed distance up to 135.5 MJ
    text = text_of(record)
    assert "energy stored in the nitrogen               36.4" in text
    assert "stand-off distance                          30 m\n" in text
    assert "Keep everybody at least 30 m away" in text


def test_what_cannot_be_accepted_is_named(planned: Planned) -> None:
    record = planned_record(planned("  - cycles: {source: pump, to: 2 bar, zero return: within 0.1 %}\n"))
    assert any("zero return of hoop" in line and "guard bands" in line for line in record.cannot_be_accepted)
    text = text_of(record)
    assert "CANNOT BE ACCEPTED as planned" in text
    assert re.search("zero return: hoop, axial +± 0.1 % +none +CANNOT", text)
    (check,) = [c for c in record.steps[0].checks if (c.name, c.subject) == ("zero return", "hoop")]
    assert not check.can_be_accepted
    assert check.acceptance_lower is None
    assert check.improve.startswith("hoop: accuracy zero drift")


def test_an_interlock_that_would_trip_is_shown(planned: Planned) -> None:
    record = planned_record(planned("  - proof: {source: pump, to: 35.75 bar}\n", ("above: 38 bar", "above: 36 bar")))
    assert record.interlocks[0].trips == "trips"
    assert record.interlocks[0].distance is not None
    assert record.interlocks[0].distance.value < 0
    assert "left: TRIPS" in text_of(record)


def test_a_procedure_without_load_has_no_part_and_no_interlocks(planned: Planned) -> None:
    record = planned_record(planned("  - balance: {}\n"))
    assert record.highest_load is None
    assert len(record.predicted) + len(record.interlocks) + len(record.part_facts) == 0
    assert "PART" not in text_of(record)
    assert "a relief device" in text_of(record)


def test_more_channels_than_a_line_holds_stand_below_each_other(planned: Planned) -> None:
    record = planned_record(planned(PROOF))
    many = tuple(
        found.model_copy(update={"channel": f"{found.channel} {n}"}) for n in range(4) for found in record.predicted
    )
    lines = text_of(record.model_copy(update={"predicted": many})).splitlines()
    assert max(map(len, lines)) <= 80
    assert sum(line.startswith("  load      ") for line in lines) == 3  # eight channels, three to a block


@pytest.mark.parametrize(
    ("kind", "value", "words"),
    [
        ("length", 30.0, "30 m"),
        ("length", 0.0847, "84.7 mm"),
        ("energy", 1.7, "1.7 J"),
        ("energy", 3.6e7, "36 MJ"),
        ("mass", 0.0085, "8.5 g"),
        ("gauge pressure", 2000.0, "0.02 bar"),  # bar is bar
    ],
)
def test_sizes_are_shown_in_the_unit_that_fits(kind: str, value: float, words: str) -> None:
    assert shown(value_in(kind, value)) == words


@pytest.mark.parametrize("command", ["plan", "check"])
def test_bad_documents_give_their_faults_and_exit_4(
    spool_folder: Path, tmp_path: Path, capsys: Capture, command: str
) -> None:
    rig = tmp_path / "rig"
    shutil.copytree(spool_folder, rig)
    written = (rig / "rig.yaml").read_text("utf-8").replace("grid area: 18 mm²", "grid area: 0 mm²", 1)
    (rig / "rig.yaml").write_text(written, "utf-8")
    assert run([command, str(rig)]) == ExitCode.WRONG_INPUT
    shown_to_user = capsys.readouterr()
    assert "rig.yaml:" in shown_to_user.err
    assert "grid area" in shown_to_user.err
    assert "Traceback" not in shown_to_user.err
    assert shown_to_user.out == ""


def test_check_shows_what_is_amiss_in_the_documents_and_not_the_general_cautions(
    spool_folder: Path, tmp_path: Path, capsys: Capture
) -> None:
    rig = tmp_path / "rig"
    shutil.copytree(spool_folder, rig)
    written = (rig / "rig.yaml").read_text("utf-8").replace("excitation: 2.5 V", "excitation: 12 V")
    (rig / "rig.yaml").write_text(written, "utf-8")
    assert run(["check", str(rig)]) == ExitCode.ACCEPT
    said = capsys.readouterr().out
    assert "12 V leaves 5.7 kW/m² in the grid" in said
    assert "relief device" not in said
    assert run(["check", str(rig), "--json"]) == ExitCode.ACCEPT
    assert any("12 V leaves" in caution for caution in json.loads(capsys.readouterr().out)["cautions"])


def test_a_step_no_driver_can_take_is_said_by_plan_and_refused_by_check(
    spool_folder: Path, tmp_path: Path, capsys: Capture, hoop_read_alone: tuple[tuple[str, str], ...]
) -> None:
    rig = tmp_path / "rig"
    shutil.copytree(spool_folder, rig)
    written = (rig / "rig.yaml").read_text("utf-8")
    for old, new in hoop_read_alone:
        assert old in written
        written = written.replace(old, new)
    (rig / "rig.yaml").write_text(written, "utf-8")
    said = "its driver 'described meter' cannot switch a shunt resistor"
    assert run(["plan", str(rig)]) == ExitCode.ACCEPT
    assert said in " ".join(capsys.readouterr().out.split())
    assert run(["check", str(rig)]) == ExitCode.WRONG_INPUT
    assert said in capsys.readouterr().out


@pytest.mark.parametrize("command", [["check"], ["plan"], ["run", "--simulated", "--out", "out"]])
def test_a_load_at_which_an_interlock_trips_is_refused_before_any_pressure(
    spool_folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture, command: list[str]
) -> None:
    rig = tmp_path / "rig"
    shutil.copytree(spool_folder, rig)
    written = (rig / "acceptance.yaml").read_text("utf-8").replace("to: 35.75 bar", "to: 37.9 bar")
    (rig / "acceptance.yaml").write_text(written, "utf-8")
    monkeypatch.chdir(tmp_path)
    assert run([*command, str(rig)]) == ExitCode.WRONG_INPUT
    said = capsys.readouterr().err
    assert "acceptance.yaml:11:36: steps[7].proof.to: the step goes to 38.28 bar" in said
    assert not (tmp_path / "out").exists()
