"""`DriverContract`: what an author of a driver inherits."""

from __future__ import annotations

from rigproof.instruments import Driver

from .asking import Asking
from .errors import Errors
from .hardware import Hardware
from .line import Line
from .loading import Loading
from .opening import Opening
from .rotating import Rotating


class DriverContract(Opening, Asking, Line, Errors, Loading, Rotating, Hardware):
    """The whole contract of `rigproof.instruments`, run against one driver.

    State the driver and what its instrument says; every `test_…` of this class then holds it to one promise. Tests of
    abilities that the driver does not have are not there at all, nor tests of a line for one that asks a person.
    """

    __test__ = False  # only what inherits it and names a driver is collected

    def __init_subclass__(cls, **words: object) -> None:
        super().__init_subclass__(**words)
        cls.__test__ = hasattr(cls, "driver")
        for name in dir(cls) if cls.__test__ else ():
            if name.startswith("test_") and not _is_for(getattr(cls, name), cls.driver):
                setattr(cls, name, None)


def _is_for(test: object, driver: type[Driver]) -> bool:
    """Whether a driver has what a test needs."""
    needed = getattr(test, "needs", None)
    able = needed is None or issubclass(driver, needed)
    return able and (not driver.asks_a_person or hasattr(test, "by_hand"))
