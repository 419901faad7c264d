"""What a start is: files that an author begins with, and that work as they stand."""

from __future__ import annotations

from dataclasses import dataclass
from importlib.resources import files
from importlib.resources.abc import Traversable


@dataclass(frozen=True)
class Start:
    """The files that `rigproof new` fills in: `templates/KIND` in the folder of an importable package."""

    kind: str  # the word after `rigproof new`: driver, step or rig
    package: str

    def folder(self) -> Traversable:
        """Where the files are; `$name` in them is filled in."""
        return files(self.package) / "templates" / self.kind
