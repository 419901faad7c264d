"""Reading back what a run left in its folder."""

from __future__ import annotations

from pathlib import Path

from pydantic import ValidationError

from rigproof.errors import UsageError
from rigproof.verdict.record import Verdict, from_bytes


def read_verdict(folder: Path) -> Verdict:
    """The verdict in a run's folder. Raises `UsageError` where there is none that can be read."""
    path = folder / "verdict.json"
    try:
        return from_bytes(path.read_bytes())
    except OSError as error:
        raise UsageError(
            f"{path}: cannot be read ({error.strerror}); give the folder of a run, "
            "or make the verdict with `rigproof judge`"
        ) from None
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"])
        raise UsageError(
            f"{path}: is no verdict ({where}: {first['msg']}); make it again with `rigproof judge`"
        ) from None
