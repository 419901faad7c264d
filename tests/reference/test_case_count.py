"""How many published values from how many sources are checked, counted from the data files and the tests themselves.

A value counts when a test module names its case and its own name. A case names the document and how surely it is known.
The report for people is `python tests/reference/test_case_count.py`.
"""

from __future__ import annotations

import ast
import json
import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

HERE = Path(__file__).parent
DATA = HERE / "data"
TEXTBOOK = ("textbook-examples.json", "strain-from-memory.json", "more-examples.json")
# Cases of the collected files about what rigproof does not compute, or that nobody published.
LEFT_OUT = {
    **dict.fromkeys(("its90-type-k",), "no thermocouple model"),
    **dict.fromkeys(("T-LEAK-01", "T-LEAK-02", "LEK-02", "GAS-01"), "no leak rate by the gas law, no trapped gas"),
    **dict.fromkeys(("T-MET-03",), "no lower limit factor of a force calibration"),
}
PROVENANCE = {"a": "seen", "b": "recalled, recomputed", "c": "memory"}
# One work is one source under whatever wording; the first that a reference mentions is its source.
SOURCES = re.compile(
    "Hibbeler|Megson|Beer|Philpot|Popov|Gere|Rajput|Boresi|Hearn|Doebelin|Gayakwad|Coughlin|Sawhney|Figliola|Callister|"
    "eCourses|MIL-HDBK-5|Strain Rosette Example|mathhelpforum|tutorbin|textbook figures|trade custom|OIML R 60|"
    "97/23/EC|PCC-2|VIII-1|B31.3|46 CFR|40 CFR|JCGM 10[016]|ILAC-G8|EA-4/02|IEC 60751|SRD 60|NIST StRD"
)


class Figure(NamedTuple):
    """One published value: its file, case and name, the document, the place in it, and how it is known."""

    file: str
    case: str
    name: str
    document: str
    provenance: str


def read(name: str) -> Any:
    return json.loads((DATA / name).read_text("utf-8"))


def nist() -> dict[str, Any]:
    """The certified sets by their name."""
    return {name: certified for name, certified in read("nist/certified.json").items() if name != "_about"}


def cases() -> list[dict[str, Any]]:
    """Every case of the other files."""
    files = ("uncertainty-cases.json", "worked-examples.json", *TEXTBOOK)
    return [case for file in files for case in read(file)["cases"]]


def how(words: str) -> str:
    """A file's words on provenance as one of three; an unknown wording stays and fails the test."""
    known = "b" if "from memory, recomputed" in words else words[:1] if re.match(r"[abc]( |$)", words) else words
    return PROVENANCE.get(known, words)


def of_uncertainty(file: str = "uncertainty-cases.json") -> Iterator[Figure]:
    for case in read(file)["cases"]:
        for name, figure in case["expected"].items():
            if figure["published"] is not None and case["provenance"]["inputs"] != "constructed":
                document = f"{case['source']['document']}, {case['source']['clause']}"
                yield Figure(file, case["id"], name, document, how(figure["provenance"]))


def of_textbooks() -> Iterator[Figure]:
    for file in TEXTBOOK:
        for case in read(file)["cases"]:
            for name, figure in case["expected"].items():
                if figure["value"] is not None and "constructed" not in case["source"]["document"]:
                    document = f"{case['source']['document']}, {case['source']['locator']}"
                    yield Figure(file, case["id"], name, document, how(case["provenance"]))


def of_worked(file: str = "worked-examples.json") -> Iterator[Figure]:
    """Only cases with a published answer, and the table of materials; the others have closed forms to compare with."""
    for case in read(file)["cases"]:
        if not case["published_answer"].startswith("none"):
            for name in case["expected"]:
                yield Figure(file, case["id"], name, case["source"], how(case["provenance"]))
    for material, columns in read(file)["material_constants"]["materials"].items():
        for column, figures in columns.items():
            for source in figures["values"]:
                known = "memory" if "memory" in source else "seen"
                yield Figure(file, "material_constants", f"{material} {column}", source, known)


