"""The page for people: whole without network, script or colour; what it draws is what the record holds."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from rigproof.campaign.trial import plan_of
from rigproof.clock import JumpingClock
from rigproof.journal import JournalWriter, read_journal
from rigproof.run.accepting import run_and_judge
from rigproof.run.progress import Silent
from rigproof.run.simulated import find_simulator, on_twin, planted
from rigproof.verdict.record import Verdict
from rigproof_report.page import Page

if TYPE_CHECKING:
    from .conftest import MakeVerdict

RIG = Path(__file__).parents[3] / "rigs" / "spool"
VOID = {"meta", "link", "br", "img", "input"}  # HTML, 13.1.2; drawings close theirs


class Outline(HTMLParser):
    """Elements of a page; raises where they do not nest."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.seen: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []
        self.feed(html)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text.append(data)


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> tuple[Verdict, Path]:
    """A spool whose wall is too thin."""
    folder, plan = tmp_path_factory.mktemp("run"), plan_of(RIG)
    flaws = planted(("thin-wall=14 %",), find_simulator(RIG, plan.registry).flaws())
    with on_twin(plan, RIG, 3, flaws) as (reach, twin):
        return run_and_judge(plan, reach, folder, Silent(), twin), folder


def page(verdict: Verdict, folder: Path) -> str:
    Page().write(verdict, folder)
    return (folder / "report.html").read_text("utf-8")


def test_the_page_needs_nothing_else(run: tuple[Verdict, Path]) -> None:
    html = page(*run)
    outline = Outline(html)
    tags = {tag for tag, _ in outline.seen}
    assert not tags & {"script", "link", "img", "iframe", "object"}
    assert not re.search(r"(?:src|href)=\"(?!#)", html)
    assert "url(" not in html
    assert "@import" not in html
    assert len(html) < 500_000


def test_it_can_be_read_aloud(run: tuple[Verdict, Path]) -> None:
    """WCAG 2.1: language (3.1.1), headings in order and table headers (1.3.1), text for drawings (1.1.1)."""
    outline = Outline(page(*run))
    attributes = dict(outline.seen)
    assert attributes["html"]["lang"] == "en"
    levels = [int(tag[1]) for tag, _ in outline.seen if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert all(b - a <= 1 for a, b in pairwise(levels))
    assert all(a.get("aria-label") or a.get("aria-hidden") for tag, a in outline.seen if tag == "svg")
    assert all(about.get("scope") in ("col", "row") for tag, about in outline.seen if tag == "th")
    ids = [about["id"] for _, about in outline.seen if "id" in about]
    assert len(ids) == len(set(ids))
    assert [tag for tag, _ in outline.seen].count("table") == [tag for tag, _ in outline.seen].count("caption")


def test_the_verdict_comes_first_and_everything_is_there(run: tuple[Verdict, Path]) -> None:
    verdict, folder = run
    text = " ".join(" ".join(Outline(page(verdict, folder)).text).split())
    assert text.index("SIMULATED RIG") < text.index("✘ reject") < text.index("Checks")
    for check in verdict.checks:
        assert check.name in text
    for said in (*verdict.why, *verdict.not_shown, *verdict.cautions, verdict.journal.sha256, "thin-wall=14 %"):
        assert said in text
    for instrument in verdict.instruments:
        assert instrument.serial_number in text
    assert "pump left safe" in text
    assert "relief device" in text


def test_readings_are_drawn(run: tuple[Verdict, Path]) -> None:
    html = page(*run)
    assert "hoop, axial over time" in html
    assert "pressure over time" in html
    for name in ("hoop", "axial"):
        assert f"{name}: cycles of load" in html
        assert f"{name}: what is left of the straight line" in html


def test_without_a_journal_it_says_so(verdict: MakeVerdict, tmp_path: Path) -> None:
    html = page(verdict(), tmp_path)
    Outline(html)
    assert "No drawings: " in html


def test_names_from_a_rig_do_no_harm(verdict: MakeVerdict, tmp_path: Path) -> None:
    html = page(verdict(why=("<script>alert(1)</script> & more",)), tmp_path)
    assert "<script" not in html
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp; more" in html


def test_a_million_readings_stay_small_and_no_peak_is_lost(run: tuple[Verdict, Path], tmp_path: Path) -> None:
    verdict, folder = run
    head = read_journal(folder / "journal.jsonl").entries[0].data
    with JournalWriter(tmp_path / "journal.jsonl", JumpingClock()) as journal:
        journal.write("run", **head)
        for n in range(100):
            values = np.full(10_000, 1e5)
            if n == 50:
                values[1234] = 39e5
            journal.samples({"pressure": 10.0 * n}, 1e-3, {"pressure": values}, label="watch", tags={})
    html = page(verdict, tmp_path)
    assert len(html) < 2_000_000
    curve = re.search(r"pressure over time.*?points=\"([^\"]*)\"", html, re.DOTALL)
    assert curve is not None
    heights = [float(point.partition(",")[2]) for point in curve[1].split()]
    assert len(heights) <= 1200
    assert min(heights) < 20 < 100 < max(heights)  # the peak is at the top of the drawing, all else at its foot
