"""The material of a part: a name that the data know, or what its certificate states."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, ClassVar

from pydantic import AfterValidator, GetJsonSchemaHandler, ModelWrapValidatorHandler, field_validator, model_validator
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema

from rigproof.models import DocumentModel
from rigproof.quantities import Quantity, Uncertain, WrittenError, did_you_mean, quantity, uncertain
from rigproof.uncertainty import Input
from rigproof_parts.materials import known_materials
from rigproof_parts.sizes import above_zero


def _elastic(ratio: Uncertain) -> Uncertain:
    if not 0 < ratio.lower <= ratio.upper < 0.5:
        raise WrittenError(f"{ratio.text!r} is out of bounds", "it must lie between 0 and 0.5, limits included")
    return ratio


PoissonRatio = Annotated[Uncertain, uncertain("number"), AfterValidator(_elastic)]


class _Unknown(str):
    """A name that the data do not have, of a material whose values are not all written either."""

    __slots__ = ()


def _not_known(name: str) -> WrittenError:
    remedy = did_you_mean(name, known_materials())
    return WrittenError(
        f"{str(name)!r} is no material of the data", f"{remedy.removesuffix('?')}, or write all its values"
    )


class Material(DocumentModel):
    """An isotropic, linearly elastic material.

    `material: carbon steel` takes everything from materials.yaml; in a mapping each value written replaces the one of
    the data under that name. A name the data do not have needs all four values.
    """

    unwritten: ClassVar[str] = "materials.yaml"

    name: str
    """Name of the material; one of the data brings the values that are not written."""
    elastic_modulus: Annotated[Uncertain, uncertain("stress"), AfterValidator(above_zero)]
    """Young's modulus, with its limits."""
    poisson_ratio: PoissonRatio
    """Poisson's ratio, with its limits."""
    expansion: Annotated[Uncertain, uncertain("expansion")]
    """Linear thermal expansion."""
    yield_strength: Annotated[Quantity, quantity("stress", above="0 MPa")]
    """Stress at which it starts to yield."""

    @model_validator(mode="before")
    @classmethod
    def _fill_from_the_data(cls, written: Any) -> Any:
        if isinstance(written, str):
            if written not in known_materials():
                raise _not_known(written)
            written = {"name": written}
        if not isinstance(written, Mapping):
            return written
        name = written.get("name")
        needed = {field.alias for field in cls.model_fields.values()}
        if not isinstance(name, str) or needed <= written.keys():
            return written
        entry = known_materials().get(name)
        return {**written, "name": _Unknown(name)} if entry is None else {**entry.written(), **written}

    @model_validator(mode="wrap")
    @classmethod
    def _know_what_was_written(cls, written: Any, handler: ModelWrapValidatorHandler[Material]) -> Material:
        """What the data gave was not written in the document."""
        material = handler(written)
        keys = written.keys() if isinstance(written, Mapping) else ()
        for key in material.model_fields_set - {key.replace(" ", "_") for key in keys}:
            material.model_fields_set.discard(key)
        return material

    @field_validator("name", mode="before")
    @classmethod
    def _is_in_the_data(cls, name: object) -> object:
        if isinstance(name, _Unknown):
            raise _not_known(name)
        return name

    @classmethod
    def __get_pydantic_json_schema__(cls, schema: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        """A name of the data, or a mapping in which only the name must stand."""
        mapping = handler.resolve_ref_schema(super().__get_pydantic_json_schema__(schema, handler))
        return {"anyOf": [{"type": "string", "enum": list(known_materials())}, {**mapping, "required": ["name"]}]}

    def inputs(self) -> tuple[Input, ...]:
        """Elastic modulus (Pa), Poisson's ratio, expansion (1/K)."""
        return (*self.elastic(), self.expansion.input("expansion"))

    def elastic(self) -> tuple[Input, Input]:
        """Elastic modulus (Pa) and Poisson's ratio alone, for parts without a filling."""
        return self.elastic_modulus.input("elastic modulus"), self.poisson_ratio.input("poisson ratio")
