"""A force cell known by its rated output, whatever its body is."""

from __future__ import annotations

from math import inf, sqrt
from typing import TYPE_CHECKING, Annotated, ClassVar

from pydantic import ValidationInfo, field_validator

from rigproof.errors import NumberError
from rigproof.models import Fact, Numbers, PartModel
from rigproof.quantities import Quantity, Uncertain, WrittenError, quantity, show, uncertain
from rigproof.uncertainty import Input
from rigproof_parts.cautions import UNDER_FORCE, against_yield

if TYPE_CHECKING:
    from rigproof.documents.rig import Gauge

# Poisson's ratio of the material on which gauge factors are found (ASTM E251, OIML R 62, from memory; seen in a course
# hand-out). Of a strain field with this ratio a gauge reports the strain along the grid, whatever its Kt.
CALIBRATION_POISSON = 0.285


class ForceCell(PartModel):
    """A force cell with a full bridge: `rated output` at `rated load`, from its certificate.

    A cell is no strained surface with a gauge, so the contract's strain is the one its bridge stands for: the full
    bridge of the channel (`model: full bridge, arrangement: bending`) shows output/gauge factor, and `strain` gives
    just that, with the transverse strain of the material on which gauge factors are found, so that no transverse
    sensitivity acts. `gauge factor` is the number that the rig's gauge entry of this cell has, exact; it cancels
    between expectation and reading, and 2 is as good as any.

    `combined error` is the largest departure from the straight line through zero, non-linearity, hysteresis and
    repeatability together, as a share of the rated output (the term of force-cell certificates). The contract counts
    force positive as the certificate does; a cell wired the other way has a negative rated output.
    """

    kind: ClassVar[str] = "force cell"
    load: ClassVar[str] = "force"
    places: ClassVar[tuple[str, ...]] = ("bridge",)
    bears: ClassVar[str] = "safe load limit"
    without: ClassVar[str] = "a lasting shift of its zero"

    rated_load: Annotated[Quantity, quantity("force", above="0 N")]
    """Load that the rated output belongs to."""
    rated_output: Annotated[Uncertain, uncertain("bridge output")]
    """Change of bridge output at the rated load, from the certificate."""
    combined_error: Annotated[Quantity, quantity("ratio", at_least="0 %", at_most="5 %")]
    """Largest departure from the straight line, as a share of the rated output."""
    safe_load_limit: Annotated[Quantity, quantity("force", above="0 N")]
    """Load up to which the cell takes no permanent shift."""
    gauge_factor: Annotated[Quantity, quantity("number", above="0")]
    """The same exact number as in the gauge's entry; it cancels."""

    @field_validator("rated_output")
    @classmethod
    def _has_an_output(cls, output: Uncertain) -> Uncertain:
        if output.lower <= 0 <= output.upper:
            raise WrittenError(f"{output.text!r} has 0 within its limits", "write the output at the rated load")
        return output

    @field_validator("safe_load_limit")
    @classmethod
    def _above_rated(cls, limit: Quantity, info: ValidationInfo) -> Quantity:
        rated = info.data.get("rated_load")
        if rated is not None and limit.value < rated.value:
            raise WrittenError(
                f"{limit.text!r} is below the rated load of {rated.text!r}",
                "write the load up to which the cell takes no permanent shift",
            )
        return limit

    def unsuited(self, gauge: Gauge) -> str:
        """The gauge factor must be the same number in both entries, and exact: it stands for none of the cell's."""
        written = gauge.gauge_factor
        if written.value == self.gauge_factor.value and written.u == 0:
            return ""
        return (
            f"its gauge factor is {written.text!r}, that of the force cell {self.gauge_factor.text!r}, and a cell is "
            "known by its rated output alone: one exact number stands in both"
        )

    def has_opposite(self, place: str) -> bool:
        """The bridge is whole inside the cell, half of its gauges against the others."""
        return place in self.places

    def inputs(self) -> tuple[Input, ...]:
        """Rated output (V/V), combined error (share of the rated output, 0 with limits)."""
        limits = self.combined_error.value
        error = Input("combined error", 0.0, limits / sqrt(3), dof=inf, shape="rectangular" if limits else "exact")
        return self.rated_output.input("rated output"), error

    def output(self, load: Numbers, *inputs: Numbers) -> Numbers:
        """Change of bridge output (V/V) under `load` (N): the straight line, and the departure from it."""
        rated, error = inputs
        return rated * (load / self.rated_load.value + error)

    def strain(self, load: Numbers, place: str, *inputs: Numbers) -> tuple[Numbers, Numbers]:
        """The strain the bridge stands for, output/gauge factor, and -0.285 of it across."""
        if place not in self.places:
            raise NumberError(f"place = {place!r}: a force cell has only {self.places[0]}; write that")
        along = self.output(load, *inputs) / self.gauge_factor.value
        return along, -CALIBRATION_POISSON * along

    def yield_load(self) -> float:
        """Force (N) above which the cell may shift for good: the safe load limit of its data sheet."""
        return self.safe_load_limit.value

    def proof_limit(self) -> float:
        """The safe load limit (N), which is itself below yield."""
        return self.safe_load_limit.value

    def formulas(self) -> tuple[str, ...]:
        """The certificate's line, and who says what the cell bears."""
        return (
            "Expected output: rated output/rated load, a straight line through zero (the cell's certificate).",
            "Safe load limit: as the cell's data sheet states it.",
        )

    def facts(self, load: float) -> tuple[Fact, ...]:
        """The limit, and the bridge output at `load` (N) and per newton."""
        per_newton = self.rated_output.value / self.rated_load.value
        share = Fact("share of the rated load", abs(load) / self.rated_load.value, "ratio")
        output = Fact("bridge output", per_newton * load, "bridge output", "straight line through zero")
        limit = Fact(self.bears, self.safe_load_limit.value, "force")
        of_limit = Fact(f"share of the {self.bears}", abs(load) / self.safe_load_limit.value, "ratio")
        return (limit, of_limit, share, output)

    def cautions(self, load: float) -> tuple[str, ...]:
        """What people must mind at `load` (N)."""
        above = (
            (f"{show(load, self.load, 4)} is above the rated load of {self.rated_load.text}: the certificate ends.",)
            if abs(load) > self.rated_load.value
            else ()
        )
        return (against_yield(load, self.yield_load(), self.load, "the safe load limit"), *above, *UNDER_FORCE)
