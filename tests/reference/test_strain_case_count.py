"""No strain case of the data files goes unchecked, and how many figures from how many sources that makes."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

HERE = Path(__file__).parent
STRAIN = re.compile(r"(T-)?(ROS|BRG|GF|LTT|SHN|LED|THM|TRV|INS|PWR)-|M-|BEM-0[146]$")
NOT_STRAIN = {"T-BRG-04": {"noise_rms", "SNR"}}  # noise of an amplifier: no part of a reduction


class Figure(NamedTuple):
    case: str
    name: str
    source: str
    how: str  # printed and seen, recalled, or derived (closed form or recomputed)


def cases(name: str) -> list[dict[str, Any]]:
    found = json.loads((HERE / "data" / name).read_text("utf-8"))["cases"]
    return [case for case in found if STRAIN.match(case["id"])]


def of_textbook(case: dict[str, Any]) -> list[Figure]:
    document = case["source"]["document"]
    printed = "recalled" if "memory" in case["provenance"] else "printed"
    return [
        Figure(case["id"], name, document, printed if figure["value"] is not None else "derived")
        for name, figure in case["expected"].items()
        if name not in NOT_STRAIN.get(case["id"], ())
    ]


def of_worked(case: dict[str, Any]) -> list[Figure]:
    answer = case["published_answer"]
    how = "derived" if answer.startswith("none") else "recalled" if answer == "memory" else "printed"
    expected = [Figure(case["id"], name, case["source"], how) for name in case["expected"]]
    return expected + [Figure(case["id"], name, case["source"], "derived") for name in case["recomputed_only"]]


def figures() -> list[Figure]:
    files: list[tuple[str, Callable[[dict[str, Any]], list[Figure]]]] = [
        ("textbook-examples.json", of_textbook),
        ("strain-from-memory.json", of_textbook),
        ("worked-examples.json", of_worked),
    ]
    return [figure for name, read in files for case in cases(name) for figure in read(case)]


def author(source: str) -> str:
    """The same book under two wordings is one source: its first word that looks like a name."""
    names = re.findall(r"Hibbeler|Megson|Beer|Philpot|Gere|Rajput|Doebelin|Gayakwad|Coughlin|Wheeler|Sawhney", source)
    names += re.findall(r"Figliola|Callister|Dally|hand-out|transtutors|tutorbin|numerade", source)
    names += re.findall(r"mazurekgravity|mis\.kyeop|physicsforums|Wu,|ASTM E251|trade custom|textbook figures", source)
    return names[0] if names else ""


def test_every_strain_case_is_checked_by_name() -> None:
    sources = "".join(path.read_text("utf-8") for path in HERE.glob("test_*.py") if path.name != Path(__file__).name)
    by_prefix = ("M-HIB", "M-GER", "M-CAL")  # parametrised over all of them
    unchecked = {
        figure.case
        for figure in figures()
        if not figure.case.startswith(by_prefix) and not re.search(rf'["` ]{figure.case}[":]', sources)
    }
    assert unchecked == set()
    assert all(f'"{prefix}' in sources for prefix in by_prefix)


def test_how_many_figures_from_how_many_sources() -> None:
    """A floor, so that neither shrinks unseen; the report for people is `python tests/reference/<this file>`."""
    counted = figures()
    by_how = {how: sum(figure.how == how for figure in counted) for how in ("printed", "recalled", "derived")}
    assert by_how["printed"] >= 60
    assert by_how["recalled"] >= 75
    assert len({author(figure.source) for figure in counted} - {""}) >= 20


if __name__ == "__main__":
    found = figures()
    for kind in ("printed", "recalled", "derived"):
        print(kind, sum(figure.how == kind for figure in found))  # noqa: T201
    print(len(found), sorted({author(figure.source) for figure in found}))  # noqa: T201
