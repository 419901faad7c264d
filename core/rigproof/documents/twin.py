"""What the tool itself must know of a twin.yaml: which simulator reads the rest of it."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import BaseModel, ConfigDict, ValidationInfo, field_validator

from rigproof.documents.context import Context
from rigproof.quantities import WrittenError, did_you_mean


class TwinHeader(BaseModel):
    """The first two keys; all others are passed over here."""

    model_config: ClassVar[ConfigDict] = ConfigDict(frozen=True, extra="ignore")

    rigproof: Literal["twin/1"]
    simulator: str

    @field_validator("simulator")
    @classmethod
    def _is_installed(cls, simulator: str, info: ValidationInfo) -> str:
        context = Context.of(info)
        if context is not None and simulator not in context.registry.simulators:
            raise WrittenError(f"{simulator!r} is no simulator", did_you_mean(simulator, context.registry.simulators))
        return simulator
