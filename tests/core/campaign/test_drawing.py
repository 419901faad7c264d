"""Pictures and tables of a campaign: whole XML, every number in words, nothing that needs colour."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

from rigproof.campaign import curve_data, matrix_data
from rigproof.campaign.curve import Curve, sample
from rigproof.campaign.drawing import draw_curve, draw_matrix
from rigproof.campaign.matrix import SOUND, VOID, Matrix, Row
from rigproof.campaign.risks import Risk
from rigproof.campaign.sizes import Axis
from rigproof.campaign.trial import Caught, Result, Trial
from rigproof.campaign.verdicts import Verdicts
from rigproof.verdict.record import Outcome

RIG = Path("rigs/spool")
SHUNT = Caught(4, "shunt", "shunt reading", "hoop", "", "reject")
OFFSET = Caught(3, "balance", "offset", "hoop", "", "undecided")


def matrix() -> Matrix:
    wrong, broken, late = ("wrong-shunt=2 %",), ("open-lead=12 min",), ("frozen-readings=2 h",)
    sound = tuple(Result(Trial((), seed), "accept", "", (), f"sound {seed}") for seed in range(4))
    shunt = tuple(
        Result(Trial(wrong, seed), "reject" if seed else "accept", "", (SHUNT, SHUNT, OFFSET) if seed else (), "other")
        for seed in range(4)
    )
    frozen = tuple(Result(Trial(late, seed), "accept", "", (), f"sound {seed}") for seed in range(4))
    void = tuple(Result(Trial(broken, seed), "void", "tripped", ()) for seed in range(4))
    rows = (
        Row(SOUND, (), "Nothing is wrong.", sound),
        Row(wrong[0], wrong, "Another resistor.", shunt),
        Row(broken[0], broken, "A lead <breaks> & so on.", void),
        Row(late[0], late, "The readings stand still.", frozen),
    )
    return Matrix(RIG, range(4), rows, (("slow-leak=1 bar/min", "the rig has no pressure source"),))


def tried(size: float | None, runs: int) -> Verdicts:
    """Accepted ever less often up to 5 %, and rejected beyond 7 %; undecided between."""
    accepted = round(runs * max(0.0, 1 - 20 * (size or 0.0)))
    return Verdicts(accepted, **{"reject" if (size or 0.0) > 0.07 else "undecided": runs - accepted})


ENDS = {"5": "undecided", "5.75": "undecided", "7.625": "reject", "9.5": "reject"}  # of what is measured of `tried`


def curve(zero_is_sound: bool = False) -> Curve:
    sizes = Axis("thin-wall", "ratio", 0.0, 0.1)
    return sample(sizes, 0.05, 700, tried, lambda: zero_is_sound)


def words(svg: str) -> str:
    root = ElementTree.fromstring(svg)
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    return " ".join(text for text in root.itertext())


def test_the_matrix_says_what_caught_what() -> None:
    made = matrix()
    assert made.checks == ("balance: offset", "shunt: shunt reading", VOID)
    assert [row.name for row in made.holes] == ["wrong-shunt=2 %"]
    data = matrix_data.as_data(made)
    assert (data["holes"], data["without_effect"]) == (["wrong-shunt=2 %"], ["frozen-readings=2 h"])
    assert data["rows"][1]["found"]["count"] == 3
    assert data["rows"][1]["by"]["shunt: shunt reading"]["share"] == 0.75  # once a run, however many channels
    assert data["rows"][1]["missed_by"] == "rigproof run rigs/spool --simulated --seed 0 --flaw 'wrong-shunt=2 %'"
    assert data["rows"][0]["missed_by"] is None
    assert data["rows"][2]["by"] == {VOID: data["rows"][2]["found"] | {"undecided": 0, "reject": 0, "void": 4}}
    assert (
        data["rows"][1]["by"]["balance: offset"] | {"undecided": 3, "reject": 0}
        == data["rows"][1]["by"]["balance: offset"]
    )
    assert data["rows"][1]["verdicts"] == {"accept": 1, "undecided": 0, "reject": 3, "void": 0}
    assert data["cannot_have"] == [{"flaw": "slow-leak=1 bar/min", "why": "the rig has no pressure source"}]


def test_the_matrix_for_people() -> None:
    text = matrix_data.as_text(matrix())
    table = [line.split("  ") for line in text.splitlines()[:5]]
    rows = [[cell.strip() for cell in cells if cell] for cells in table]
    assert rows[0] == ["not accepted (95 % interval)", "reject", "undecided", "void", "by"]
    assert rows[1] == ["sound rig", "0 % (0 % to 60 %)", "0", "0", "0", "–"]
    by = "balance: offset 75 % undecided, shunt: shunt reading 75 % reject"
    assert rows[2] == ["wrong-shunt=2 %", "75 % (19 % to 99 %)", "3", "0", "0", by]
    assert rows[3] == ["open-lead=12 min", "100 % (40 % to 100 %)", "0", "0", "4", "run ends void 100 %"]
    assert "Holes (found in less than 95 %):\n  wrong-shunt=2 %: 75 %" in text
    assert "  What closes one: a step that looks for it" in text
    assert ", or the load is too low for it):\n  frozen-readings=2 h: The readings stand still." in text
    assert "This rig cannot have:\n  slow-leak=1 bar/min" in text
    assert "is found in at least 40 %" in text  # 4 of 4: 0.025^(1/4)


def mixed() -> Matrix:
    """The shunt is rejected in two runs of four, undecided in one; in the one with both, another gauge is rejected."""
    made = matrix()
    doubtful = replace(SHUNT, finding="undecided")
    caught: list[tuple[Caught, ...]] = [(SHUNT, doubtful), (doubtful, SHUNT), (doubtful, doubtful), ()]
    verdicts: list[Outcome] = ["reject", "reject", "undecided", "accept"]
    results = tuple(
        replace(each, caught=found, verdict=verdict)
        for each, found, verdict in zip(made.rows[1].results, caught, verdicts, strict=True)
    )
    return replace(made, rows=(made.rows[0], replace(made.rows[1], results=results)))


def test_a_check_that_is_undecided_is_told_from_one_that_rejects() -> None:
    made = mixed()
    text = matrix_data.as_text(made)
    assert "shunt: shunt reading 75 % (50 % reject, 25 % undecided)" in text
    assert re.search(r"^wrong-shunt=2 %  75 % \(19 % to 99 %\) +2 +1 +0  shunt", text, re.MULTILINE)
    by = {line[1]: line[-4:] for line in matrix_data.as_rows(made) if line[0] == "wrong-shunt=2 %"}
    assert by == {"any": ["1", "1", "2", "0"], "shunt: shunt reading": ["", "1", "2", "0"]}
    said = words(draw_matrix(made))
    assert " 50+25? " in said
    assert "wrong-shunt=2 %: not accepted in 3 of 4 (reject 2, undecided 1)" in said
    assert " 75? " in words(draw_matrix(matrix()))


def test_the_curve_tells_how_those_ended_that_were_not_accepted() -> None:
    made = curve()
    lines = curve_data.as_text(made, RIG, 1699, None).splitlines()
    assert [" ".join(line.split()) for line in lines if "undecided 75" in line or "reject 75" in line] == [
        f"{size} % 0 % (0 % to 5 %) {end} 75" for size, end in ENDS.items()
    ]
    assert lines[1].rstrip().endswith("100 % (95 % to 100 %)")
    head, _, *rows = curve_data.as_rows(made)
    assert head[-3:] == ["undecided", "reject", "void"]
    for point, row in zip(made.points, rows, strict=True):
        assert row[-3:] == [str(point.verdicts.undecided), str(point.verdicts.reject), "0"]
        assert int(row[3]) + sum(map(int, row[-3:])) == int(row[4])
    data = curve_data.as_data(made, (1000, 700), None)
    sound = {"verdicts": {"accept": 75, "undecided": 0, "reject": 0, "void": 0}, "is size 0": False}
    assert data["sound rig"] == sound
    assert data["points"][-1]["verdicts"] == {"accept": 0, "undecided": 0, "reject": 8, "void": 0}
    picture = draw_curve(made)
    crosses = re.findall(r'y1="([\d.]+)"[^>]* y2="([\d.]+)" stroke="black" stroke-width="1.5"/>', picture)
    middles = [(float(a) + float(b)) / 2 for a, b in crosses if abs(float(a) - float(b)) == 8.0]
    shares = [1 - (y - 50.0) / 360.0 for y in middles[::2]]
    assert shares == [point.verdicts.reject / 75 for point in sorted(made.measured, key=lambda p: p.place)]
    assert "×: rejected, where measured" in words(picture)
    assert "9.5 %: accepted 0 of 75, reject 75" in words(picture)


def test_the_sound_rig_is_told_as_a_point_of_the_curve_or_apart_from_it() -> None:
    apart, within = curve(), curve(zero_is_sound=True)
    for made, line in ((apart, [SOUND, "", "sound"]), (within, [SOUND, "0.0", "sound"])):
        (row,) = (row for row in curve_data.as_rows(made) if row[0] == SOUND)
        assert row[:5] == [*line, "75", "75"]
        assert len(row) == len(curve_data.as_rows(made)[0])
    text = curve_data.as_text(apart, RIG, 1, None)
    assert "The sound rig is no point of the curve, which begins with thin-wall=0 %: that is not the same as" in text
    assert "sound rig (no point of the curve): accepted in 100 %" in words(draw_curve(apart))
    text = curve_data.as_text(within, RIG, 1, None)
    assert "The sound rig is the curve's point 0 %: its runs count there." in text
    assert len([line for line in text.splitlines() if line.startswith("  ") and "100 % (95 % to 100 %)" in line]) == 1
    assert "sound rig (the point 0 %): accepted in 100 %" in words(draw_curve(within))
    assert curve_data.as_data(within, (0, 1), None)["sound rig"]["is size 0"] is True


def test_the_matrix_as_a_picture() -> None:
    said = words(draw_matrix(matrix()))
    for text in (
        "hole: wrong-shunt=2 %",
        "no effect: frozen-readings=2 h",
        "shunt: shunt reading",
        "75",
        "100",
        "sound rig",
        "in % of 4 runs",
    ):
        assert text in said


def test_the_curve_as_a_picture() -> None:
    made = curve()
    said = words(draw_curve(made))
    assert f"caught in 95 %: {made.axis.shown(made.caught() or 0)}" in said
    assert "sound rig (no point of the curve): accepted in 100 %" in said
    assert "5 %: accepted 0 of 75" in said


def test_the_axes_of_the_curve_say_what_they_show_and_in_which_unit() -> None:
    said = words(draw_curve(curve()))
    assert "size of thin-wall, %" in said
    assert "share of runs accepted (×: rejected), %" in said
    leak = Axis("leakage", "insulation resistance", 1e10, 1e6)
    said = words(
        draw_curve(
            sample(leak, 1e8, 700, lambda size, runs: Verdicts(runs) if (size or 1e99) > 5e8 else Verdicts(reject=runs))
        )
    )
    assert "size of leakage, unit at each number (equal steps are equal factors)" in said


def test_what_was_measured_is_drawn_over_what_looked_for_the_bend() -> None:
    fills = re.findall(r'<circle [^>]*fill="(\w+)"', draw_curve(curve()))
    assert fills == sorted(fills, reverse=True)
    assert set(fills) == {"white", "black"}


def test_pictures_need_no_colour() -> None:
    for svg in (draw_matrix(matrix()), draw_curve(curve())):
        greys = re.findall(r"rgb\((\d+),(\d+),(\d+)\)", svg)
        assert all(r == g == b for r, g, b in greys)
        assert set(re.findall(r'(?:fill|stroke)="([a-z]+)"', svg)) <= {"black", "white", "none"}


def test_the_curve_for_a_machine_and_for_people() -> None:
    made = curve()
    data = curve_data.as_data(made, (1000, 700), None)
    assert data["consumer's risk"]["size"] == 0.05
    assert data["caught at 95 %"]["size"] == made.caught()
    assert len(data["points"]) == len(curve_data.as_rows(made)) - 2  # the head, and the sound rig
    text = curve_data.as_text(made, RIG, 1699, (Risk(0.01, 0.0, 0.02), Risk(0.1, 0.0, 0.2), 0.31))
    assert "consumer's risk, thin-wall=5 % is accepted: 0 %" in text
    assert "rigproof run rigs/spool --simulated --seed 1699 --flaw 'thin-wall=5 %'" in text
    assert "  31 % of that process lies beyond 0 % to 10 %, and counts as the end it lies beyond" in text
    refused = replace(made, sound=Verdicts(reject=75))
    assert "caught in 95 %: nobody can say: the sound rig is not accepted either" in curve_data.as_text(
        refused, RIG, 0, None
    )


def test_a_matrix_whose_sound_rig_is_refused_says_that_it_says_nothing() -> None:
    made = matrix()
    refused = tuple(replace(each, verdict="undecided", why="not shown: response") for each in made.rows[0].results)
    text = matrix_data.as_text(replace(made, rows=(replace(made.rows[0], results=refused), *made.rows[1:])))
    assert "THE SOUND RIG IS NEVER ACCEPTED (not shown: response): no share above says anything" in text
    assert "Holes" not in text
    some = (refused[0], *made.rows[0].results[1:])
    text = matrix_data.as_text(replace(made, rows=(replace(made.rows[0], results=some), *made.rows[1:])))
    assert "The sound rig is not accepted in 25 % (1 % to 81 %) (not shown: response)" in text
    alone = matrix_data.as_text(replace(made, rows=(replace(made.rows[0], results=some),)))
    assert "  reason     not shown: response" in alone
