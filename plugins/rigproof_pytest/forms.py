"""A state without the form of one, such as a text where a comma was forgotten, is told before any test."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from .kit import Kit, advise

_LISTS = ("overloads", "refusals", "sends", "busy")
_NOTED = "a text in round brackets needs a comma to be a tuple of one; else it is read letter by letter"


class Forms(Kit):
    """What is stated is looked at once, before a test judges by it."""

    def expect_forms(self) -> None:
        """Every state is a list, a pair or a table as its place on the page says."""
        for name, rule, form in self._wrong():
            advise(type(self).__name__, f"{name} = {getattr(self, name)!r}", rule, f"write `{name} = {form}`")

    def _wrong(self) -> Iterator[tuple[str, str, str]]:
        """Each state without its form, its rule, and how it is written."""
        for name in _LISTS:
            if not _are_lines(lines := getattr(self, name)):
                line = lines if isinstance(lines, str | bytes) and lines else "U1"
                yield name, f"it is a tuple of what is on the line: {_NOTED}", f"({line!r},)"
        if not _is_list(self.inputs) or not all(isinstance(one, int) for one in self.inputs) or not self.inputs:
            yield "inputs", "it is a tuple of whole numbers, one at least", "(1,)` or `inputs = (1, 2)"
        if not _is_pair_of_settings(self.otherwise):
            yield "otherwise", _OTHERWISE, _OTHER_FORM
        for name, form in (("rise", '("10 bar", "0.5 bar/s")'), ("angles", '("120°", "240°")')):
            if not _are_lines(pair := getattr(self, name)) or len(pair) != 2:
                yield name, "it is a pair of quantities, each a text with its unit", form
        for name, form in _TABLES.items():
            if not isinstance(getattr(self, name), Mapping):
                yield name, "it is a table: what stands left of each colon means what stands right", form
        queue: object = self.error_queue
        if isinstance(queue, Mapping) and not all(map(_are_lines, queue.values())):
            yield "error_queue", f"each question has a tuple of two entries: {_NOTED}", _TABLES["error_queue"]


_OTHERWISE = "it is a pair: other settings, and a tuple of the messages that must be sent for them"
_OTHER_FORM = '({"filter": "5"}, ["F5"])` in the words of your driver, or leave it out: `otherwise = ({}, ())'
_TABLES = {
    "readings": '{"+0012.34 kN": "12.34 kN", "-0000.50 kN": "-500 N"}',
    "shows": '{1: "12.34 kN", 2: "-500 N"}',
    "error_queue": '{"ER?": ("E12 hot", "E13 late")}',
    "error_register": '{"ER?": ("E:01", "E:04", "E:05")}',
    "moving": '{"BUSY": "1"}',
}


def _is_list(stated: object) -> bool:
    return isinstance(stated, Sequence) and not isinstance(stated, str | bytes)


def _are_lines(stated: Any) -> bool:
    """Whether this is a list of texts or bytes."""
    return _is_list(stated) and all(isinstance(one, str | bytes) for one in stated)


def _is_pair_of_settings(stated: Any) -> bool:
    return _is_list(stated) and len(stated) == 2 and isinstance(stated[0], Mapping) and _are_lines(stated[1])
