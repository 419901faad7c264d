"""SCPI program messages: from bytes to the methods that carry them out (IEEE 488.2-1992, 7; SCPI-1999, vol. 1, 6).

Clauses are cited from memory.

A class declares its commands with `@command` and `@query`; `CommandSet` gathers them and compiles messages. A compiled
message depends on nothing but its bytes, so that it is kept: a driver sends the same few messages over and over.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import product
from typing import Any, TypeVar

from rigproof_twin.parameters import Kind, short
from rigproof_twin.status import ScpiError

Method = Callable[..., Any]
M = TypeVar("M", bound=Method)

_HEADER = re.compile(
    r"(\*[A-Za-z]\w*+\??|:?[A-Za-z]\w*+(?::[A-Za-z]\w*+)*+\??)(?:[\x00-\x20]++(.*))?", re.DOTALL | re.ASCII
)
_SPACES = "".join(map(chr, range(33)))  # IEEE 488.2, 7.4.1.2: white space is every control character and the space
_PATTERN = re.compile(r"\[:?(\w+):?\]|(\*?\w+)")  # a node of a declared header, optional or not
_ITEM = {
    # what stands between separators: strings, expressions and anything else; possessive, so that it takes linear time
    separator: re.compile(rf"""(?:[^{separator}"'()]|"[^"]*+"|'[^']*+'|\([^()"']*+\))*+""")
    for separator in ";,"
}
MNEMONIC_LENGTH = 12  # IEEE 488.2, 7.6.1.4.1
KEPT, KEPT_LENGTH = 512, 256  # compiled messages kept per command set, and the longest of them


@dataclass(frozen=True)
class Command:
    """One declared header (`pattern`, as the standard prints it) with its parameters and method."""

    pattern: str
    kinds: tuple[Kind, ...]
    method: Method
    indefinite: bool = False  # the reply ends only with the message, so no other may follow (IEEE 488.2, 8.7.11)

    @property
    def asks(self) -> bool:
        """True for a query."""
        return self.pattern.endswith("?")

    def arguments(self, text: str) -> tuple[Any, ...]:
        """Parameter values from the text after the header."""
        parts = list(_split(text, ",")) if text else []
        if len(parts) > len(self.kinds):
            raise ScpiError(-108, parts[len(self.kinds)])
        values = []
        for index, kind in enumerate(self.kinds):
            if index < len(parts):
                if not parts[index]:
                    raise ScpiError(-109, text)
                values.append(kind.read(parts[index]))
            elif kind.default is None:
                raise ScpiError(-109, text)
            else:
                values.append(kind.default)
        return tuple(values)


@dataclass(frozen=True)
class Unit:
    """One message unit ready to be carried out, or the execution error that its parameters are."""

    command: Command
    arguments: tuple[Any, ...]
    error: ScpiError | None = None


@dataclass(frozen=True)
class Program:
    """A compiled message: the units before the first command error, and that error (the rest is skipped)."""

    units: tuple[Unit, ...]
    error: ScpiError | None


def command(pattern: str, *kinds: Kind) -> Callable[[M], M]:
    """Declare a method as a command without reply, e.g. `@command("SENSe:SWEep:POINts", Whole(1, 100_000))`."""
    return _declare(pattern, kinds, indefinite=False)


def query(pattern: str, *kinds: Kind, indefinite: bool = False) -> Callable[[M], M]:
    """Declare a method as a query; it returns the reply as text, or as bytes for a block."""
    return _declare(pattern + "?", kinds, indefinite)


def _declare(pattern: str, kinds: tuple[Kind, ...], indefinite: bool) -> Callable[[M], M]:
    def mark(method: M) -> M:
        declared = getattr(method, "scpi", ())
        method.scpi = (*declared, Command(pattern, kinds, method, indefinite))  # type: ignore[attr-defined]
        return method

    return mark


class CommandSet:
    """All commands that a class and its bases declare."""

    def __init__(self, owner: type) -> None:
        self._commands: dict[str, Command] = {}
        self._kept: dict[bytes, Program] = {}
        for name in dir(owner):
            for declared in getattr(getattr(owner, name), "scpi", ()):
                self._commands.update(dict.fromkeys(_spellings(declared.pattern), declared))

    def patterns(self) -> tuple[str, ...]:
        """The declared headers, sorted."""
        return tuple(sorted({c.pattern for c in self._commands.values()}))

    def compile(self, message: bytes) -> Program:
        """Read one program message (without terminator). Never raises: what is wrong is part of the result."""
        program = self._kept.get(message)
        if program is None:
            program = self._compile(message)
            if len(message) <= KEPT_LENGTH:
                if len(self._kept) >= KEPT:
                    self._kept.clear()
                self._kept[message] = program
        return program

    def _compile(self, message: bytes) -> Program:
        units: list[Unit] = []
        path = ""
        try:
            for text in _split(_text(message), ";"):
                if text:
                    unit, path = self._unit(text, path)
                    units.append(unit)
        except ScpiError as error:
            return Program(tuple(units), error.with_traceback(None))
        return Program(tuple(units), None)

    def _unit(self, text: str, path: str) -> tuple[Unit, str]:
        """One unit and the header path after it (SCPI-1999, vol. 1, 6.2.4); raises on a command error."""
        found = _HEADER.fullmatch(text)
        if not found:
            raise ScpiError(-102, text)
        header = found[1].upper()
        if not header.startswith("*"):
            header = header[1:] if header.startswith(":") else path + header
            path = header[: header.rfind(":") + 1]
        if any(len(mnemonic) > MNEMONIC_LENGTH for mnemonic in header.strip("*?").split(":")):
            raise ScpiError(-112, text)
        try:
            known = self._commands[header]
        except KeyError:
            raise ScpiError(-113, text) from None
        try:
            return Unit(known, known.arguments((found[2] or "").strip(_SPACES))), path
        except ScpiError as error:
            fault = ScpiError(error.number, text)
            if error.number > -200:
                raise fault from None
            return Unit(known, (), fault), path  # an execution error spoils its own unit only


def _text(message: bytes) -> str:
    try:
        return message.decode("ascii")
    except UnicodeDecodeError:
        raise ScpiError(-101, message.decode("ascii", "replace")) from None


def _split(text: str, separator: str) -> Iterator[str]:
    """The items between separators, stripped; separators inside strings and expressions do not count."""
    at = 0
    while True:
        end = _ITEM[separator].match(text, at).end()  # type: ignore[union-attr]  # matches the empty text, too
        if text[end : end + 1] not in {"", separator}:  # a quote or parenthesis that nothing closes
            raise ScpiError(-171 if text[end] in "()" else -151, text[at:])
        yield text[at:end].strip(_SPACES)
        if end == len(text):
            return
        at = end + 1


def _spellings(pattern: str) -> Iterator[str]:
    """Every header, in capitals, that a pattern allows: long and short forms, with and without optional nodes."""
    choices = []
    for optional, needed in _PATTERN.findall(pattern):
        node = optional or needed
        choices.append({node.upper(), short(node)} | ({""} if optional else set()))
    for nodes in product(*choices):
        yield ":".join(filter(None, nodes)) + "?" * pattern.endswith("?")
