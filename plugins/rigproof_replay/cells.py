"""Numbers as a table writes them: one decimal mark, stated; words for a missing reading."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from rigproof.quantities import WrittenError

OVERLOAD = 9.9e37  # SCPI-1999, 7.2.1: 9.9E37 stands for infinity and 9.91E37 for not-a-number (from memory)

_OTHER_MARK = {"point": ",", "comma": "."}
_GROUPED = re.compile(r"[+-]?[0-9]{1,3}([.,' \u00a0\u202f][0-9]{3})+([.,][0-9]+)?")


class Numbers:
    """Reads the cells of one file."""

    def __init__(self, decimal: str, missing: Sequence[str]) -> None:
        self._decimal = decimal
        self._missing = frozenset(word.strip().casefold() for word in missing)

    def read(self, cell: str) -> float:
        """The number; nan for a missing reading or overload. A `WrittenError` says what else stands there."""
        if cell.strip().casefold() in self._missing:
            return math.nan
        value = self.plain(cell)
        return value if abs(value) < OVERLOAD else math.nan

    def plain(self, cell: str) -> float:
        """A number that must be there."""
        text = cell.strip()
        if _OTHER_MARK[self._decimal] in text or "_" in text:
            raise self._wrong(text)
        try:
            value = float(text.replace(",", "."))
        except ValueError:
            raise self._wrong(text) from None
        if not math.isfinite(value):
            raise self._wrong(text)
        return value

    def _wrong(self, text: str) -> WrittenError:
        shown = repr(text if len(text) <= 40 else text[:39] + "…")
        if not text:
            return WrittenError("nothing stands here, and a number is wanted", "complete the row, or take it out")
        if _GROUPED.fullmatch(text) and len(re.findall("[.,' \u00a0\u202f]", text)) > 1:
            return WrittenError(f"{shown} has its digits in groups", "export numbers without separators of thousands")
        if _OTHER_MARK[self._decimal] in text and re.fullmatch(r"[+-]?[0-9.,eE+-]+", text):
            other = "comma" if self._decimal == "point" else "point"
            said = f"{shown} has a decimal {other}, and the file is read with a decimal {self._decimal}"
            return WrittenError(said, f"write `decimal: {other}` if the whole file is so")
        return WrittenError(f"{shown} is no number", "a word for a missing reading goes into `missing:`")
