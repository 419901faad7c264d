"""From the documents to a beam as built, and to the weights that hang on it; to a shaft."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import TYPE_CHECKING

from rigproof.models import PartModel
from rigproof.quantities import Uncertain
from rigproof_twin.as_built import Beam, Shaft, Weights
from rigproof_twin.draw import Streams
from rigproof_twin.fields import field_of
from rigproof_twin.refusal import beyond

if TYPE_CHECKING:
    from rigproof.documents.rig import Rig

HANG_ON = ("cantilever", "force cell")
STANDARD_GRAVITY = 9.80665  # m/s², where nothing hangs and none is stated


def beam(model: PartModel, streams: Streams) -> Beam:
    """A cantilever of constant section, its true sizes and material drawn within what is stated."""
    drawn = partial(streams.drawn, "part")
    return Beam(
        length_m=drawn(model, "length"),
        width_m=drawn(model, "width"),
        thickness_m=drawn(model, "thickness"),
        gauge_distance_m=drawn(model, "gauge distance"),
        **_material(model, streams),
    )


def shaft(model: PartModel, streams: Streams) -> Shaft:
    """A round shaft, its true sizes and material drawn within what is stated."""
    drawn = partial(streams.drawn, "part")
    return Shaft(
        diameter_m=drawn(model, "diameter"),
        bore_m=drawn(model, "bore"),
        **_material(model, streams),
    )


def _material(model: PartModel, streams: Streams) -> dict[str, float]:
    drawn = partial(streams.drawn, "part", field_of(model, "material"))
    return {
        "elastic_modulus_pa": drawn("elastic modulus"),
        "poisson_ratio": drawn("poisson ratio"),
        "expansion_per_k": drawn("expansion"),
        "yield_strength_pa": drawn("yield strength"),
    }


def weights(rig: Rig, streams: Streams) -> Weights:
    """The true masses and gravity of the rig's weights; none where it has none.

    Raises `DocumentError` where the twin has no physics for the part under this source.
    """
    kinds = {source.name: rig.instruments[source.instrument].driver.kind for source in rig.sources.values()}
    hangs = [name for name, kind in kinds.items() if kind == "manual source"]
    if rig.part.kind == "cantilever" and len(hangs) != len(kinds):
        other = next(name for name in kinds if name not in hangs)
        raise beyond(
            rig, ("sources", other, "instrument"), "the twin loads a cantilever by weights", ("manual source",)
        )
    if rig.part.kind not in HANG_ON and hangs:
        raise beyond(
            rig, ("sources", hangs[0], "instrument"), f"the twin hangs no weights on a {rig.part.kind}", HANG_ON
        )
    if len(hangs) > 1:
        what = "the twin knows no second set of weights"
        raise beyond(rig, ("sources", hangs[1], "instrument"), what, ("one set of weights",))
    if not hangs:
        return Weights({}, STANDARD_GRAVITY)
    settings = rig.instruments[rig.sources[hangs[0]].instrument].settings
    stated, gravity = field_of(settings, "weights"), field_of(settings, "gravity")
    assert isinstance(stated, Mapping), "weights by their marks"
    assert isinstance(gravity, Uncertain), "an acceleration"
    masses = {mark: streams.truth(f"weight {mark}", mass) for mark, mass in stated.items()}
    return Weights(masses, streams.truth("gravity", gravity))
