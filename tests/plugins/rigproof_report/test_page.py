"""The page for people: whole without network, script or colour; what it draws is what the record holds."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from rigproof.campaign.trial import plan_of
from rigproof.clock import JumpingClock
from rigproof.journal import JournalWriter, read_journal
from rigproof.plugins import Registry
from rigproof.run.accepting import run_and_judge
from rigproof.run.plan import Plan, make_plan
from rigproof.run.progress import Silent
from rigproof.run.simulated import find_simulator, on_twin, planted
from rigproof.verdict import words
from rigproof.verdict.record import PersonRecord, ReliefRecord, RetryRecord, Verdict
from rigproof_report.page import Page

if TYPE_CHECKING:
    from .conftest import MakeCheck

RIG = Path(__file__).parents[3] / "tests" / "rigs" / "spool"
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


def text_of(html: str) -> str:
    return " ".join(" ".join(Outline(html).text).split())


def test_the_page_needs_nothing_else(run: tuple[Verdict, Path]) -> None:
    html = page(*run)
    outline = Outline(html)
    tags = {tag for tag, _ in outline.seen}
    assert not tags & {"script", "link", "img", "iframe", "object"}
    assert not re.search(r"(?:src|href)=\"(?!#)", html)
    assert not re.search(r"url\((?!#)", html)
    assert "@import" not in html
    assert len(html) < 500_000


def test_it_can_be_read_aloud(run: tuple[Verdict, Path]) -> None:
    """WCAG 2.1: language (3.1.1), headings in order and table headers (1.3.1), text for drawings (1.1.1)."""
    html = page(*run)
    outline = Outline(html)
    attributes = dict(outline.seen)
    assert attributes["html"]["lang"] == "en"
    levels = [int(tag[1]) for tag, _ in outline.seen if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(b - a <= 1 for a, b in pairwise(levels))
    ids = [about["id"] for _, about in outline.seen if "id" in about]
    assert len(ids) == len(set(ids))
    assert set(re.findall(r'href="#([^"]*)"', html)) <= set(ids)
    drawings = [about for tag, about in outline.seen if tag == "svg"]
    for about in drawings:
        if about.get("aria-hidden") != "true":
            title, description = str(about["aria-labelledby"]).split()
            assert about["role"] == "img"
            assert re.search(rf'<title id="{title}">[^<]+</title>\s*<desc id="{description}">[^<]+</desc>', html)
    assert sum("aria-labelledby" in about for about in drawings) > 50
    assert all(about.get("scope") in ("col", "row") for tag, about in outline.seen if tag == "th")
    assert [tag for tag, _ in outline.seen].count("table") == [tag for tag, _ in outline.seen].count("caption")


def test_the_verdict_comes_first_and_everything_is_there(run: tuple[Verdict, Path]) -> None:
    verdict, folder = run
    text = text_of(page(verdict, folder))
    places = [
        text.index(word) for word in ("SIMULATED RIG", "thin-wall=14 %", "Not shown", "Legend: how to", "As recorded")
    ]
    assert places == sorted(places)
    assert text.index("reject") < places[1]
    for check in verdict.checks:
        assert check.name in text
    for said in (*verdict.why, *verdict.not_shown, *verdict.cautions, verdict.journal.sha256, "thin-wall=14 %"):
        assert " ".join(said.split()) in text
    for instrument in verdict.instruments:
        assert instrument.serial_number in text
    assert "pump left safe" in text
    assert "relief device" in text
    assert "No calibration is stated for: pump." in text
    assert "--simulated --seed 3 --flaw 'thin-wall=14 %' --out run-again" in text
    assert "competent person" in text[text.index("The record holds none.") :]


def test_the_procedure_is_named_as_its_file(tmp_path: Path, registry: Registry) -> None:
    folder = Path(shutil.copytree(RIG, tmp_path / "rig"))
    (folder / "short.yaml").write_text("rigproof: procedure/1\nname: in short\nsteps: [resistance: {}]\n", "utf-8")
    plan = make_plan(folder, registry, "short.yaml")
    with on_twin(plan, folder, 3, ()) as (reach, twin):
        verdict = run_and_judge(plan, reach, folder, Silent(), twin)
    text = text_of(page(verdict, folder))
    assert f"short.yaml SHA-256 {verdict.procedure.sha256}" in text
    assert "acceptance.yaml" not in text


def test_readings_are_drawn(run: tuple[Verdict, Path]) -> None:
    html = page(*run)
    for caption in ("The whole run, with its steps", r"Step \d cycles: load and answer over time"):
        assert re.search(f"<h3>{caption}</h3>", html)
    for name in ("hoop", "axial"):
        assert re.search(rf"Step \d cycles, {name}: strain over load", html)
        assert f"{name}: what is left of the straight line through zero and top<" in html
    assert re.search(r"hoop: -?[\d.]+ to [\d.]+ µε; axial: .* µε; exercise 1 of 1 from [\d.]+ min; cycle 1 of 3", html)
    assert ">cycle 2 of 3</text>" in html


def test_every_finding_and_every_end_of_a_bar_has_a_shape_and_a_word(
    run: tuple[Verdict, Path], check: MakeCheck
) -> None:
    verdict, folder = run
    far = check(measured=1.0, finding="reject", U=0.1)
    html = page(verdict.model_copy(update={"checks": (*verdict.checks, far)}), folder)
    words = [about["href"] for tag, about in Outline(html).seen if tag == "use"]
    assert {"#s-accept", "#s-reject"} <= set(words)
    assert {f"s-{word}" for word in ("accept", "reject", "undecided", "void")} <= set(
        re.findall('id="(s-[a-z]+)"', html)
    )


def test_a_hold_and_stages_are_marked(accept: Callable[..., Verdict], spool: Plan, tmp_path: Path) -> None:
    html = page(accept(spool, tmp_path), tmp_path)
    assert "shut in, 10." in html
    assert re.search(r"stage 1 of 4 from [\d.]+ min; stage 2 of 4 from [\d.]+ min", html)
    assert html.count('class="stand"') > 20
    assert html.count('class="shut"') == 3  # load, strain, temperature


@pytest.mark.parametrize("change", ["gone", "edited", "another"])
def test_without_the_journal_of_the_verdict_nothing_of_it_is_shown(
    run: tuple[Verdict, Path], tmp_path: Path, change: str
) -> None:
    verdict, folder = run
    journal = (folder / "journal.jsonl").read_bytes()
    if change == "edited":
        (tmp_path / "journal.jsonl").write_bytes(journal.replace(b'"volt":50.0', b'"volt":51.0', 1))
    elif change == "another":
        (tmp_path / "journal.jsonl").write_bytes(b"".join(journal.splitlines(keepends=True)[:-1]))
    html = page(verdict.model_copy(update={"verdict": "accept", "why": ("all is well",)}), tmp_path)
    text = text_of(html)
    assert "the record does not hold" in text
    assert "accept" not in text
    assert "all is well" not in text
    assert {"gone": "cannot be read", "edited": "its link", "another": "another one"}[change] in text
    assert not [tag for tag, _ in Outline(html).seen if tag == "table"]


def test_names_from_a_rig_do_no_harm(run: tuple[Verdict, Path]) -> None:
    verdict, folder = run
    html = page(verdict.model_copy(update={"why": ("<script>alert(1)</script> & more",)}), folder)
    assert "<script" not in html
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp; more" in html


def test_a_million_readings_stay_small_and_no_peak_is_lost(run: tuple[Verdict, Path], tmp_path: Path) -> None:
    verdict, folder = run
    head = read_journal(folder / "journal.jsonl").entries[0].data
    with JournalWriter(tmp_path / "journal.jsonl", JumpingClock()) as journal:
        journal.write("run", **head)
        journal.write("step", step=1, step_kind="endurance", taken="begun")
        for n in range(100):
            values = np.full(10_000, 1e5)
            if n == 50:
                values[1234] = 39e5
            journal.samples({"pressure": 10.0 * n}, 1e-3, {"pressure": values}, label="watch", tags={})
    written = verdict.journal.model_copy(update={"sha256": read_journal(tmp_path / "journal.jsonl").sha256})
    html = page(verdict.model_copy(update={"journal": written}), tmp_path)
    assert len(html) < 2_000_000
    curve = re.search(r"pressure in bar over time.*?points=\"([^\"]*)\"", html, re.DOTALL)
    assert curve is not None
    heights = [float(point.partition(",")[2]) for point in curve[1].split()]
    assert len(heights) <= 1200
    assert min(heights) < 40 < 120 < max(heights)  # the peak is at the top of the drawing, all else at its foot


def test_the_legend_is_one_and_holds_no_result(run: tuple[Verdict, Path]) -> None:
    """Framed, named, before the first table; its example is no value of this run."""
    verdict, folder = run
    html = page(verdict, folder)
    (legend,) = re.findall(
        r'<div class="legend" role="group" aria-labelledby="legend">(.*?</dl>)</div>', html, re.DOTALL
    )
    text = text_of(legend)
    assert text.startswith("Legend: how to read the tables. No results stand here.")
    for sample in ("brackets the tolerance", "framed field what of it is accepted", "hatched field a guard band"):
        assert sample in text
    assert "1.23(45) how a value is written: 1.23 with the standard uncertainty u = 0.45" in text
    assert html.count("1.23(45)") == 1
    assert html.index('class="legend"') < html.index('class="stack checks"')
    assert html.count('class="legend"') == 1


def test_people_retries_and_signatures_are_named(run: tuple[Verdict, Path]) -> None:
    verdict, folder = run
    who = PersonRecord(name="A. Example", how="terminal")
    again = RetryRecord(instrument="ohmmeter", count=2)
    changed = {"people": (who,), "retries": (again,), "signatures": ("B. Example, hold point 6",)}
    text = text_of(page(verdict.model_copy(update=changed), folder))
    assert "A. Example (terminal)" in text
    assert "2 retries of the ohmmeter: failed readings were taken again." in text
    assert "Signed : B. Example, hold point 6." in text


def test_part_site_and_relief_stand_at_the_head(run: tuple[Verdict, Path]) -> None:
    verdict, folder = run
    head = page(verdict, folder).partition("<nav")[0]
    assert "Operator" not in head
    assert "erial number" not in head
    relief = ReliefRecord(
        source="pump", set_pressure=39e5, lowest=38e5, highest=40e5, kind="gauge pressure", unit="Pa", stated="39 bar"
    )
    stated = {"part_serial_number": "S-<1>", "part_drawing": "D-2", "site": "Hall 2", "relief_devices": (relief,)}
    head = page(verdict.model_copy(update=stated), folder).partition("<nav")[0]
    for what, said in (
        ("Part&#39;s serial number", "S-&lt;1&gt;"),
        ("Part&#39;s drawing", "D-2"),
        ("Site", "Hall 2"),
        ("Relief device of pump", "opens at 39 bar"),
    ):
        assert f"<dt>{what}</dt><dd>{said}</dd>" in head


def test_a_real_run_says_that_nobody_is_named(run: tuple[Verdict, Path]) -> None:
    verdict, folder = run
    assert "Operator nobody is named" in text_of(page(verdict.model_copy(update={"simulated": False}), folder))


def test_every_printed_page_says_what_it_belongs_to(run: tuple[Verdict, Path]) -> None:
    """CSS Paged Media, Level 3: margin boxes; no name of a rig can leave its string."""
    verdict, folder = run
    named = verdict.model_copy(update={"rig": verdict.rig.model_copy(update={"name": 'a"}</style>'})})
    html = page(named, folder)
    assert '@top-left{content:"SIMULATED";' in html
    assert r'@top-right{content:"a\22 \7d \3c \2f style\3e \3a \20 reject";' in html
    assert 'content:"page " counter(page) " of " counter(pages)' in html
    assert "<title>SIMULATED: reject:" in html


def test_the_head_says_how_many_steps_were_not_taken(run: tuple[Verdict, Path]) -> None:
    verdict, folder = run
    assert re.search(
        r"finished: to the end of the procedure; of \d steps 1 not taken: step \d proof not taken",
        text_of(page(verdict, folder)),
    )


def test_part_and_gauges_stand_as_they_were_written(run: tuple[Verdict, Path]) -> None:
    text = text_of(page(*run))
    stated = text[text.index("As rig.yaml states them.") :]
    for said in (
        "outside diameter 219.1 mm ± 0.2 %",
        "material, elastic modulus 206 GPa",
        "gauge hoop",
        "gauge factor",
    ):
        assert said in stated


def test_what_to_look_at_first_stands_with_the_reason_and_with_the_check(run: tuple[Verdict, Path]) -> None:
    verdict, folder = run
    hints = {check.hint for check in verdict.checks if check.hint}
    text = text_of(page(verdict, folder))
    assert hints
    for hint in hints:
        assert f"look first at: {hint}" in text  # with the reason
        assert f"Look first at {hint}" in text  # with the check
    assert "no reading proves any of it" in text


def test_budgets_are_in_the_units_of_the_document(run: tuple[Verdict, Path]) -> None:
    text = text_of(page(*run))
    assert "206.0 GPa 2.4 GPa" in text
    assert "e-08" not in text


def test_a_check_that_was_not_made_says_why_in_its_row_alone(
    accept: Callable[..., Verdict], spool: Plan, tmp_path: Path
) -> None:
    verdict = accept(spool, tmp_path, ["open-lead=0.5 min"])
    text = text_of(page(verdict, tmp_path))
    lost = next(check for check in verdict.checks if words.not_made(check))
    assert f"not made {lost.note}" in text
    assert f"{words.title(lost)}: {lost.finding}" not in text
    unread = next(check for check in verdict.checks if words.unread(check) == "no reading" and check.measured is None)
    assert (
        f"{words.title(unread)}: {unread.finding} Value no reading" in text
    )  # a reading that is missing is told whole
