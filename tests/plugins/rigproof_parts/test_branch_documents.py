"""A pipe with a branch as it stands in a rig.yaml: rigs/branch with faults, each with its place and remedy."""

from __future__ import annotations

from itertools import combinations
from math import sqrt
from pathlib import Path

import pytest

from rigproof.documents import load_rig
from rigproof.documents.faults import describe
from rigproof.errors import DocumentError
from rigproof.interlocks import yield_strain

TEXT = (Path(__file__).parents[3] / "rigs" / "branch" / "rig.yaml").read_text("utf-8")
BRANCH = TEXT[TEXT.index("  branch:") : TEXT.index("\ngauges:")]
ORDER = "channels: [flank a, flank b, flank c]"


def said(old: str, new: str) -> str:
    assert old in TEXT, old
    with pytest.raises(DocumentError) as refused:
        load_rig(text=TEXT.replace(old, new, 1), name="rig.yaml")
    return describe(refused.value.faults)


@pytest.mark.parametrize(
    ("old", "new", "place", "why", "remedy"),
    [
        ("normal: 1.9 ± 8 %", "normal: 1.9", "rig.yaml:20:15: part.branch.flank.normal", "written as exact", "± 15 %"),
        ("1.9 ± 8 %", "190 ± 8 %", "part.branch.flank.normal", "'190 ± 8 %' is out of bounds", "at most 20"),
        ("      tangential: 2.5", "      tang: 2.5", "part.branch.flank", "'tangential' is missing", "tangential"),
        (
            "surface: inside",
            "surface: bore",
            "part.branch.corner.surface",
            "none of outside, inside",
            "outside, inside",
        ),
        ("flank normal", "flank hoop", "gauges.flank a.at", "no place on a branch pipe", "did you mean 'flank normal'"),
        (
            "flank normal",
            "corner normal",
            "gauges: flank a",
            "lies inside, and `gauge surface` of",
            "make the two agree",
        ),
        (BRANCH, "", "part: the key", "'branch' is missing", "write `branch: …`"),
        (
            BRANCH,
            "  branch: {}\n",
            "part.branch",
            "no entry stands here, and at least 1 must",
            "those that are missing",
        ),
        (BRANCH, "  branch: [flank]\n", "part.branch", "a list stands where keys with values are wanted", "key: value"),
        (BRANCH, "  branch: {flank: 2.5}\n", "part.branch.flank", "'2.5' stands where keys", "key: value"),
        ("ends: closed", "ends: closed\n  theory: thin", "part.branch", "thin-wall theory does not", "`theory: thick`"),
        (ORDER, "channels: [flank a, shell b, flank c]", "rosettes.flank.channels", "do not lie", "correct `at`"),
        (ORDER, "channels: [flank b, flank a, flank c]", "rosettes.flank.channels", "do not lie", "correct `at`"),
    ],
)
def test_a_fault_has_its_place_and_remedy(old: str, new: str, place: str, why: str, remedy: str) -> None:
    text = said(old, new)
    assert place in text
    assert why in text
    assert remedy in text


def test_a_source_is_asked_for() -> None:
    line = next(line for line in TEXT.splitlines() if "source: " in line)
    assert "part.branch.flank: the key 'source' is missing" in said(f"{line}\n", "")


def test_gauges_inside_make_the_inner_point_theirs() -> None:
    """Inside nothing tells the stress from strains alone, so that the rosettes go."""
    text = TEXT.replace("gauge surface: outside", "gauge surface: inside").replace("at: flank", "at: corner")
    start, end = text.index("rosettes:"), text.index("instruments:")
    part = load_rig(text=text[:start] + text[end:], name="rig.yaml").part
    assert part.elastic() is None
    assert part.nominal_strain("corner normal")[0] > part.nominal_strain("hoop")[0] > 0


def test_a_share_of_yield_counts_from_the_point_that_yields_first() -> None:
    """By hand: Lame (from memory) for the hoop stress of the bore and the strain outside, von Mises at the corner."""
    limit = "hoop strain: {channel: hoop, above: 300 µε}"
    assert limit in TEXT
    rig = load_rig(text=TEXT.replace(limit, "hoop yield: {channel: hoop, above share of yield: 90 %}"), name="rig.yaml")
    a, b = 53.55, 57.15
    hoop = (b**2 + a**2) / (b**2 - a**2)
    stress = (2.8 * hoop, -0.2 * hoop, -1.0)
    equivalent = sqrt(sum((one - other) ** 2 for one, other in combinations(stress, 2)) / 2)
    assert rig.part.yield_load() == pytest.approx(235e6 / equivalent, rel=1e-9)
    strain = 235e6 / equivalent * (2 - 0.29) * a**2 / (b**2 - a**2) / 206e9
    assert yield_strain(rig, "hoop") == pytest.approx(strain, rel=3e-3)  # transverse sensitivity adds 0.2 %