def of_nist(file: str = "nist/certified.json") -> Iterator[Figure]:
    for name, certified in nist().items():
        figures = [key for key in ("mean", "sd_n_minus_1", "autocorrelation_lag1", "residual_sd") if key in certified]
        figures += [f"{key} {part}" for key in certified.get("parameters", ()) for part in ("estimate", "sd")]
        yield from (Figure(file, name, key, f"NIST StRD, {name}", how(certified["provenance"])) for key in figures)


class Words(NamedTuple):
    """What a test module says in strings and keywords, and its f-strings as patterns."""

    plain: frozenset[str]
    patterns: tuple[re.Pattern[str], ...]

    def name_case(self, case: str) -> bool:
        """By the id, or by the head of the ids over which a test is parametrised, such as M-HIB."""
        return case in self.plain or (case.startswith("M-") and case[:5] in self.plain)

    def name_figure(self, figure: Figure) -> bool:
        whole = figure.case[:5] in self.plain or figure.case in {"material_constants"}  # these loop over all figures
        part = figure.name.split()[-1] if figure.file.startswith("nist") else figure.name
        return whole or part in self.plain or any(pattern.fullmatch(part) for pattern in self.patterns)


def words(path: Path) -> Words:
    nodes = list(ast.walk(ast.parse(path.read_text("utf-8"))))
    plain = {node.value for node in nodes if isinstance(node, ast.Constant) and isinstance(node.value, str)}
    plain |= {node.arg for node in nodes if isinstance(node, ast.keyword) and node.arg}
    formatted = [node.values for node in nodes if isinstance(node, ast.JoinedStr)]
    patterns = [
        "".join(re.escape(str(part.value)) if isinstance(part, ast.Constant) else ".+" for part in parts)
        for parts in formatted
        if any(isinstance(part, ast.Constant) and re.search("[A-Za-z]", str(part.value)) for part in parts)
    ]
    return Words(frozenset(plain), tuple(map(re.compile, patterns)))


MODULES = {path.name: words(path) for path in HERE.glob("*.py") if path.name != Path(__file__).name}


def published() -> list[Figure]:
    return [*of_uncertainty(), *of_textbooks(), *of_worked(), *of_nist()]


def checked() -> list[Figure]:
    return [
        figure
        for figure in published()
        if any(module.name_case(figure.case) and module.name_figure(figure) for module in MODULES.values())
    ]


def source(figure: Figure) -> str:
    found = SOURCES.search(figure.document)
    return found.group() if found else ""


def test_at_least_300_values_from_at_least_25_sources() -> None:
    """A floor, so that neither shrinks unseen."""
    counted = checked()
    assert len(counted) >= 300
    assert len({source(figure) for figure in counted}) >= 25


def test_every_value_names_its_source_and_how_it_is_known() -> None:
    known = PROVENANCE.values()
    assert [figure for figure in published() if not source(figure) or figure.provenance not in known] == []


def test_every_case_names_its_source_and_how_it_is_known() -> None:
    """Also those without a published value."""
    assert [case["id"] for case in cases() if not (case.get("source") and case.get("provenance"))] == []
    assert [name for name, certified in nist().items() if not certified.get("provenance")] == []


def test_every_case_is_checked_by_name_or_left_out_for_a_reason() -> None:
    ids = [case["id"] for case in cases()] + list(nist())
    assert len(ids) == len(set(ids))
    assert {name for name in ids if not any(module.name_case(name) for module in MODULES.values())} == set(LEFT_OUT)


def test_every_data_file_is_used() -> None:
    """By its name in a test module or the conftest; a table of NIST through its set, which a test names."""
    tables = {certified["csv"] for certified in nist().values()}
    files = {path.name for path in DATA.rglob("*") if path.is_file()}
    assert {name for name in files - tables if not any(name in module.plain for module in MODULES.values())} == set()
    assert tables <= files


def report() -> str:
    counted = checked()
    lines = [
        f"{name}: {count} values, {len({figure.case for figure in counted if name in figure})} cases"
        for key in ("file", "provenance")
        for name, count in sorted(Counter(getattr(figure, key) for figure in counted).items())
    ]
    sources = Counter(source(figure) for figure in counted)
    lines.append(f"{len(counted)} values of {len(published())} published, from {len(sources)} sources:")
    return "\n".join([*lines, ", ".join(f"{name} {count}" for name, count in sources.most_common())])


if __name__ == "__main__":
    print(report())  # noqa: T201
