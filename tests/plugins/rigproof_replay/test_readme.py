"""The page for users: each of its snippets is taken through a run."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

from rigproof.__main__ import run
from rigproof.documents import load_rig
from rigproof.journal import read_journal
from rigproof.plugins import Registry
from rigproof.run.paper import output_under
from rigproof.verdict.record import Verdict, from_bytes
from rigproof_replay.plugin import rigproof_drivers
from rigproof_replay.settings import MISSING, TableSettings

from .conftest import ROOT, Original

Rig = Callable[..., Path]
Page = Callable[[str], str]

STEPS = "  - cycles: {source: pump, to: 20 bar, times: 2, levels: 2, exercise: 0, dwell: 3 s, rest: 5 s}\n"


def verdict_of(folder: Path) -> Verdict:
    run(["run", str(folder), "--replayed", "--quiet", "--out", str(folder / "out")])
    return from_bytes((folder / "out" / "verdict.json").read_bytes())


def water_log(hours: float) -> Iterator[str]:
    """One row every ten seconds from ten seconds before the run on, as the page begins it."""
    yield "when,T water / °C"
    for n in range(int(hours * 360)):
        minute, second = divmod(10 * n - 10 + 3600 * 9, 60)
        yield f"2026-11-25T{minute // 60:02}:{minute % 60:02}:{second:02}+01:00,{20.0 + 0.0001 * n:.4f}"


def test_a_log_beside_the_journal(replayed_rig: Rig, page: Page, original: Original) -> None:
    """The load's decay takes the water's temperature from the log; all else is the journal's."""
    other = next(line for line in page("journal").splitlines() if "thermometer:" in line)
    folder = replayed_rig(page("journal").replace(other + "\n", page("thermometer")))
    assert page("log").splitlines()[0] == next(water_log(1))
    (folder / "water.csv").write_text("\n".join(water_log(1)), "utf-8")
    verdict = verdict_of(folder)
    assert verdict.verdict == "accept", verdict.why
    changed = [a.name for a, b in zip(verdict.checks, original.verdict.checks, strict=True) if a != b]
    assert changed == ["decay over the hold"]
    blocks = [e for e in read_journal(folder / "out" / "journal.jsonl").entries if "water" in e.data.get("values", {})]
    for block in blocks:  # the rows are ten seconds apart, and the first is ten seconds before the run
        row = np.floor(block.data["t0"]["water"] / 10 + 1 + 1e-6)
        assert block.data["values"]["water"][0] == pytest.approx(20.0 + 0.0001 * row, abs=1e-9)


def test_records_of_different_times_are_refused(
    replayed_rig: Rig, page: Page, capsys: pytest.CaptureFixture[str]
) -> None:
    other = next(line for line in page("journal").splitlines() if "thermometer:" in line)
    begins = "starts at: 2026-11-25T08:00:00Z", "starts at: 2026-11-25T08:05:00Z"
    folder = replayed_rig(page("journal").replace(other + "\n", page("thermometer")), begins)
    (folder / "water.csv").write_text("\n".join(water_log(1)), "utf-8")
    assert run(["run", str(folder), "--replayed", "--out", str(folder / "out")]) == 4
    assert "begin 300 s apart" in capsys.readouterr().err


def test_the_log_as_the_page_shows_it_is_read(replayed_rig: Rig, page: Page) -> None:
    other = next(line for line in page("journal").splitlines() if "thermometer:" in line)
    folder = replayed_rig(page("journal").replace(other + "\n", page("thermometer")))
    (folder / "water.csv").write_text(page("log"), "utf-8")
    assert run(["check", str(folder)]) == 0


@pytest.fixture
def table_rig(tmp_path: Path, page: Page) -> Path:
    """The spool with strain and pressure alone, from the table of the page."""
    folder = tmp_path / "old"
    shutil.copytree(ROOT / "tests" / "rigs" / "spool", folder)
    text = (folder / "rig.yaml").read_text("utf-8")
    text = "\n".join(line for line in text.splitlines() if "temperature: wall temperature" not in line)
    before, rest = text.split("  hoop resistance:\n", 1)
    pressure, rest = rest.split("  pressure:\n", 1)[1].split("  water:\n", 1)
    sources = rest.split("sources:\n", 1)[1]
    text = f"{before}  pressure:\n{pressure}\n{page('table')}\nsources:\n{sources}"
    (folder / "rig.yaml").write_text(text, "utf-8")
    (folder / "acceptance.yaml").write_text(f"rigproof: procedure/1\nname: x\nsteps:\n{STEPS}", "utf-8")
    return folder


