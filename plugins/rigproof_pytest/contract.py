"""`DriverContract`: what an author of a driver inherits."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps

from rigproof.instruments import Driver

from .answering import Answering
from .errors import Errors
from .first import First
from .hardware import Hardware
from .line import Line
from .loading import Loading
from .opening import Opening
from .rotating import Rotating
from .setting import Setting
from .steady import steadily
from .waiting import Waiting


class DriverContract(Opening, Answering, Waiting, Setting, Line, Errors, Loading, Rotating, Hardware, First):
    """The whole contract of `rigproof.instruments`, run against one driver.

    State the driver and what its instrument says; every `test_…` of this class then holds it to one promise. Tests of
    abilities that the driver does not have are not there at all, nor tests of a line for one that asks a person.
    """

    __test__ = False  # only what inherits it and names a driver is collected

    def __init_subclass__(cls, **words: object) -> None:
        super().__init_subclass__(**words)
        cls.__test__ = hasattr(cls, "driver")
        for name in dir(cls) if cls.__test__ else ():
            test = getattr(cls, name)
            if name.startswith("test_") and test is not None:
                setattr(cls, name, _made_fit(test, cls.driver))


def _made_fit(test: Callable[..., None], driver: type[Driver]) -> Callable[..., None] | None:
    """The test as it is run with a driver; None where the driver has not what it needs."""
    if not _is_for(test, driver):
        return None
    return steadily(_once_opened(test)) if _is_timed(test) else test


def _once_opened(test: Callable[..., None]) -> Callable[..., None]:
    """The test, where what its class states can be tried at all."""

    @wraps(test)
    def tried(kit: First) -> None:
        kit.expect_usable()
        test(kit)

    return tried


def _is_for(test: object, driver: type[Driver]) -> bool:
    """Whether a driver has what a test needs."""
    needed = getattr(test, "needs", None)
    able = needed is None or issubclass(driver, needed)
    return able and (not driver.asks_a_person or hasattr(test, "by_hand"))


def _is_timed(test: Callable[..., None]) -> bool:
    """One of the kit's own on the simulated instrument, not yet made steady."""
    marks = getattr(test, "pytestmark", ())
    own = test.__module__.startswith(__package__) and not any(mark.name == "hardware" for mark in marks)
    return own and not hasattr(test, "__wrapped__")
