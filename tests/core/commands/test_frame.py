"""The table of a run in windows of every size, with names that are wide and names that are long."""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from dataclasses import replace

import pytest
from wcwidth import wcswidth

from rigproof.commands.frame import Frame, drawn
from rigproof.documents.rig import Rig
from rigproof.run.agenda import Agenda
from rigproof.run.plan import Plan
from rigproof.run.progress import Reading

BOLD = re.compile(r"\x1b\[[01]m")
WIDE = "壁温 [red]:water:"  # fullwidth letters, and what a library could take for its own markup


@pytest.fixture(scope="module")
def agenda(spool: Plan) -> Agenda:
    return Agenda(spool)


@pytest.fixture
def frame(spool: Plan, agenda: Agenda) -> Callable[..., Frame]:
    """A table in the spool's hold; `names` are more channels."""

    def make(*names: str) -> Frame:
        water = spool.rig.channels["water"]
        more = {name: water.model_copy(update={"name": name}) for name in names}
        rig: Rig = replace(spool.rig, channels={**spool.rig.channels, **more})
        made = Frame(rig, agenda, "SIMULATED")
        made.step(6, 6, "proof")
        made.doing("hold", 552.0, 100.0)
        made.readings = {
            "pressure": Reading(36.108e5, "gauge pressure", "36.11 bar", 99.5, target=36.11e5),
            "hoop": Reading(300.25e-6, "strain", "300.2 µε", 99.5, 341.21e-6, 11.3e-6),
            "axial": Reading(80.1e-6, "strain", "80.1 µε", 65.0, 85.3e-6, 5.8e-6),
            "hoop insulation": Reading(None, "insulation resistance", "above range", 10.0),
            "hoop resistance": Reading(350.63, "resistance", "350.6 Ω", 10.0, 350.0, 1.05),
            **{name: Reading(20.01, "temperature", "20.01 °C", 99.0) for name in names},
        }
        return made

    return make


def plain(frame: Frame, columns: int, lines: int) -> list[str]:
    return [BOLD.sub("", row).rstrip() for row in drawn(frame, os.terminal_size((columns, lines)))]


def test_at_80_columns(frame: Callable[..., Frame]) -> None:
    rows = plain(frame(WIDE), 80, 24)
    assert rows[1].startswith("SIMULATED  step 6 of 6: proof ")
    assert rows[2] == "now   hold, 9 min 12 s left"
    table = {row[3:].partition("  ")[0]: row for row in rows if row[:2] in {"! ", "  "}}
    assert table["hoop"].split() == ["!", "hoop", "300.2", "µε", "341.2", "±", "11", "now"]
    assert table["pressure"].split() == ["pressure", "36.11", "bar", "36.11", "target", "now"]
    assert table["axial"].split() == ["axial", "80.10", "µε", "85.30", "±", "5.8", "35", "s", "ago"]
    assert table["hoop resistance"].split()[2:7] == ["350.6", "Ω", "350.0", "±", "1.1"]
    assert "above range" in table["hoop insulation"]
    assert WIDE in table[WIDE]
    ends = {
        wcswidth(row[: row.index(unit)])
        for row in table.values()
        for unit in (" µε ", " Ω ", " bar ", " °C ")
        if unit in row
    }
    assert len(ends) == 1  # units stand below each other, whatever the names are made of
    assert any("differ by more than U" in row for row in rows)


@pytest.mark.parametrize("lines", [4, 10, 17, 18, 24, 60])
def test_it_fits_whatever_the_window(frame: Callable[..., Frame], lines: int) -> None:
    many = [WIDE, "a name that is rather long for a channel, and longer", *(f"t{n}" for n in range(40))]
    made = frame(*many)
    for alarm in ("", "tripped: interlock 'overpressure': pressure at 38.1777 bar, limit 38 bar"):
        if alarm:
            made.alarm(alarm)
        for columns in (12, 24, 40, 49, 50, 51, 72, 73, 80, 81, 140):
            rows = plain(made, columns, lines)
            assert len(rows) < lines
            assert max(map(wcswidth, rows)) < columns
            assert any(row.startswith("now ") for row in rows) or lines < 5


def test_in_a_narrow_window_the_time_stays(frame: Callable[..., Frame]) -> None:
    made = frame()
    made.doing("stage 1 of 4: 50 %: pump to 18.05 bar", 36.0)
    assert plain(made, 31, 10)[3] == "now   stage 1 of 4…, 36 s left"


def test_more_channels_than_room_are_counted_and_what_differs_stays(frame: Callable[..., Frame]) -> None:
    rows = plain(frame(*(f"t{n}" for n in range(40))), 80, 24)
    assert any(row.startswith("!  hoop ") for row in rows)
    hidden = next(int(match[1]) for row in rows if (match := re.match(r"and (\d+) more, for", row)))
    assert hidden == 45 - sum(bool(re.match(r"[! ]  (?!channel)\S", row)) for row in rows)


def test_a_figure_keeps_its_places_when_the_load_has_gone(frame: Callable[..., Frame]) -> None:
    made = frame()
    plain(made, 80, 24)
    made.readings = {"pressure": Reading(-1700.0, "gauge pressure", "-0.017 bar", 100.0, target=0.0)}
    row = next(row for row in plain(made, 80, 24) if "pressure" in row)
    assert row.split() == ["pressure", "-0.02", "bar", "0.00", "target", "now"]


def test_when_the_load_is_down_the_table_shows_it_and_foretells_nothing(frame: Callable[..., Frame]) -> None:
    made = frame()
    plain(made, 80, 24)
    down = Reading(-2080.0, "gauge pressure", "-0.0208 bar", 101.0)
    made.safe("pump", down, "source reports its safe state, pressure -0.0208 bar")
    rows = plain(made, 80, 24)
    assert any(row.split() == ["pressure", "-0.02", "bar", "now"] for row in rows)
    assert not any(row.startswith("next") or "left" in row or "takes" in row or "hoop" in row for row in rows)
    made.doing("rest after a trip", 5.0, 102.0)
    assert any(row.startswith("next") for row in plain(made, 80, 24))
