"""Gauges and the channels that measure them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, ValidationInfo, field_validator, model_validator

from rigproof.documents.accuracy import Accuracy, Reading, read_accuracy
from rigproof.documents.chosen import ByModel
from rigproof.documents.context import Context, name_in
from rigproof.documents.correction import Correction, read_correction
from rigproof.documents.named import Named
from rigproof.instruments import Reads, TestsInsulation
from rigproof.models import BridgeModel, ReductionModel
from rigproof.quantities import (
    KINDS,
    KindName,
    Quantity,
    Uncertain,
    WrittenError,
    did_you_mean,
    parse_uncertain,
    quantity,
    uncertain,
)

INSULATION = "insulation resistance"


class Gauge(Named):
    """A strain gauge as bonded: the place on the part, and what its packet says."""

    at: str
    """Where on the part it is bonded: one of the words that the part model knows, such as `hoop`."""
    # Bounds with a wide margin (common practice, no source): they find a slipped point or a forgotten sign.
    resistance: Annotated[
        Uncertain,
        uncertain(
            "resistance",
            at_least="10 Ω",
            at_most="100 kΩ",
            because="gauges have 60 Ω to 10 kΩ",
            such_as="350 Ω ± 0.3 %",
        ),
    ]
    """Of the unbonded gauge, with the limits the packet states."""
    gauge_factor: Annotated[
        Uncertain,
        uncertain(
            "number",
            at_least="0.5",
            at_most="200",
            because="metal foil has about 2, silicon up to about 180",
            such_as="2.08 ± 0.5 %",
        ),
    ]
    """Of the packet, with its limits: relative change of resistance per strain."""
    transverse_sensitivity: Annotated[
        Uncertain,
        uncertain(
            "ratio",
            at_least="-10 %",
            at_most="10 %",
            because="packets state some tenths of a per cent",
            such_as="0.4 % ± 0.2 %",
        ),
    ] = parse_uncertain("0 %", "ratio")
    """Of the packet, a share of the gauge factor; where it is left out, 0 is taken as exact."""
    compensated_for: Annotated[Uncertain | None, uncertain("expansion")] = None
    """Expansion of the material whose thermal expansion the gauge is made for."""
    temperature: Annotated[str, name_in("channels", "channel")] | None = None
    """Channel that tells how warm part and gauge are; it takes the thermal output out of every strain."""
    grid_area: Annotated[Quantity | None, quantity("area", above="0 mm²")] = None
    """Area of the grid, for the power density in it."""
    power_density: Annotated[Quantity | None, quantity("power density", above="0 kW/m²")] = None
    """Highest power per area of the grid that the gauge may take on this part."""

    @field_validator("resistance", "gauge_factor")
    @classmethod
    def _stays_above_zero(cls, packet: Uncertain) -> Uncertain:
        if packet.lower <= 0:
            raise WrittenError(f"{packet.text!r} reaches down to 0 or below", "write the limits of the packet")
        return packet

    @field_validator("at")
    @classmethod
    def _on_the_part(cls, at: str, info: ValidationInfo) -> str:
        context = Context.of(info)
        part = context.part if context else None
        if context is not None and part is not None:
            places = part.places_written(context.section("part"))
            if at not in places:
                raise WrittenError(f"{at!r} is no place on a {part.kind}", did_you_mean(at, places))
        return at

    @field_validator("temperature")
    @classmethod
    def _tells_a_temperature(cls, name: str | None, info: ValidationInfo) -> str | None:
        context = Context.of(info)
        measured = context.measured(name) if context else None
        if measured not in (None, "temperature"):
            raise WrittenError(f"{name!r} measures {measured}", "name a channel that measures temperature")
        if name is not None and info.data.get("compensated_for", "") is None:
            what = "nothing can be taken out of the strain while nobody knows what the gauge is compensated for"
            raise WrittenError(what, "add `compensated for:` with the packet's figure, or leave `temperature` out")
        return name


class Channel(Named):
    """One measured quantity: which input of which instrument reads it, and how the reading is reduced."""

    measures: KindName
    """Kind of quantity that the channel stands for, such as `strain` or `gauge pressure`."""
    gauge: Annotated[str, name_in("gauges", "gauge")] | None = None
    """The gauge it reads, for strain, gauge resistance and insulation resistance."""
    reduction: Annotated[ReductionModel | None, ByModel("reductions")] = None
    """How the reading becomes the quantity: the bridge of a strain, the sensor of a temperature."""
    instrument: Annotated[str, name_in("instruments", "instrument")]
    """The instrument that reads it."""
    input: Annotated[int, Field(ge=1, le=9999)]
    """Number of the instrument's input, from 1."""
    highest_reading: Annotated[Quantity | None, quantity("insulation resistance")] = None
    """End of the range of an insulation tester; a reading above it shows as much as this."""
    accuracy: Annotated[Accuracy, BeforeValidator(lambda given, info: read_accuracy(given, info.context))] = Accuracy()
    """How wrong the instrument may read here; strain and load are not judged without it."""
    correction: Annotated[Correction, BeforeValidator(lambda given, info: read_correction(given, info.context))] = (
        Correction()
    )
    """What a certificate says must be added to every reading."""

    @property
    def states_its_error(self) -> bool:
        """False where nothing is written, in accuracy or certificate, that makes its readings uncertain."""
        certified = (self.correction.of_reading, self.correction.fixed)
        return self.accuracy.stated or any(part is not None and part.u > 0 for part in certified)

    @property
    def reads(self) -> str:
        """The kind of quantity the instrument reads; `measures` where nothing is reduced."""
        return self.reduction.takes if self.reduction is not None else self.measures

    @model_validator(mode="before")
    @classmethod
    def _say_what_is_read(cls, written: Any, info: ValidationInfo) -> Any:
        """Hand accuracy and correction the kind they need, as it is written, so that no other fault hides their own."""
        context = Context.of(info)
        if context is None or not isinstance(written, Mapping):
            return written
        of_reading = [key for key in ("accuracy", "correction") if key in written]
        if not of_reading:
            return written
        measures = written.get("measures")
        kind = measures if isinstance(measures, str) and measures in KINDS else None
        if kind == "strain":
            kind = BridgeModel.takes  # whatever is wrong with the reduction
        elif written.get("reduction") is not None:
            model = context.reduction(written["reduction"])
            kind = model.takes if model is not None else None
        return {**written, **{key: Reading(kind, written[key]) for key in of_reading}}

    @field_validator("reduction")
    @classmethod
    def _fits(cls, model: ReductionModel | None, info: ValidationInfo) -> ReductionModel | None:
        measures = info.data.get("measures")
        if measures == "strain" and not isinstance(model, BridgeModel):
            raise WrittenError("a strain needs the reduction of a bridge", "add one such as {model: quarter bridge, …}")
        if model is None or measures is None:
            return model
        if model.gives != measures:
            raise WrittenError(
                f"{model.kind!r} gives {model.gives}, and the channel measures {measures}",
                "choose another model, or correct `measures`",
            )
        if model.gauges and info.data.get("gauge", "") is None:
            raise WrittenError(f"{model.kind!r} needs to know its gauge", "add `gauge:` with a name from `gauges`")
        return model

    @field_validator("instrument")
    @classmethod
    def _can_read(cls, instrument: str, info: ValidationInfo) -> str:
        context = Context.of(info)
        driver = context.driver(instrument) if context else None
        wanted = TestsInsulation if info.data.get("measures") == INSULATION else Reads
        if driver is not None and not issubclass(driver, wanted):
            does = "test insulation" if wanted is TestsInsulation else "give readings"
            raise WrittenError(f"{instrument!r} ({driver.kind}) does not {does}", "name an instrument that does")
        return instrument
