"""Yes or no, for a field of a document."""

from __future__ import annotations

from typing import Annotated

from pydantic import BeforeValidator, WithJsonSchema

from rigproof.quantities import WrittenError

_ANSWERS = {"yes": True, "true": True, "no": False, "false": False}


def _answer(written: object) -> object:
    if isinstance(written, bool):
        return written
    if not isinstance(written, str) or written not in _ANSWERS:
        raise WrittenError(f"{written!r} is neither yes nor no", "write yes or no")
    return _ANSWERS[written]


# pydantic's own bool also takes `on`, `off`, `1`, `t` and more: an answer is one of four words.
YesNo = Annotated[bool, BeforeValidator(_answer), WithJsonSchema({"enum": ["yes", "no", "true", "false", True, False]})]
