"""Driver `manual rotation`: a person turns the unloaded part about the axis of the load."""

from __future__ import annotations

from math import degrees, isfinite
from typing import Annotated, ClassVar

from pydantic import Field

from rigproof.errors import NumberError
from rigproof.instruments import NOT_ASKED, Driver, Identity, Rotates, Settings
from rigproof.people import Question
from rigproof.quantities import WrittenError, parse
from rigproof_manual.asking import check_by_hand

NEAR_ENOUGH_RAD = 0.02  # 1°: a person turns to a line


class RotationSettings(Settings):
    """What is turned against what."""

    mark: Annotated[str, Field(min_length=1, max_length=60)] = "the fixed mark"


class ManualRotation(Driver, Rotates):
    """A part with a scale of angles round it, and somebody who turns it and says which angle faces the mark."""

    kind: ClassVar[str] = "manual rotation"
    settings_model: ClassVar[type[Settings]] = RotationSettings
    asks_a_person: ClassVar[bool] = True

    @classmethod
    def check_resource(cls, resource: str) -> None:
        """`by hand`."""
        check_by_hand(resource)

    def open(self) -> Identity:
        """A scale has no plate."""
        return Identity("", "", "", NOT_ASKED)

    def close(self) -> None:
        """Nothing to let go of."""

    def errors(self) -> list[str]:
        """A scale has no error queue."""
        return []

    def rotate_to(self, angle_rad: float) -> None:
        """Call for the angle until the person types it; `NumberError` for one that is no number."""
        if not isfinite(angle_rad):
            raise NumberError(f"angle_rad={angle_rad}: a part is rotated to an angle that is a number. Give one.")
        assert isinstance(self.settings, RotationSettings), "see `settings_model`"
        shown = f"{degrees(angle_rad):.4g}°"
        call = (
            f"Without load, rotate the part until {shown} faces {self.settings.mark}, centre it again, and take your "
            "hands out. Type the angle that stands there:"
        )
        typed = self._ask(shown, call)
        while not _is(typed, angle_rad):
            typed = self._ask(shown, call, f"{typed!r} is not {shown}")

    def _ask(self, item: str, text: str, amiss: str = "") -> str:
        whole = f"{amiss}.\n{text}" if amiss else text
        return self.connection.person.ask(Question(self.connection.name, "rotate", item, whole, amiss=amiss)).strip()


def _is(typed: str, angle_rad: float) -> bool:
    """Whether a typed text is that angle; a bare number counts as degrees."""
    for text in (typed, f"{typed}°"):
        try:
            return abs(parse(text, "angle").value - angle_rad) <= NEAR_ENOUGH_RAD
        except WrittenError:
            continue
    return False
