from __future__ import annotations

import inspect

from rigproof.hookspecs import DOOR
from rigproof.models import PartModel
from rigproof.quantities import KINDS
from rigproof_parts import plugin


def test_the_door_and_the_kinds() -> None:
    assert plugin.RIGPROOF_DOOR == DOOR
    assert [model.kind for model in plugin.rigproof_part_models()] == [
        *("cylinder", "branch pipe", "sphere", "cantilever", "constant stress cantilever"),
        *("column", "rectangular column", "shaft", "force cell"),
    ]


def test_every_model_keeps_the_contract() -> None:
    for model in plugin.rigproof_part_models():
        assert issubclass(model, PartModel)
        assert not inspect.isabstract(model)
        assert model.load in KINDS
        assert model.places
        assert model.model_json_schema()["additionalProperties"] is False
