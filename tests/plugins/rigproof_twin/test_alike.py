"""What the elements of a rosette share deviates alike in the simulated rig, as its budget takes it."""

from __future__ import annotations

from pathlib import Path

import pytest

from rigproof.documents import load_rig
from rigproof.plugins import Registry
from rigproof_twin.document import read_twin
from rigproof_twin.draw import Streams
from rigproof_twin.survey import survey

BRANCH = Path(__file__).parents[3] / "rigs" / "branch"
SHELL, FLANK = ([f"{at} {element}" for element in "abc"] for at in ("shell", "flank"))
LINE = "channels: [shell a, shell b, shell c]"


@pytest.fixture
def drawn(tmp_path: Path, registry: Registry) -> dict[str, dict[str, tuple[float, float, float]]]:
    """By what the shell's elements share: of each gauge its factor, transverse sensitivity and its input's gain."""
    found = {}
    for shared in ("", "shared: []", "shared: [accuracy of reading]"):
        text = (BRANCH / "rig.yaml").read_text("utf-8").replace(LINE, f"{LINE}\n    {shared}")
        (tmp_path / "rig.yaml").write_text(text, "utf-8")
        rig = load_rig(tmp_path / "rig.yaml", registry)
        built = survey(rig, read_twin(BRANCH / "twin.yaml", rig), Streams(4))
        deviations = built.appearances["bridge"].deviations
        found[shared] = {
            name: (
                built.gauges[name].gauge_factor,
                built.gauges[name].transverse_sensitivity,
                deviations[rig.channels[name].input].gain_error,
            )
            for name in (*SHELL, *FLANK)
        }
    return found


@pytest.mark.parametrize(
    ("shared", "alike"), [("", (1, 1, 3)), ("shared: []", (3, 3, 3)), ("shared: [accuracy of reading]", (3, 3, 1))]
)
def test_as_many_values_as_the_rig_says(
    drawn: dict[str, dict[str, tuple[float, float, float]]], shared: str, alike: tuple[int, int, int]
) -> None:
    of_shell = zip(*(drawn[shared][name] for name in SHELL), strict=True)
    assert tuple(len(set(values)) for values in of_shell) == alike


def test_another_rosette_is_another_foil(drawn: dict[str, dict[str, tuple[float, float, float]]]) -> None:
    assert drawn[""]["shell a"][:2] != drawn[""]["flank a"][:2]
    assert all(drawn[""][name] == drawn["shared: []"][name] for name in FLANK)
