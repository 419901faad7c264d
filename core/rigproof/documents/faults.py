"""Validation errors to faults with their places, and faults to text for people."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from rigproof.documents.source import Source
from rigproof.documents.tree import Node, find
from rigproof.documents.validation import CONSEQUENCE, UNKNOWN_KEY, WRONG_KEY, Path
from rigproof.errors import Fault
from rigproof.quantities import did_you_mean, nearest
from rigproof.quantities.lexer import one_of

MOST = 200  # faults of the content of one document
WIDEST = 100  # characters of a line that are shown

_WHOLE = ("is not a whole number", "write digits alone")
_NUMBER = ("is not a number", "write digits, with a point for decimals")
_DATE = ("is no date", "write year-month-day, such as 2027-03-31")
_TRUTH = ("is neither yes nor no", "write yes or no")
_TEXT = ("is no text", "write a text here")
_MAPPING = ("stands where keys with values are wanted", "write `key: value` lines below the key, or {key: value}")
_LIST = ("is no list", "write `- ` lines below the key, or [a, b]")
_TYPES = {
    "int_parsing": _WHOLE, "int_type": _WHOLE, "int_from_float": _WHOLE, "int_parsing_size": _WHOLE,
    "float_parsing": _NUMBER, "float_type": _NUMBER, "bool_parsing": _TRUTH, "bool_type": _TRUTH,
    "date_from_datetime_parsing": _DATE, "date_parsing": _DATE, "date_type": _DATE, "string_type": _TEXT,
    "model_type": _MAPPING, "dict_type": _MAPPING, "model_attributes_type": _MAPPING, "list_type": _LIST,
    "tuple_type": _LIST,
}  # fmt: skip

_MORE_ENTRIES = "write those that are missing"
_LENGTHS = {
    "too_short": ("{0}, and at least {min_length} must", _MORE_ENTRIES),
    "too_long": ("{0}, and at most {max_length} may", "take away what is too much"),
}
_BOUNDS = {
    "greater_than": "is not above {gt}", "greater_than_equal": "is below {ge}",
    "less_than": "is not below {lt}", "less_than_equal": "is above {le}",
    "string_too_short": "has fewer than {min_length} characters",
    "string_too_long": "has more than {max_length} characters",
}  # fmt: skip


def faults_of(error: ValidationError, source: Source, root: Node) -> list[Fault]:
    """The errors of a document, each at its place; what only follows from another one is left out."""
    details = error.errors(include_url=False)
    causes = [one for one in details if one["type"] != CONSEQUENCE] or details
    cut = _cut_by_a_comma(causes, root)
    causes = [one for one in causes if not any(one["loc"][: len(path)] == path for path in cut)]
    misspelt = _keys_by_parent(one for one in causes if one["type"] == UNKNOWN_KEY)
    shown = [_fault(one, source, root) for one in causes[:MOST] if one["type"] != "missing"]
    absent_ones = [one for one in causes[:MOST] if one["type"] == "missing"]
    shown += _short_lists(absent_ones, source, root)
    missing = _keys_by_parent(one for one in absent_ones if isinstance(one["loc"][-1], str))
    wanted = {one["loc"]: _wanted(one.get("ctx", {})) for one in causes if one["type"] == "missing"}
    for parent, keys in missing.items():
        # A key that stands there under a wrong name is one fault, not two.
        absent = [key for key in keys if not any(nearest(word, [key]) for word in misspelt.get(parent, ()))]
        if absent:
            known = {key: wanted.get((*parent, key), "") for key in absent}
            shown.append(_missing(known, parent, source, root))
    if len(causes) > MOST:
        said = f"{len(causes) - MOST:,} more faults are not shown"
        shown.append(source.fault(0, 0, "document", said, "mend these first; is it the right file?"))
    return shown


def in_order(faults: Iterable[Fault]) -> list[Fault]:
    """Faults by place, each once."""
    return sorted(dict.fromkeys(faults), key=lambda fault: (fault.file, fault.line, fault.column))


def describe(faults: Sequence[Fault]) -> str:
    """Faults for people: place and message, then the line with carets under it, then the remedy."""
    return "\n".join(_describe(fault) for fault in faults)


def in_a_line(fault: Fault) -> str:
    """Place, message and remedy of a fault, without the line itself."""
    return f"{fault.place}: {fault.message}{f' ({fault.remedy})' if fault.remedy else ''}"


def _cut_by_a_comma(errors: Sequence[ErrorDetails], root: Node) -> set[Path]:
    """What stands before a key such as `5 %`: a value that a decimal comma cut in two, so that one fault is enough."""
    found: set[Path] = set()
    for error in errors:
        *above, key = error["loc"] or ("",)
        if error["type"] != UNKNOWN_KEY or error["input"] is not None or not str(key)[:1].isdigit():
            continue
        keys = list(find(root, above).node.keys)
        if key in keys[1:]:
            found.add((*above, keys[keys.index(str(key)) - 1]))
    return found


def _keys_by_parent(errors: Iterable[ErrorDetails]) -> dict[Path, list[str]]:
    found: dict[Path, list[str]] = {}
    for error in errors:
        found.setdefault(error["loc"][:-1], []).append(str(error["loc"][-1]))
    return found


def _wanted(context: Mapping[str, Any]) -> str:
    """What belongs under a key that is missing: one of these words, or something like this."""
    if words := context.get("words", ()):
        return one_of(words)
    return f"such as {context['sample']}" if context.get("sample") else ""


def _missing(keys: Mapping[str, str], parent: Path, source: Source, root: Node) -> Fault:
    """One fault for all keys that are missing in one mapping, at its key; `keys` says what belongs under each."""
    found = find(root, parent)
    named = ", ".join(repr(key) for key in keys)
    said = f"the key {named} is missing" if len(keys) == 1 else f"the keys {named} are missing"
    first = "the document begins with `rigproof: …`; " if "rigproof" in keys else ""
    wanted = [f"`{key}: …`" + (f" ({what})" if what else "") for key, what in keys.items()]
    remedy = f"{first}write {' and '.join(wanted)} here"
    return source.fault(found.key.line, found.key.column, found.where, said, remedy, found.key.width)


def _short_lists(missing: Iterable[ErrorDetails], source: Source, root: Node) -> Iterator[Fault]:
    """One fault for each list that has a length of its own, and too few entries."""
    lists: dict[Path, list[int]] = {}
    for one in missing:
        if isinstance(last := one["loc"][-1], int):
            lists.setdefault(one["loc"][:-1], []).append(last)
    for path, absent in lists.items():
        found = find(root, path)
        said = f"{_entries(min(absent))}, and {max(absent) + 1} are wanted"
        yield source.fault(found.value.line, found.value.column, found.where, said, _MORE_ENTRIES, found.value.width)


def _entries(number: int) -> str:
    return {0: "no entry stands here", 1: "1 entry stands here"}.get(number, f"{number} entries stand here")


def _fault(error: ErrorDetails, source: Source, root: Node) -> Fault:
    path, kind = error["loc"], error["type"]
    found = find(root, path)
    mark = found.key if kind in {UNKNOWN_KEY, WRONG_KEY} or not found.whole else found.value
    message, remedy = _say(error)
    return source.fault(mark.line, mark.column, found.where, message, remedy, mark.width)


def _say(error: ErrorDetails) -> tuple[str, str]:
    """Message and remedy of one error."""
    kind, written, context = error["type"], error["input"], error.get("ctx", {})
    key = str(error["loc"][-1]) if error["loc"] else ""
    if kind == UNKNOWN_KEY:
        return f"unknown key {key!r}", _unknown_remedy(key, written, context.get("known", ()))
    if isinstance(cause := context.get("error"), Exception):
        return getattr(cause, "message", str(cause)), getattr(cause, "remedy", "")
    if "remedy" in context:
        return str(context["said"]), str(context["remedy"])
    return _say_of_type(kind, written, str(context.get("said", error["msg"])), context)


def _say_of_type(kind: str, written: Any, said: str, context: Mapping[str, Any]) -> tuple[str, str]:
    """Message and remedy of pydantic's own rules, in plain words."""
    if written is None:
        return "nothing is written here", "write a value, or leave the key out"
    if kind in {"literal_error", "enum"}:
        words = str(context.get("expected", "")).replace(" or ", ", ").replace("'", "").split(", ")
        return f"{_short(written)} is none of {', '.join(words)}", did_you_mean(str(written), words)
    if kind in _TYPES:
        return f"{_short(written)} {_TYPES[kind][0]}", _TYPES[kind][1]
    if kind in _LENGTHS:
        message, remedy = _LENGTHS[kind]
        return message.format(_entries(context["actual_length"]), **context), remedy
    if kind in _BOUNDS:
        return f"{_short(written)} {_BOUNDS[kind].format(**context)}", "write a value within the bounds"
    return f"{_short(written)}: {said[:1].lower()}{said[1:]}", ""


