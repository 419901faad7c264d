"""A JSON Schema as a list of keys for people: what each means, what may be written, and what stands under it."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

Node = Mapping[str, Any]

COLUMNS = 100
WORDS = {"boolean": "yes or no", "integer": "a whole number", "number": "a number"}
HEAD = "A key with * must be there. In brackets: what may be written, and what counts where the key is left out."


def key_list(schema: Node) -> str:
    """An entry for each key, those of what it holds indented below; what is said once is not said again."""
    return "\n".join([HEAD, "", *_Keys(schema.get("$defs", {})).under(schema, "")])


class _Keys:
    def __init__(self, defs: Mapping[str, Node]) -> None:
        self._defs = defs
        self._told: set[str] = set()  # definitions whose keys were listed

    def under(self, node: Node, indent: str) -> Iterator[str]:
        """The entries of whatever stands under a key."""
        if (name := _name(node)) and name in self._told:
            yield f"{indent}(keys as above)"
            return
        self._told.add(name)
        node = self._resolved(node)
        choices = _choices(node)
        mappings = [one for one in choices if self._resolved(one).get("properties") and not self._is_quantity(choices)]
        for one in mappings:
            yield from self._alternative(one, indent) if len(mappings) > 1 else self.under(one, indent)
        yield from self._entries(node, indent)
        for settings in self._of_drivers(node):
            yield from self._entries({"properties": settings}, indent)
        each = node.get("additionalProperties")
        if isinstance(each, Mapping) and (lines := list(self.under(each, f"{indent}    "))):
            yield from (f"{indent}NAME:", *lines)
        if isinstance(each := node.get("items"), Mapping):
            yield from self.under(each, indent)

    def _alternative(self, node: Node, indent: str) -> Iterator[str]:
        """One of several mappings, named by the word that chooses it or by its first key."""
        lines = list(self.under(node, f"{indent}  "))
        yield f"{indent}- {lines[0].lstrip()}"
        yield from lines[1:]

    def _entries(self, node: Node, indent: str) -> Iterator[str]:
        for key, value in node.get("properties", {}).items():
            star = "*" if key in node.get("required", ()) and "const" not in value else ""
            said = " ".join(filter(None, (self._meaning(value), self._form(value))))
            text = f"{key}{star}: {said}".rstrip()
            yield from textwrap.wrap(
                text, COLUMNS, initial_indent=indent, subsequent_indent=f"{indent}        ", break_on_hyphens=False
            )
            yield from self.under(value, f"{indent}    ")

    def _of_drivers(self, node: Node) -> Iterator[dict[str, Node]]:
        """`settings` of each driver, from what the schema of an instrument says of them."""
        for rule in node.get("allOf", ()):
            settings = rule["then"]["properties"]["settings"]
            if self._resolved(settings).get("properties"):
                yield {f"settings, driver {rule['if']['properties']['driver']['const']}": settings}

    def _meaning(self, node: Node) -> str:
        """What is said at the key itself, else the first sentence about what stands there."""
        if "description" in node:
            return " ".join(str(node["description"]).split())
        about = " ".join(str(self._resolved(node).get("description", "")).split())
        return re.split(r"(?<=[a-z)`]\.) ", about)[0]

    def _form(self, node: Node) -> str:
        """What may be written."""
        if "const" in node:
            return f"[{node['const']}]" if "description" in node else str(node["const"])
        whole, choices = self._resolved(node), [self._resolved(one) for one in _choices(self._resolved(node))]
        words = [str(one["const"]) for one in choices if "const" in one]
        forms = [whole, *choices[: 1 if self._is_quantity(choices) else None]]
        said = [f"one of {', '.join(words)}"] if len(words) > 1 else []
        said += [text for text in dict.fromkeys(map(_form_of, forms)) if text]
        if (default := node.get("default")) not in (None, "", [], {}):
            said.append(f"left out: {_written(default)}")
        return f"[{'; '.join(said)}]" if said else ""

    def _is_quantity(self, choices: Sequence[Node]) -> bool:
        """A text with a number and a unit, whose other forms are those of a certificate and of statistics."""
        return any("pattern" in self._resolved(one) for one in choices)

    def _resolved(self, node: Node) -> Node:
        return self._defs[_name(node)] if "$ref" in node else node


def _name(node: Node) -> str:
    """Of the definition a node refers to; "" where it stands there itself."""
    return str(node.get("$ref", "")).rpartition("/")[2]


def _choices(node: Node) -> list[Node]:
    return [one for word in ("anyOf", "oneOf") for one in node.get(word, ())]


def _form_of(node: Node) -> str:
    if "enum" in node:
        return "yes or no" if "yes" in node["enum"] else f"one of {', '.join(map(str, node['enum']))}"
    if "examples" in node:
        return f"such as {node['examples'][0]}"
    word = WORDS.get(node["type"], "") if isinstance(node.get("type"), str) else ""
    low, high = node.get("minimum"), node.get("maximum")
    return f"{word} from {low} to {high}" if None not in (low, high) else word


def _written(default: Any) -> str:
    if isinstance(default, list):
        return ", ".join(map(_written, default))
    return {True: "yes", False: "no"}[default] if isinstance(default, bool) else str(default)
