"""A rig's nightly.yaml as pytest items: one simulated acceptance each."""

from __future__ import annotations

import os
import shlex
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Self

import pytest

from rigproof.campaign.nightly import Expectation, Row, compare, load_nightly
from rigproof.campaign.trial import plan_of, take
from rigproof.documents import describe
from rigproof.errors import DocumentError, RigproofError


class NightlyFile(pytest.File):
    """One nightly.yaml."""

    def collect(self) -> Iterable[NightlyItem]:
        """An item for each flaw, size and seed; the faults of the rig's documents are an error of collection."""
        folder = self.path.parent
        try:
            expected = load_nightly(folder, plan_of(folder.resolve()))
        except RigproofError as error:
            raise self.CollectError(said(error)) from None
        return [NightlyItem.of(self, each) for each in expected]


class Misnamed(pytest.File):
    """One of ours under a name that `rigproof check` and a later night would pass by."""

    def collect(self) -> Iterable[NightlyItem]:
        """Always an error."""
        raise self.CollectError(
            f"{self.path}: a nightly regression, called {self.path.name}; rename it to nightly.yaml"
        )


class NightlyItem(pytest.Item):
    """One acceptance of the simulated rig."""

    expectation: Expectation

    @classmethod
    def of(cls, parent: NightlyFile, expectation: Expectation) -> Self:
        """The item of one trial."""
        item: Self = cls.from_parent(parent, name=expectation.name)
        item.expectation = expectation
        item.add_marker("nightly")
        return item

    def runtest(self) -> None:
        """Take the rig through its acceptance; where it fails nobody wants the tool's own lines."""
        try:
            result = take(self.path.parent, self.expectation.trial)
        except RigproofError as error:
            found = [said(error)]
        else:
            rows = compare(self.expectation.told, result)
            found = [] if all(row.as_told for row in rows) else [in_short(rows), "", *side_by_side(rows)]
        if found:
            pytest.fail("\n".join([*found, "", *self.commands()]), pytrace=False)

    def commands(self) -> list[str]:
        """What takes this acceptance again, for people and under pytest."""
        folder = Path(os.path.relpath(self.path.parent, self.config.invocation_params.dir))
        return [
            f"again: {self.expectation.trial.command(folder)}",
            f"   or: pytest {shlex.quote(f'{folder / self.path.name}::{self.name}')}",
        ]

    def reportinfo(self) -> tuple[Path, None, str]:
        """Where the item stands."""
        return self.path, None, self.name


def in_short(rows: Sequence[Row]) -> str:
    """The line that pytest's own summary shows."""
    ends = rows[0]
    if ends.as_told:
        return f"{ends.found} as expected, but not by the checks or for the reason expected"
    return f"expected {ends.expected}, found {ends.found}"


def side_by_side(rows: Sequence[Row]) -> list[str]:
    """Two columns; a mark where they are not alike."""
    table = [("expected", "found"), *((row.expected or "-", row.found or "-") for row in rows)]
    marks = ["  ", *("  " if row.as_told else "! " for row in rows)]
    width = max(len(left) for left, _ in table)
    return [f"{mark}{left:{width}}   {right}" for mark, (left, right) in zip(marks, table, strict=True)]


def said(error: RigproofError) -> str:
    """As `rigproof` itself says it."""
    return describe(error.faults) if isinstance(error, DocumentError) else str(error)
