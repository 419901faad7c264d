"""Quantities as fields of pydantic models: `wall: Annotated[Uncertain, uncertain("length")]`.

A default is written as text and read too: `hold: Annotated[Quantity, quantity("time")] = parse("10 min", "time")`.
`| None` inside the `Annotated` lets an empty value through.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Annotated, Any, cast, get_args

from pydantic import AfterValidator, GetCoreSchemaHandler, GetJsonSchemaHandler, ValidationError
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, InitErrorDetails, PydanticCustomError, core_schema

from rigproof.quantities.forms import ACCURACY, CERTIFICATE, STATISTICS, FormError
from rigproof.quantities.kinds import KINDS, kind_of
from rigproof.quantities.lexer import WrittenError, a, example
from rigproof.quantities.nearest import did_you_mean
from rigproof.quantities.quantity import Quantity, parse, parse_any
from rigproof.quantities.spread import Spread, Within, parse_spread, parse_within
from rigproof.quantities.uncertain import Uncertain, parse_uncertain

# Shorter than the lexer's own and as wide: it helps an editor, and decides nothing.
_NUMBER = r"[+-]?(\d+(\.\d+)?|\.\d+)([eE][+-]?\d\d?)?"

Written = Quantity | Uncertain | Spread | Within


@dataclass(frozen=True)
class WrittenField:
    """Pydantic metadata: reads one form of quantity of one of some kinds, and describes it in a JSON Schema."""

    form: type[Written]
    kinds: tuple[str, ...]
    read: Callable[[object], Written]
    above: str = ""
    at_least: str = ""
    at_most: str = ""
    because: str = ""  # why there are bounds, for the remedy
    such_as: str = ""  # what is usually written; "" where a number like any other is an example

    @property
    def sample(self) -> str:
        """A text that would be right, for whoever has written nothing."""
        return self.such_as or str(next(iter(_texts(_SCHEMAS[self.form](self.kinds[0]))))["examples"][0])

    def __post_init__(self) -> None:
        for kind in self.kinds:
            kind_of(kind)  # a wrong kind is a defect of the model: say so on import

    def validate(self, written: object) -> Written:
        """The quantity; raises pydantic's own error with the place inside a mapping."""
        if isinstance(written, self.form) and written.kind in self.kinds:
            return written
        try:
            quantity = self.read(written)
        except FormError as error:
            raise _placed(error, cast("Mapping[str, object]", written)) from None
        if isinstance(quantity, Quantity | Uncertain):
            self._check_bounds(quantity)
        return quantity

    def _check_bounds(self, quantity: Quantity | Uncertain) -> None:
        for rule, bound, broken in (
            ("above", self.above, float.__le__),
            ("at least", self.at_least, float.__lt__),
            ("at most", self.at_most, float.__gt__),
        ):
            if bound and broken(quantity.value, parse(bound, quantity.kind).value):
                why = f": {self.because}" if self.because else ""
                if rule == "at most" and quantity.kind == "ratio" and quantity.text[-1].isdigit():
                    why += f"; write {quantity.text} % if that is meant"
                raise WrittenError(f"{quantity.text!r} is out of bounds", f"it must be {rule} {bound}{why}")

    def __get_pydantic_core_schema__(self, source: Any, _handler: GetCoreSchemaHandler) -> CoreSchema:
        schema = core_schema.no_info_plain_validator_function(
            self.validate, serialization=core_schema.to_string_ser_schema()
        )
        return core_schema.nullable_schema(schema) if type(None) in get_args(source) else schema

    def __get_pydantic_json_schema__(self, _schema: CoreSchema, _handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        schemas = [_SCHEMAS[self.form](kind) for kind in self.kinds]
        if self.such_as:
            for text in (text for schema in schemas for text in _texts(schema)):
                text["examples"] = [self.such_as]
        return schemas[0] if len(schemas) == 1 else {"anyOf": schemas}


def _known_kind(written: str) -> str:
    if written not in KINDS:
        raise WrittenError(f"{written!r} is no kind of quantity", did_you_mean(written, KINDS))
    return written


KindName = Annotated[str, AfterValidator(_known_kind)]  # a field that names a kind of quantity


def quantity(*kinds: str, above: str = "", at_least: str = "", at_most: str = "", because: str = "") -> WrittenField:
    """A field read into a `Quantity` of the kind its unit belongs to; bounds are texts, such as `above="0 s"`."""
    return WrittenField(Quantity, kinds, partial(parse_any, kinds=kinds), above, at_least, at_most, because)


def uncertain(
    kind: str, *, above: str = "", at_least: str = "", at_most: str = "", because: str = "", such_as: str = ""
) -> WrittenField:
    """A field of `kind` read into an `Uncertain`; bounds apply to the value."""
    read = partial(parse_uncertain, kind=kind)
    return WrittenField(Uncertain, (kind,), read, above, at_least, at_most, because, such_as)


def spread(kind: str) -> WrittenField:
    """A field read into a `Spread`: an accuracy of something of `kind`; a share counts from the reading."""
    return WrittenField(Spread, (kind,), partial(parse_spread, kind=kind))


def absolute_spread(kind: str) -> WrittenField:
    """A field read into a `Spread` that must be written in a unit of `kind`, never as a share."""
    return WrittenField(Spread, (kind,), partial(parse_spread, kind=kind, absolute=True))


def within(kind: str, *, absolute: bool = False) -> WrittenField:
    """A field read into a `Within`: a tolerance around something of `kind`; `absolute` refuses a share."""
    return WrittenField(Within, (kind,), partial(parse_within, kind=kind, absolute=absolute))


def _placed(error: FormError, written: Mapping[str, object]) -> ValidationError:
    lines: list[InitErrorDetails] = [
        {"type": "value_error", "loc": (key,), "input": written.get(key), "ctx": {"error": problem}}
        for key, problem in error.problems.items()
    ]
    lines += [{"type": "missing", "loc": (key,), "input": written} for key in error.missing]
    unknown = PydanticCustomError("unknown_key", "unknown key", {"known": list(error.keys)})
    lines += [{"type": unknown, "loc": (key,), "input": written.get(key)} for key in error.unknown]
    return ValidationError.from_exception_data("quantity", lines)


def _pattern(kind: str) -> str:
    """A regular expression (ECMA 262) for a number with one of the printed units."""
    special = {ord(c): f"\\{c}" for c in r"^$\.*+?()[]{}|"}
    units = "|".join(unit.translate(special) for unit in (*kind_of(kind).units, *kind_of(kind).also))
    return f"{_NUMBER}\\s*({units})"


def _text(pattern: str, description: str, sample: str, kind: str) -> JsonSchemaValue:
    # A YAML editor reads a bare 2 as a number, so where no unit is needed both types are right.
    types: Any = ["string", "number"] if "" in kind_of(kind).units else "string"
    return {"type": types, "pattern": f"^\\s*{pattern}\\s*$", "description": description, "examples": [sample]}


def _texts(schema: JsonSchemaValue) -> list[JsonSchemaValue]:
    """The form of a schema that is one text with an example."""
    return [one for one in (schema, *schema.get("anyOf", ())[:1]) if "examples" in one]


# What stands under the keys of the mapping forms; see the page README.md beside this file.
_KEYS = {
    "value": "the value; with s and n the mean of n values",
    "U": "expanded uncertainty as the certificate states it, with a unit or in % of the value",
    "k": "coverage factor that U was stated with, often 2",
    "s": "standard deviation of the single values, with a unit or in % of the value",
    "n": "how many values; the standard uncertainty of their mean is s over the root of n",
}


def _form(required: tuple[str, ...], kinds: tuple[str, ...]) -> JsonSchemaValue:
    parts = {
        key: _text(_pattern(kind), _KEYS[key], example(kind_of(kind)), kind)
        for key, kind in zip(required, kinds, strict=True)
    }
    return {"type": "object", "properties": parts, "required": list(required), "additionalProperties": False}


def _either(kind: str) -> str:
    return f"({_pattern(kind_of(kind).difference)}|{_pattern('ratio')})"


def _width(key: str, kind: str) -> JsonSchemaValue:
    return {"type": ["string", "number"], "pattern": f"^\\s*{_either(kind)}\\s*$", "description": _KEYS[key]}


def _quantity_schema(kind: str) -> JsonSchemaValue:
    return _text(_pattern(kind), a(kind), example(kind_of(kind)), kind)


def _uncertain_schema(kind: str) -> JsonSchemaValue:
    pattern = f"{_pattern(kind)}(\\s*(±|\\+/-|\\+-)\\s*{_either(kind)})?"
    sample = f"{example(kind_of(kind))} ± 1 {'K' if kind == 'temperature' else '%'}"
    certificate = _form(CERTIFICATE, (kind, kind, "number"))
    statistics = _form(STATISTICS, (kind, kind, "number"))
    certificate["properties"]["U"], statistics["properties"]["s"] = _width("U", kind), _width("s", kind)
    return {"anyOf": [_text(pattern, f"{a(kind)}, with limits or exact", sample, kind), certificate, statistics]}


def _spread_schema(kind: str) -> JsonSchemaValue:
    pattern = f"((±|\\+/-|\\+-)\\s*)?{_either(kind)}"
    text = _text(pattern, f"limits of {a(kind)}, or a share of the reading", "± 0.05 %", kind)
    form = _form(ACCURACY, ("ratio", "number"))
    form["properties"]["U"] = _width("U", kind)
    return {"anyOf": [text, form]}


def _within_schema(kind: str) -> JsonSchemaValue:
    pattern = f"within\\s((±|\\+/-|\\+-)\\s*)?{_either(kind)}"
    return _text(pattern, f"a tolerance of {a(kind)}, or a share of a reference", "within 1 %", "strain")


_SCHEMAS: Mapping[type[Written], Callable[[str], JsonSchemaValue]] = {
    Quantity: _quantity_schema,
    Uncertain: _uncertain_schema,
    Spread: _spread_schema,
    Within: _within_schema,
}
