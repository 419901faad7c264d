"""Lists of work as documents have them: in a procedure, and ready-made ones in installation.yaml."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, ValidationInfo, field_validator

from rigproof.documents.named import BY_NAME, Named
from rigproof.documents.validation import consequence
from rigproof.models import DocumentModel
from rigproof.quantities import Quantity, WrittenError, quantity

from .tasks import COMMON_PRACTICE, Measured, Task

DATA = "installation.yaml"
KINDS = ("length", "temperature", "force", "torque", "gauge pressure", "resistance", "mass", "angle", "time", "ratio")
_NAME = re.compile(r"[^\W_][\w-]*( [\w-]+)*")


def plain_name(name: str) -> str:
    """A name that a line of an answers file can begin with. Raises `WrittenError`."""
    if len(name) > 40 or not _NAME.fullmatch(name):
        raise WrittenError(f"{name!r} is no name", "write a few words, letters and digits, at most 40 in all")
    return name


PlainName = Annotated[str, AfterValidator(plain_name)]
Text = Annotated[str, Field(min_length=1, max_length=500)]


class MeasuredValue(DocumentModel):
    """A quantity that is measured beside the work and must lie in a range."""

    of: PlainName
    """What is measured, such as `strain relief loop`."""
    lowest: Annotated[Quantity, quantity(*KINDS)]
    """Least value that is accepted."""
    highest: Annotated[Quantity, quantity(*KINDS)]
    """Largest value that is accepted."""

    @field_validator("highest")
    @classmethod
    def _above_lowest(cls, highest: Quantity, info: ValidationInfo) -> Quantity:
        lowest = info.data.get("lowest")
        if lowest is None:
            raise consequence()
        if highest.kind != lowest.kind:
            raise WrittenError(
                f"{highest.text!r} is a {highest.kind}, and `lowest` a {lowest.kind}", "write both in one unit"
            )
        if highest.value < lowest.value:
            raise WrittenError(f"{highest.text!r} is below {lowest.text!r}", "write the larger value here")
        return highest


class Item(Named):
    """One thing to do or to see to."""

    do: Text
    """What is to be done or seen, in a sentence without its full stop."""
    at_least: Annotated[Quantity | None, quantity("time", above="0 s")] = None
    """The least time it takes, by the clock of the run."""
    value: MeasuredValue | None = None
    """What is measured beside it."""
    caution: str = ""
    """What can hurt somebody."""
    source: str = ""
    """Who says so, such as the sheet of the adhesive and its page."""


class Change(Named):
    """What a procedure says in place of an item of a ready-made list; what it leaves out stays."""

    do: Text | None = None
    """What is to be done or seen instead."""
    at_least: Annotated[Quantity | None, quantity("time", above="0 s")] = None
    """The least time it takes."""
    value: MeasuredValue | None = None
    """What is measured beside it."""
    caution: str | None = None
    """What can hurt somebody."""
    source: str = ""
    """Who says so, such as the sheet of the adhesive and its page."""


Items = Annotated[dict[PlainName, Item], BY_NAME, Field(min_length=1)]


class Lists(DocumentModel):
    """The content of installation.yaml."""

    rigproof: Literal["installation/1"]
    lists: dict[str, Items]


@cache
def ready_made() -> Mapping[str, Mapping[str, Item]]:
    """The lists that come with the tool, by name."""
    from rigproof.documents import read_document

    text = files("rigproof.steps").joinpath(DATA).read_text(encoding="utf-8")
    return read_document(Lists, text=text, name=DATA).lists


def task_of(item: Item, change: Change | None = None, written: str = "") -> Task:
    """An item as a task; `written` says which document has it, and is empty for a ready-made one.

    A part that a change sets is the procedure's; the rest keeps the item's own origin.
    """
    own = ": ".join(filter(None, (written, item.source))) or COMMON_PRACTICE
    new = change or Change()
    theirs = f"procedure: {new.source}" if new.source else "procedure"
    value = new.value or item.value
    return Task(
        name=item.name,
        text=new.do or item.do,
        origin=theirs if new.do else own,
        at_least=new.at_least or item.at_least,
        at_least_origin=theirs if new.at_least else own if item.at_least else "",
        measured=None
        if value is None
        else Measured(value.of, value.lowest, value.highest, theirs if new.value else own),
        caution=item.caution if new.caution is None else new.caution,
    )
