"""Calibrations that have run out on the day of a run."""

from __future__ import annotations

from datetime import date

from rigproof.documents import Procedure, Rig
from rigproof.errors import UsageError

SOON_DAYS = 30  # common practice, no source: time enough to send an instrument away before a run needs it


def overdue(rig: Rig, day: date) -> list[str]:
    """One sentence for each instrument whose calibration ran out before `day`."""
    return [
        f"the calibration of {name} (certificate {about.calibration.certificate}) ran out on {about.calibration.due}"
        for name, about in rig.instruments.items()
        if about.calibration and about.calibration.due and about.calibration.due < day
    ]


def due_soon(rig: Rig, day: date) -> list[str]:
    """One sentence for each instrument whose calibration runs out on `day` or within SOON_DAYS after it."""
    found = []
    for name, about in rig.instruments.items():
        due = about.calibration.due if about.calibration else None
        if due is not None and 0 <= (left := (due - day).days) <= SOON_DAYS:
            when = {0: "today is the last day", 1: "tomorrow is the last day"}.get(left, f"{left} days from today")
            found.append(
                f"The calibration of {name} (certificate {about.calibration and about.calibration.certificate}) counts "
                f"until {due}, {when}: have it calibrated in time, or end the run by then."
            )
    return found


def expect_in_date(rig: Rig, procedure: Procedure, day: date) -> None:
    """Raise `UsageError` where the procedure refuses a run with an overdue instrument, and there is one."""
    found = overdue(rig, day)
    if found and procedure.overdue == "refuse":
        raise UsageError(
            f"{'; '.join(found)}: {procedure.file} refuses to run with it on {day}. Have it calibrated and enter the "
            "new certificate in rig.yaml; `overdue calibration: undecided` would run, and never accept"
        )
