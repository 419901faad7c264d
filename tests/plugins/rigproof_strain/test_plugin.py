from __future__ import annotations

import inspect

from rigproof.hookspecs import DOOR
from rigproof.models import BridgeModel, ReductionModel
from rigproof.quantities import KINDS
from rigproof_strain import plugin


def test_the_door_and_the_kinds() -> None:
    assert plugin.RIGPROOF_DOOR == DOOR
    models = {model.kind: model for model in plugin.rigproof_reduction_models()}
    assert list(models) == ["quarter bridge", "half bridge", "full bridge", "Pt100"]


def test_every_model_keeps_the_contract() -> None:
    for model in plugin.rigproof_reduction_models():
        assert issubclass(model, ReductionModel)
        assert not inspect.isabstract(model)
        assert {model.takes, model.gives} <= KINDS.keys()
        assert model.gauges == int(issubclass(model, BridgeModel))
        assert model.model_json_schema()["additionalProperties"] is False
