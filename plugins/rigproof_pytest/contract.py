"""`DriverContract`: what an author of a driver inherits."""

from __future__ import annotations

from .asking import Asking
from .errors import Errors
from .hardware import Hardware
from .line import Line
from .loading import Loading
from .opening import Opening


class DriverContract(Opening, Asking, Line, Errors, Loading, Hardware):
    """The whole contract of `rigproof.instruments`, run against one driver.

    State the driver and what its instrument says; every `test_…` of this class then holds it to one promise. Tests of
    abilities that the driver does not have are not there at all.
    """

    __test__ = False  # only what inherits it and names a driver is collected

    def __init_subclass__(cls, **words: object) -> None:
        super().__init_subclass__(**words)
        cls.__test__ = hasattr(cls, "driver")
        for name in dir(cls) if cls.__test__ else ():
            needed = getattr(getattr(cls, name), "needs", None)
            if name.startswith("test_") and needed is not None and not issubclass(cls.driver, needed):
                setattr(cls, name, None)
