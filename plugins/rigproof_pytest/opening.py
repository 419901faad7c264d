"""Promises of every driver about opening, closing, and what it may use."""

from __future__ import annotations

import threading
import time
from contextlib import suppress

from rigproof.instruments import Identity

from .kit import NAME, Kit, advise, by_hand
from .told import shown
from .watch import threads

_LETS_GO_WITHIN_S = 2.0


class Opening(Kit):
    """Identity, connecting, letting go; no sleep, no threads left, no state between two of a kind."""

    @by_hand
    def test_making_a_driver_touches_nothing(self) -> None:
        """`Driver`: constructing it touches nothing."""
        driver = self.make()
        connected = self.peer.visited()
        self.shut(driver)
        if connected or self.peer.said:
            advise(
                self.place("__init__()"),
                "connected" if connected else f"asked {shown(self.peer.said[0].message)}",
                "making a driver touches nothing: `check` and `plan` make one without any hardware",
                "connect in open()",
            )

    @by_hand
    def test_open_says_who_answered(self) -> None:
        """`Driver.open`: say who answered."""
        driver = self.make()
        found = self.well("open()", driver.open)
        self.shut(driver)
        if not isinstance(found, Identity) or found != self.identity:
            advise(
                self.place("open()"),
                f"gave {found!r}",
                f"it gives the Identity of what answered, here {self.identity!r}",
                "ask the instrument, and give maker, model, serial number, firmware; '' for what it does not tell",
            )

    def test_nobody_there_is_an_error_and_open_may_be_tried_again(self) -> None:
        """`Driver.open` where nobody listens."""
        driver = self.make()
        self.peer.go_away()
        _, error = self.attempt("open()", driver.open, "while nobody was there")
        if error is None or error.instrument != NAME:
            told = "said that it was open" if error is None else f"named {error.instrument!r}"
            advise(
                self.place("open()"),
                f"{told} while nobody was there",
                "an instrument that is not there is an InstrumentError with the instrument's name",
                "raise InstrumentError(self.connection.name, …), and let open() hear a reply before it returns",
            )
        self.peer.come_back()
        self.well("open()", driver.open)
        self.shut(driver)

    @by_hand
    def test_it_opens_again_after_close(self) -> None:
        """`Driver`: after `close` it may be opened again."""
        driver = self.make()
        first = self.well("open()", driver.open)
        self.shut(driver)
        again = self.well("open()", driver.open)
        self.shut(driver)
        if again != first:
            advise(
                self.place("open()"),
                f"gave {again!r} the second time",
                "after close() a driver may be opened again",
                "connect anew in open() and keep nothing from before",
            )

    @by_hand
    def test_close_lets_go(self) -> None:
        """`Driver.close`: let go of the instrument."""
        with self.opened() as driver:
            self.shut(driver)
            deadline = time.monotonic() + _LETS_GO_WITHIN_S
            while self.peer.talking() and time.monotonic() < deadline:
                threading.Event().wait(0.01)
            if self.peer.talking():
                advise(
                    self.place("close()"),
                    f"left {self.peer.talking()} connection(s) open",
                    "close() lets go of the instrument: many instruments take one connection only",
                    "close the socket or resource, and forget it",
                )

    @by_hand
    def test_close_never_raises(self) -> None:
        """`Driver.close`: never raises, may be called twice; also before `open`, and on a lost line."""
        unopened = self.make()
        self._closes(unopened, "before open()")
        with self.opened() as driver:
            self._closes(driver, "the first time")
            self._closes(driver, "the second time")
            self.well("open()", driver.open)
            self.peer.hang_up()
            self._closes(driver, "on a line that the other side had closed")

    def _closes(self, driver: object, when: str) -> None:
        try:
            driver.close()  # type: ignore[attr-defined]
        except Exception as error:
            advise(
                self.place("close()"),
                f"raised {type(error).__name__}: {error} {when}",
                "close() never raises and may be called twice: it runs on every way out, the safe end among them",
                "put what may fail inside `with suppress(Exception):`, and begin with `if it is open`",
            )

    @by_hand
    def test_no_errors_when_all_is_well(self) -> None:
        """`Driver.errors`: empty when all is well."""
        with self.opened() as driver:
            found = self.well("errors()", driver.errors)
        if found != []:
            advise(
                self.place("errors()"),
                f"gave {found!r} of a healthy instrument",
                "errors() is an empty list when all is well; a run begins with nothing else",
                "leave out the entry by which the instrument says that its queue is empty; [] where it has no queue",
            )

    @by_hand
    def test_it_works_in_another_thread_and_leaves_none_behind(self) -> None:
        """A driver is made in one thread and may be used in another; after `close` no thread of it runs."""
        before, driver, trouble = threads(), self.make(), list[str]()

        def use() -> None:
            try:
                driver.open()
                for action in self.actions().values():
                    action(driver)
            except Exception as error:
                trouble.append(f"raised {type(error).__name__}: {error} in another thread than it was made in")
            finally:
                with suppress(Exception):
                    driver.close()

        user = threading.Thread(target=use, daemon=True)
        user.start()
        user.join(timeout=2 * self.patience_s)
        if left := sorted(thread.name for thread in threads() - before - {user}):
            trouble.append(f"left the threads {', '.join(left)} running after close()")
        if user.is_alive():
            trouble.append(f"did not come back within {2 * self.patience_s:g} s in another thread than it was made in")
        if trouble:
            advise(
                self.place("…"),
                "; ".join(trouble),
                "a driver is used by one thread at a time, not always the one that made it; after close() none is left",
                "keep nothing per thread; end and join in close() what open() started",
            )

    @by_hand
    def test_two_of_a_kind_do_not_disturb_each_other(self) -> None:
        """A rig may have two of them; closing one leaves the other alone."""
        with self.opened() as first, self.opened() as second:
            self.shut(first)
            _, error = self.attempt("errors()", second.errors, "after another of its kind was closed")
            if error is not None:
                advise(
                    self.place("errors()"),
                    f"raised {error} after another of its kind was closed",
                    "a rig may have two instruments of one kind",
                    "keep the line on the object, not on the class or module; never close PyVISA's ResourceManager",
                )
