"""What rig.yaml may say of instruments that are worked by hand."""

from __future__ import annotations

from pathlib import Path

import pytest

from rigproof.documents import load_rig
from rigproof.errors import DocumentError
from rigproof.plugins import Registry

BEAM = (Path(__file__).parents[3] / "rigs" / "beam" / "rig.yaml").read_text("utf-8")
FIXED = "input: 1\n    accuracy: {of reading: 0.05 %, fixed: 50 mΩ}"


def test_the_settings_state_what_the_channel_leaves_out(registry: Registry) -> None:
    """A display of 10 mΩ; weights of ± 0.1 % in a gravity of ± 0.05 %, both rectangular (JCGM 100, 4.3.7)."""
    rig = load_rig(text=BEAM, registry=registry)
    accuracy = rig.channels["top resistance"].accuracy
    assert accuracy.resolution is not None
    assert accuracy.resolution.value == pytest.approx(0.01)
    assert accuracy.fixed is not None
    assert accuracy.fixed.u_absolute == pytest.approx(0.05 / 3**0.5)  # as the channel has it
    load = rig.channels["load"].accuracy.of_reading
    assert load is not None
    assert load.u_relative == pytest.approx((0.1**2 + 0.05**2) ** 0.5 / 100 / 3**0.5)


def test_the_channel_s_own_word_counts_before_that_of_the_settings(registry: Registry) -> None:
    text = BEAM.replace(FIXED, "input: 1\n    accuracy: {resolution: 0.1 Ω}", 1)
    accuracy = load_rig(text=text, registry=registry).channels["top resistance"].accuracy
    assert accuracy.resolution is not None
    assert accuracy.resolution.value == pytest.approx(0.1)
    assert accuracy.fixed is None


@pytest.mark.parametrize(
    ("old", "new", "where", "said"),
    [
        ("resource: by hand", "resource: COM3", "instruments.indicator.resource", "no place where a person works"),
        (
            "instrument: ohmmeter\n    input: 1",
            "instrument: ohmmeter\n    input: 7",
            "channels.top resistance.input",
            "its settings have no input 7; they have 1, 2",
        ),
        (
            "instrument: ohmmeter\n    input: 1",
            "instrument: insulation tester\n    input: 1",
            "channels.top resistance.input",
            "input 1 gives insulation resistance, and the channel reads resistance",
        ),
        (
            "instrument: weights\n    input: 1 ",
            "instrument: weights\n    input: 2 ",
            "channels.load.input",
            "weights have input 1 alone, which gives force",
        ),
        (
            "    channel: load ",
            "    channel: top ",
            "sources.weights.channel",
            "'top' is read by a person (manual meter), and what stands here is read every second",
        ),
        (
            "sources:\n",
            "interlocks:\n  strain: {channel: top, above: 700 µε}\nsources:\n",
            "interlocks.strain.channel",
            "'top' is read by a person",
        ),
    ],
)
def test_what_cannot_be_is_refused_at_its_place(registry: Registry, old: str, new: str, where: str, said: str) -> None:
    assert old in BEAM
    with pytest.raises(DocumentError) as caught:
        load_rig(text=BEAM.replace(old, new, 1), registry=registry)
    (fault,) = (fault for fault in caught.value.faults if said in fault.message)
    assert fault.where == where


def test_noise_may_be_left_out_and_not_by_another_word(registry: Registry) -> None:
    balance = registry.steps["balance"]
    assert balance.model_validate({"noise": "left out"}).noise is None  # type: ignore[attr-defined]
    for wrong in ("none", None, "left  out"):
        with pytest.raises(ValueError, match="noise"):
            balance.model_validate({"noise": wrong})