def _unknown_remedy(key: str, written: object, known: Sequence[str]) -> str:
    if written is None and key[:1].isdigit():
        return "a comma ends an entry: write decimals with a point"
    if written is None and key.partition(":")[0] in known:
        return "write a space after the colon"
    return did_you_mean(key, known)


def _short(written: Any) -> str:
    if isinstance(written, str):
        return repr(written if len(written) <= 60 else written[:59] + "…")
    return {dict: "a group of keys", list: "a list", type(None): "nothing"}.get(type(written), repr(written)[:60])


def _describe(fault: Fault) -> str:
    said = [f"{fault.place}: {fault.message}"]
    if fault.text:
        said += _underlined(fault)
    if fault.remedy:
        said.append(f"    {fault.remedy}")
    return "\n".join(said)


def _underlined(fault: Fault) -> list[str]:
    """The line and its carets; of a long line the stretch around the fault."""
    start = max(0, fault.column - 1 - WIDEST // 2) if len(fault.text) > WIDEST else 0
    shown = "".join(c if c.isprintable() else " " for c in fault.text[start : start + WIDEST])
    shown = ("…" + shown[1:] if start else shown) + ("…" if len(fault.text) > start + WIDEST else "")
    at = fault.column - 1 - start
    before, under = shown[:at], shown[at : at + fault.width]
    return [f"    {shown}", f"    {' ' * _cells(before)}{'^' * max(1, _cells(under))}"]


def _cells(text: str) -> int:
    """Width on a terminal: wide letters take two cells, combining marks none."""
    return sum(0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1 for c in text)