def old_test(folder: Path, registry: Registry, page: Page, stiffer: float = 1.0) -> str:
    """Two cycles to 20 bar in steps of 10, recorded every half second, as the part model says, with a little noise."""
    rig = load_rig(folder / "rig.yaml", registry)
    corners = [(0.0, 0.0)]
    for bar in (0.0, *(10.0, 20.0, 10.0, 0.0) * 2):
        t, last = corners[-1]
        corners += [(t + abs(bar - last), bar), (t + abs(bar - last) + 20.0, bar)]
    times = np.arange(0.0, corners[-1][0] + 30.0, 0.5)
    loads = np.interp(times, [t for t, _ in corners], [bar for _, bar in corners])
    at_20 = {name: output_under(rig, name, 20e5) * 1e3 / stiffer for name in ("hoop", "axial")}
    noise = np.random.default_rng(1).normal(0.0, 2e-5, (len(times), 2))
    rows = page("csv").splitlines()[:3]
    for t, bar, (one, two) in zip(times, loads, noise, strict=True):
        hoop, axial = 0.3012 + at_20["hoop"] * bar / 20 + one, -0.1178 + at_20["axial"] * bar / 20 + two
        rows.append(f"{t:.1f};{bar:.3f};{hoop:.5f};{axial:.5f}".replace(".", ","))
    return "\n".join(rows) + "\n"


def test_an_old_test_is_judged(table_rig: Path, registry: Registry, page: Page) -> None:
    """The sensitivity found is the part model's, since its own figures were written into the table."""
    (table_rig / "test.csv").write_text(old_test(table_rig, registry, page), "utf-8")
    verdict = verdict_of(table_rig)
    assert {check.finding for check in verdict.checks} == {"accept"}, verdict.why
    assert (verdict.verdict, verdict.replayed, verdict.simulated) == ("accept", True, False)
    for check in verdict.checks:
        if check.name == "sensitivity":
            assert check.measured == pytest.approx(check.expected, rel=2e-3)


def test_an_old_test_of_a_stiffer_part_is_rejected(table_rig: Path, registry: Registry, page: Page) -> None:
    (table_rig / "test.csv").write_text(old_test(table_rig, registry, page, stiffer=1.3), "utf-8")
    verdict = verdict_of(table_rig)
    assert verdict.verdict == "reject"
    assert {check.name for check in verdict.checks if check.finding == "reject"} == {"sensitivity"}


def test_the_table_as_the_page_shows_it_is_read(table_rig: Path, page: Page) -> None:
    (table_rig / "test.csv").write_text(page("csv"), "utf-8")
    assert run(["check", str(table_rig)]) == 0


def test_faults_of_settings_and_table_come_together(
    table_rig: Path, page: Page, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (
        (table_rig / "rig.yaml").read_text("utf-8").replace("{1: {column: p, unit: bar}}", "{1: {column: p, unit: kN}}")
    )
    (table_rig / "rig.yaml").write_text(text, "utf-8")
    (table_rig / "test.csv").write_text(page("csv").replace("0,5;0,002", "0,5;0.002"), "utf-8")
    assert run(["check", str(table_rig)]) == 4
    printed = capsys.readouterr().err
    assert "instruments.transmitter.settings.inputs.1.unit: 'kN' is no unit of gauge pressure" in printed
    assert printed.count("test.csv:5:5: column 'p': '0.002' has a decimal point") == 1
    assert "    0,5;0.002;0,3012;-0,1178\n        ^^^^^\n" in printed


def test_the_page_names_every_driver_and_every_setting() -> None:
    text = (ROOT / "plugins" / "rigproof_replay" / "README.md").read_text("utf-8")
    for driver in rigproof_drivers():
        assert f"| `{driver.kind}` |" in text
    for field in TableSettings.model_fields:
        assert f"`{field.replace('_', ' ')}`" in text, field
    assert f'`["", {", ".join(MISSING[1:])}]`' in text
