"""The page in a browser: axe-core finds nothing against it, it fits phone and paper, it is walked by keyboard.

axe-core (Deque, MPL 2.0) checks WCAG 2.1 A and AA and best practice; its script comes with axe-playwright-python, the
browser is Debian's.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from rigproof.run.plan import Plan
from rigproof.verdict.record import Verdict
from rigproof_report.page import Page

if TYPE_CHECKING:
    from playwright.sync_api import Browser
    from playwright.sync_api import Page as Tab

CHROMIUM = shutil.which("chromium")
AXE = find_spec("axe_playwright_python")
PATIENCE_MS = 120_000  # a machine that others share may be slow; a timing is no finding
CSS = Path(__file__).parents[3] / "plugins" / "rigproof_report" / "templates" / "report.css"

in_a_browser = [
    pytest.mark.foreign,
    pytest.mark.skipif(CHROMIUM is None, reason="chromium is not installed (apt-get install chromium)"),
    pytest.mark.skipif(AXE is None, reason='axe-core\'s script is not installed (pip install -e ".[test]")'),
]


def foreign(test: Callable[..., None]) -> Callable[..., None]:
    for mark in in_a_browser:
        test = mark(test)
    return test


@pytest.fixture(scope="module")
def pages(accept: Callable[..., Verdict], spool: Plan, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """A run with a finding of every kind, and one whose record does not hold."""
    folder = tmp_path_factory.mktemp("run")
    Page().write(accept(spool, folder, ["leakage"]), folder)
    doubtful = tmp_path_factory.mktemp("doubtful")
    Page().write(accept(spool, tmp_path_factory.mktemp("other"), []), doubtful)
    return {"run": folder / "report.html", "doubt": doubtful / "report.html"}


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=CHROMIUM, timeout=PATIENCE_MS)
        yield opened
        opened.close()


def shown(browser: Browser, file: Path, width: int, **media: Any) -> Tab:
    tab = browser.new_page(viewport={"width": width, "height": 900})
    tab.set_default_timeout(PATIENCE_MS)
    tab.emulate_media(**media)
    tab.goto(file.as_uri())
    return tab


LOOKS = [(1100, {"color_scheme": "light"}), (375, {"color_scheme": "dark"}), (680, {"media": "print"})]


@foreign
@pytest.mark.parametrize(("width", "media"), LOOKS, ids=["desk, light", "phone, dark", "A4"])
@pytest.mark.parametrize("name", ["run", "doubt"])
def test_axe_finds_nothing_and_nothing_is_cut_off(
    browser: Browser, pages: dict[str, Path], name: str, width: int, media: dict[str, str]
) -> None:
    tab = shown(browser, pages[name], width, **media)
    assert AXE is not None
    assert AXE.submodule_search_locations is not None
    tab.evaluate((Path(AXE.submodule_search_locations[0]) / "axe.min.js").read_text("utf-8"))
    result = tab.evaluate("axe.run({resultTypes: ['violations']})")
    found = [f"{v['id']}: {v['help']}: {node['html'][:120]}" for v in result["violations"] for node in v["nodes"]]
    assert found == []
    assert len(result["passes"]) > (30 if name == "run" else 10)  # it did look
    assert tab.evaluate("document.documentElement.scrollWidth") <= width
    tab.close()


@foreign
def test_it_asks_for_nothing_and_the_keyboard_is_seen(browser: Browser, pages: dict[str, Path]) -> None:
    tab = browser.new_page(viewport={"width": 1100, "height": 900})
    asked: list[str] = []
    tab.on("request", lambda request: asked.append(request.url))
    tab.goto(pages["run"].as_uri())
    tab.keyboard.press("Tab")
    focus = "(e => [e.className, e.getBoundingClientRect().left, parseFloat(getComputedStyle(e).outlineWidth)])"
    name, left, outline = tab.evaluate(f"{focus}(document.activeElement)")
    assert (name, left >= 0, outline >= 2) == ("skip", True, True)
    tab.keyboard.press("Enter")
    assert tab.evaluate("location.hash") == "#main"
    for _ in range(12):
        tab.keyboard.press("Tab")
        assert tab.evaluate(f"{focus}(document.activeElement)")[2] >= 2
    assert [url.partition("#")[0] for url in asked] == [pages["run"].as_uri()]
    tab.close()


@foreign
def test_it_prints_on_a4(browser: Browser, pages: dict[str, Path]) -> None:
    tab = shown(browser, pages["run"], 1100)
    sizes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", tab.pdf(prefer_css_page_size=True))
    assert len(sizes) > 3
    assert {(round(float(w)), round(float(h))) for w, h in sizes} == {(595, 842)}  # ISO 216 in points
    tab.close()


def luminance(colour: str) -> float:
    """WCAG 2.1, definition of relative luminance."""
    digits = colour.lstrip("#")
    digits = "".join(2 * digit for digit in digits) if len(digits) == 3 else digits
    parts = [int(digits[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    linear = [p / 12.92 if p <= 0.03928 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("palette", range(3), ids=["light", "dark", "print"])
def test_contrast_holds_where_axe_cannot_see_it(palette: int) -> None:
    """WCAG 2.1: 4.5 to 1 for text (1.4.3), 3 to 1 for what a drawing says (1.4.11); axe leaves drawings out."""
    written = re.findall(r":root\{([^}]*)\}", CSS.read_text("utf-8"))[palette]
    colours = dict(re.findall(r"--(\w+):(#[0-9a-f]+)", written))

    def contrast(one: str, other: str) -> float:
        low, high = sorted((luminance(colours[one]), luminance(colours[other])))
        return (high + 0.05) / (low + 0.05)

    for text, ground in [("ink", "paper"), ("soft", "paper"), ("strong", "paper"), ("ink", "field"), ("soft", "field")]:
        assert contrast(text, ground) >= 4.5, (text, ground)
    for line, ground in [("line", "paper"), ("strong", "field"), ("ink", "field")]:
        assert contrast(line, ground) >= 3, (line, ground)
