"""Pictures and tables of a campaign: whole XML, every number in words, nothing that needs colour."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

from rigproof.campaign import curve_data, matrix_data
from rigproof.campaign.curve import Curve, sample
from rigproof.campaign.drawing import draw_curve, draw_matrix
from rigproof.campaign.intervals import Share
from rigproof.campaign.matrix import SOUND, VOID, Matrix, Row
from rigproof.campaign.risks import Risk
from rigproof.campaign.sizes import Axis
from rigproof.campaign.trial import Caught, Result, Trial

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


def curve() -> Curve:
    sizes = Axis("thin-wall", "ratio", 0.0, 0.1)
    return sample(sizes, 0.05, 700, lambda size, runs: Share(round(runs * max(0.0, 1 - 20 * (size or 0.0))), runs))


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
    assert data["rows"][2]["by"] == {VOID: data["rows"][2]["found"]}
    assert data["cannot_have"] == [{"flaw": "slow-leak=1 bar/min", "why": "the rig has no pressure source"}]


def test_the_matrix_for_people() -> None:
    text = matrix_data.as_text(matrix())
    assert "sound rig            0 % (0 % to 60 %)" in text
    assert "wrong-shunt=2 %      75 % (19 % to 99 %)" in text
    assert "Holes (found in less than 95 %):\n  wrong-shunt=2 %: 75 %" in text
    assert "  What closes one: a step that looks for it" in text
    assert ", or the load is too low for it):\n  frozen-readings=2 h: The readings stand still." in text
    assert "This rig cannot have:\n  slow-leak=1 bar/min" in text
    assert "is found in at least 40 %" in text  # 4 of 4: 0.025^(1/4)


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
    assert "sound rig: accepted in 100 %" in said
    assert "5 %: accepted 0 of 75" in said


def test_the_axes_of_the_curve_say_what_they_show_and_in_which_unit() -> None:
    said = words(draw_curve(curve()))
    assert "size of thin-wall, %" in said
    assert "share of runs accepted, %" in said
    leak = Axis("leakage", "insulation resistance", 1e10, 1e6)
    said = words(
        draw_curve(sample(leak, 1e8, 700, lambda size, runs: Share(runs if (size or 1e99) > 5e8 else 0, runs)))
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
    assert len(data["points"]) == len(curve_data.as_rows(made)) - 1
    text = curve_data.as_text(made, RIG, 1699, (Risk(0.01, 0.0, 0.02), Risk(0.1, 0.0, 0.2), 0.31))
    assert "consumer's risk, thin-wall=5 % is accepted: 0 %" in text
    assert "rigproof run rigs/spool --simulated --seed 1699 --flaw 'thin-wall=5 %'" in text
    assert "  31 % of that process lies beyond 0 % to 10 %, and counts as the end it lies beyond" in text
    refused = replace(made, sound=Share(0, 75))
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
