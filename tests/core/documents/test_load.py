"""Documents from folders, files and texts."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, Literal

import pytest
from pydantic import Field

from rigproof.documents import YesNo, load_both, load_procedure, load_rig, read_document, simulator_of
from rigproof.errors import DocumentError, ExitCode
from rigproof.models import DocumentModel
from rigproof.plugins import Registry
from rigproof.quantities import Quantity, quantity


@pytest.fixture
def folder(tmp_path: Path, rig_text: str, procedure_text: str) -> Path:
    (tmp_path / "rig.yaml").write_text(rig_text, encoding="utf-8")
    (tmp_path / "acceptance.yaml").write_text(procedure_text, encoding="utf-8")
    return tmp_path


def faults_of(folder: Path, kinds: Registry) -> list[str]:
    with pytest.raises(DocumentError) as caught:
        load_both(folder, kinds)
    assert caught.value.exit_code is ExitCode.WRONG_INPUT
    return [f"{Path(fault.file).name}:{fault.line}: {fault.message}" for fault in caught.value.faults]


def test_a_folder(folder: Path, kinds: Registry) -> None:
    rig, procedure = load_both(folder, kinds)
    assert rig == load_rig(folder / "rig.yaml", kinds)
    assert procedure == load_procedure(str(folder / "acceptance.yaml"), kinds)
    assert rig.file == str(folder / "rig.yaml")


def test_a_text_from_a_journal_gives_the_same_rig(folder: Path, kinds: Registry) -> None:
    rig = load_rig(folder / "rig.yaml", kinds)
    assert load_rig(text=rig.text, name=rig.file, registry=kinds) == rig


def test_faults_of_both_documents(folder: Path, kinds: Registry) -> None:
    for name, old, new in [("rig.yaml", "90 kN", "90"), ("acceptance.yaml", "50 kN", "50")]:
        text = (folder / name).read_text(encoding="utf-8")
        (folder / name).write_text(text.replace(old, new), encoding="utf-8")
    found = faults_of(folder, kinds)
    assert [line.rpartition(": ")[0].split(":")[:2] for line in found] == [["rig.yaml", "40"], ["acceptance.yaml", "7"]]


def test_steps_that_do_not_fit(folder: Path, kinds: Registry, procedure_text: str) -> None:
    (folder / "acceptance.yaml").write_text(procedure_text.replace("[middle]", "[midle]"), encoding="utf-8")
    assert faults_of(folder, kinds) == ["acceptance.yaml:6: 'midle' is no channel of the rig"]


def test_missing_files(tmp_path: Path, kinds: Registry) -> None:
    assert len(faults_of(tmp_path, kinds)) == 2
    assert "there is no such folder" in faults_of(tmp_path / "none", kinds)[0]
    (tmp_path / "rig.yaml").write_text("", encoding="utf-8")
    assert "is a file, and a rig is a folder" in faults_of(tmp_path / "rig.yaml", kinds)[0]


def test_a_path_or_a_text(kinds: Registry) -> None:
    with pytest.raises(TypeError, match="from one of them only"):
        load_rig(None, kinds)
    with pytest.raises(TypeError, match="from one of them only"):
        load_rig("rig.yaml", kinds, text="")


HEADERS = [
    ("name: x\n", "1:1", "are missing", "begins with `rigproof: …`"),
    ("rigprof: rig/1\n", "1:1", "unknown key 'rigprof'", "did you mean 'rigproof'?"),
    (
        "rigproof: rig/2\n",
        "1:11",
        "another version of the format; this rigproof reads rig/1",
        "write `rigproof: rig/1`",
    ),
    ("rigproof: twin/1\n", "1:11", "this is no rig: it begins `rigproof: twin/1`", "name a file that begins"),
    ("rigproof:\n", "1:1", "this is no rig", "name a file that begins"),
    ("rigproof: [a]\n", "1:11", "this is no rig", "name a file that begins"),
    ("name: x\nrigproof: rig/1\n", "2:1", "`rigproof: rig/1` is not the first key", "move it to the top"),
    ("- a\n", "1:1", "a document is made of lines `key: value`", "begin it with `rigproof: rig/1`"),
    ("just words\n", "1:1", "a document is made of lines `key: value`", "begin it with `rigproof: rig/1`"),
]


@pytest.mark.parametrize(("text", "place", "said", "remedy"), HEADERS)
def test_the_first_line(kinds: Registry, text: str, place: str, said: str, remedy: str) -> None:
    with pytest.raises(DocumentError) as caught:
        load_rig(text=text, registry=kinds)
    found = [f for f in caught.value.faults if said in f.message and f"{f.line}:{f.column}" == place]
    assert len(found) == 1
    assert remedy in found[0].remedy


class Shaker(DocumentModel):
    """A document of a plugin."""

    rigproof: Literal["shaker/1"]
    stroke_length: Annotated[Quantity, quantity("length")]
    loud: YesNo = False
    seats: Annotated[int, Field(ge=1)] = 1
    share: float = 0.5
    tags: dict[str, list[str]] = Field(default_factory=dict)


def read(text: str) -> Shaker:
    return read_document(Shaker, text="rigproof: shaker/1\n" + text, name="shaker.yaml")


def test_a_document_of_a_plugin(tmp_path: Path) -> None:
    found = read("stroke length: 3 mm\nloud: yes\nseats: 2\ntags: {a: [b, c]}\n")
    assert (found.stroke_length.value, found.loud, found.seats, found.tags) == (0.003, True, 2, {"a": ["b", "c"]})
    (tmp_path / "s.yaml").write_text("rigproof: shaker/1\nstroke length: 3 mm\n", encoding="utf-8")
    assert read_document(Shaker, tmp_path / "s.yaml") == read("stroke length: 3 mm\n")


@pytest.mark.parametrize(
    ("line", "column", "where", "said", "remedy"),
    [
        ("loud: on", 7, "loud", "'on' is neither yes nor no", "write yes or no"),
        ("loud: 1", 7, "loud", "'1' is neither yes nor no", "write yes or no"),
        ("seats: 1:20", 8, "seats", "'1:20' is not a whole number", "digits alone"),
        ("seats: 0", 8, "seats", "'0' is below 1", "within the bounds"),
        ("share: half", 8, "share", "'half' is not a number", "with a point"),
        ("tags: {a: b}", 11, "tags.a", "'b' is no list", "[a, b]"),
        ("tags: [a]", 7, "tags", "a list stands where keys with values are wanted", "key: value"),
        ("tags: {a: [b, {}]}", 15, "tags.a[2]", "a group of keys is no text", "write a text"),
        ("stroke_lenght: 3 mm", 1, "stroke_lenght", "unknown key", "did you mean 'stroke length'?"),
    ],
)
def test_its_faults(line: str, column: int, where: str, said: str, remedy: str) -> None:
    with pytest.raises(DocumentError) as caught:
        read(f"stroke length: 3 mm\n{line}\n")
    (fault,) = caught.value.faults
    assert (fault.file, fault.line, fault.column, fault.where) == ("shaker.yaml", 3, column, where)
    assert said in fault.message
    assert remedy in fault.remedy


def test_very_many_faults_are_cut_and_counted() -> None:
    with pytest.raises(DocumentError) as caught:
        read("".join(f"key {n}: x\n" for n in range(5000)))
    assert len(caught.value.faults) <= 202
    assert any("more faults are not shown" in fault.message for fault in caught.value.faults)


def test_the_simulator_of_a_twin(tmp_path: Path, kinds: Registry) -> None:
    path = tmp_path / "twin.yaml"
    marker: Any = object()
    known = Registry(simulators={"strain rig": marker})
    path.write_text("rigproof: twin/1\nsimulator: strain rig\nanything: {else: 1}\n", encoding="utf-8")
    assert simulator_of(path, known) == "strain rig"
    with pytest.raises(DocumentError, match="2:12: simulator: 'strain rig' is no simulator"):
        simulator_of(path, kinds)
    path.write_text("rigproof: rig/1\nsimulator: strain rig\n", encoding="utf-8")
    with pytest.raises(DocumentError, match="this is no twin"):
        simulator_of(path, known)
