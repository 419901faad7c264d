"""`settings:` of the Modbus drivers."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo, field_validator

from rigproof.instruments import Settings
from rigproof.quantities import Quantity, WrittenError, quantity

from .maps import InputAt, NumberAt, StateAt, TargetAt, ValveAt, Whole, WriteAt

MOST_WRITES = 20


def _unit_id(number: int) -> int:
    if not (0 <= number <= 247 or number == 255):
        raise WrittenError(f"{number} is no unit id", "write 1 to 247; over TCP also 0 or 255, for the device itself")
    return number


def _above_zero(within: Quantity | None) -> Quantity | None:
    if within is not None and within.value <= 0:
        raise WrittenError(f"{within.text!r} is not above 0", "write how far from the target is near enough")
    return within


def _input_key(written: object) -> object:
    if isinstance(written, str) and not (written.isascii() and written.isdigit() and written[0] != "0"):
        raise WrittenError(f"{written!r} is no input", "number the inputs 1, 2, 3 …; channels name them")
    return written


class ModbusSettings(Settings):
    """What every Modbus instrument needs."""

    unit_id: Annotated[Whole, AfterValidator(_unit_id)] = 1
    identity: Literal["ask", "cannot say"]
    serial_number_object: Annotated[Whole | None, Field(ge=0x80, le=0xFF, validate_default=True)] = None

    @field_validator("serial_number_object")
    @classmethod
    def _asked(cls, number: int | None, info: ValidationInfo) -> int | None:
        if number is not None and info.data.get("identity") == "cannot say":
            raise WrittenError("an instrument that is not asked gives no serial number", "write `identity: ask`")
        return number


class MeterSettings(ModbusSettings):
    """Of a `modbus meter`: where each numbered input stands."""

    inputs: Annotated[
        dict[Annotated[int, BeforeValidator(_input_key), Field(ge=1, le=9999)], InputAt], Field(min_length=1)
    ]


class SourceSettings(ModbusSettings):
    """Of a `modbus source`: what moves the load, what says that it is there, and above all its safe state."""

    target: TargetAt
    rate: TargetAt
    enable: Annotated[tuple[WriteAt, ...], Field(min_length=1, max_length=MOST_WRITES)]
    safe_state: Annotated[tuple[WriteAt, ...], Field(max_length=MOST_WRITES)]
    valve: ValveAt | None = None
    settled: StateAt | None = None
    actual: NumberAt | None = None
    settled_within: Annotated[
        Quantity | None, quantity("pressure difference", "force", "torque"), AfterValidator(_above_zero)
    ] = Field(default=None, validate_default=True)

    @field_validator("target", "rate", "actual", mode="after")
    @classmethod
    def _not_upside_down(cls, at: NumberAt | None) -> NumberAt | None:
        if at is not None and at.scale < 0:
            raise WrittenError(f"a scale of {at.scale:g} turns the load round", "write a scale above 0")
        return at

    @field_validator("safe_state", mode="before")
    @classmethod
    def _not_left_out(cls, written: Any) -> Any:
        if isinstance(written, list | tuple) and not written:
            raise WrittenError(
                "a source without a safe state cannot be made safe",
                "list every write that stops the source and takes the load off (pump off, vent open)",
            )
        return written

    @field_validator("safe_state")
    @classmethod
    def _takes_back(cls, safe: tuple[WriteAt, ...], info: ValidationInfo) -> tuple[WriteAt, ...]:
        """At least one write undoes what `enable` sets, and no two of one list contradict each other."""
        for writes in (safe, info.data.get("enable", ())):
            told: dict[str, int] = {}
            for write in writes:
                if told.setdefault(str(write), write.value) != write.value:
                    raise WrittenError(f"{write} is written twice with different values", "write it once")
        enabled = {str(write): write.value for write in info.data.get("enable", ())}
        if enabled and not any(enabled.get(str(write), write.value) != write.value for write in safe):
            raise WrittenError(
                "no entry takes back what `enable` sets: the source would go on",
                f"write the stopped value of {', '.join(enabled)}",
            )
        return safe

    @field_validator("settled_within")
    @classmethod
    def _can_tell(cls, within: Quantity | None, info: ValidationInfo) -> Quantity | None:
        if not {"settled", "actual"} <= info.data.keys():
            return within
        settled, actual = info.data["settled"], info.data["actual"]
        if settled is None and (actual is None or within is None):
            raise WrittenError(
                "nothing says when the source has reached its target",
                "add `settled: {…}`, a state, or `actual: {…}` with `settled within:`",
            )
        if (actual is None) != (within is None):
            missing = "actual" if actual is None else "settled within"
            raise WrittenError(f"`{missing}` is missing", "write both `actual` and `settled within`, or neither")
        return within
