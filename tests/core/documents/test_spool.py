"""The spool of the demonstration, with the bundled plugins."""

from __future__ import annotations

from pathlib import Path

import pytest

from rigproof.documents import load_both, schema, simulator_of
from rigproof.documents.reader import read_tree
from rigproof.documents.source import read_source
from rigproof.errors import DocumentError
from rigproof.plugins import Registry

RIGS = sorted(path.parent for path in (Path(__file__).parents[3] / "rigs").glob("*/rig.yaml"))


@pytest.mark.parametrize("folder", RIGS, ids=lambda folder: folder.name)
def test_every_rig_of_the_repository_loads(folder: Path, registry: Registry) -> None:
    rig, procedure = load_both(folder, registry)
    assert rig.channels
    assert procedure.steps
    assert simulator_of(folder / "twin.yaml", registry) in registry.simulators


def test_the_spool_says_what_its_file_says(spool_folder: Path, registry: Registry) -> None:
    rig, procedure = load_both(spool_folder, registry)
    assert rig.part.kind == "cylinder"
    assert [gauge.at for gauge in rig.gauges.values()] == ["hoop", "axial"]
    assert rig.channels["wall temperature"].reads == "resistance"
    assert rig.sources["pump"].limit.value == 4e6
    kinds = ["resistance", "insulation", "balance", "shunt", "arming", "cycles", "proof"]
    assert [step.kind for step in procedure.steps] == kinds


def test_a_fault_deep_in_a_plugins_model_is_placed(spool_folder: Path, registry: Registry, tmp_path: Path) -> None:
    for name, old, new in [
        ("rig.yaml", "    poisson ratio: 0.29", "    poison ratio: 0.29"),
        ("acceptance.yaml", "resistor: 174.8 kΩ", "resistor: 174.8 kV"),
    ]:
        text = (spool_folder / name).read_text(encoding="utf-8")
        assert text.count(old) == 1
        (tmp_path / name).write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(DocumentError) as caught:
        load_both(tmp_path, registry)
    assert [(fault.line, fault.column, fault.where) for fault in caught.value.faults] == [
        (14, 5, "part.material.poison ratio"),
        (8, 50, "steps[4].shunt.resistor"),
    ]


SHARES = "rise to 100 % of the proof load"


@pytest.mark.parametrize(
    ("old", "new", "place", "where", "said"),
    [
        ("resistance: {channels: [hoop, axial]", "resistance: {channels: [hoop, axel]", (5, 35),
         "steps[1].resistance.channels[2]", "'axel' is no strain channel of the rig"),
        ("resistance: {channels: [hoop, axial]", "resistance: {channels: [hoop, hoop]", (5, 35),
         "steps[1].resistance.channels[2]", "'hoop' stands in the list already"),
        ("balance:    {channels: all strain", "balance:    {channels: hop", (7, 28),
         "steps[3].balance.channels", "'hop' is no strain channel of the rig"),
        ("70 %, 85 %", "70 %, 60 %", (11, 68), "steps[7].proof.stages[3]", f"60 % after 70 %: stages {SHARES}"),
        ("[50 %,", "[0 %,", (11, 56), "steps[7].proof.stages[1]", f"0 % after 0 %: stages {SHARES}"),
        ("85 %, 100 %]", "85 %, 110 %]", (11, 74), "steps[7].proof.stages[4]", f"110 % after 85 %: stages {SHARES}"),
        ("85 %, 100 %]", "85 %]", (11, 68), "steps[7].proof.stages[3]", "85 % is the last stage, and the last"),
    ],
)  # fmt: skip
def test_a_fault_of_a_list_is_at_its_entry(
    spool_folder: Path, registry: Registry, tmp_path: Path,
    old: str, new: str, place: tuple[int, int], where: str, said: str,
) -> None:  # fmt: skip
    for name in ("rig.yaml", "acceptance.yaml"):
        text = (spool_folder / name).read_text(encoding="utf-8")
        assert name == "rig.yaml" or text.count(old) == 1
        (tmp_path / name).write_text(text if name == "rig.yaml" else text.replace(old, new), encoding="utf-8")
    with pytest.raises(DocumentError) as caught:
        load_both(tmp_path, registry)
    (fault,) = caught.value.faults
    assert ((fault.line, fault.column), fault.where) == (place, where)
    assert fault.message.startswith(said)
    assert fault.remedy


def test_the_schema_knows_every_key_of_the_spool(spool_folder: Path, registry: Registry) -> None:
    root, _ = read_tree(read_source(spool_folder / "rig.yaml"))
    assert root is not None
    written = root.plain()
    defs = schema("rig", registry)["$defs"]
    models = {part["properties"]["model"]["const"]: part for part in defs["RigDocument"]["properties"]["part"]["oneOf"]}
    assert set(written["part"]) <= set(models[written["part"]["model"]]["properties"])
    for section, name in [("gauges", "Gauge"), ("channels", "Channel"), ("instruments", "Instrument")]:
        for entry in written[section].values():
            assert set(entry) <= set(defs[name]["properties"])
