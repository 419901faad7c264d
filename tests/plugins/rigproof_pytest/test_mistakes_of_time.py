"""Each mistake about time, errors that stay and settings fails the test that is for it, and no other, with advice."""

from __future__ import annotations

from collections.abc import Callable

import pytest

pytest_plugins = ["pytester"]

TryOut = Callable[[str, str, str, str], None]

# The driver of sound.py, the mistake as the body of a subclass, the one test that fails, what its advice says.
MISTAKES = {
    "sleeps": (
        "Meter",
        """
        def _reading(self, number):
            time.sleep(0.01)
            return super()._reading(number)
        """,
        "test_it_never_sleeps",
        r"slept: .*test_it\.py:\d+ sleeps 0\.01 s.*mend: write self\.connection\.clock\.wait",
    ),
    "sleeps by another name": (
        "Meter",
        """
        def _reading(self, number):
            nap(0.01)
            return super()._reading(number)
        """,
        "test_it_never_sleeps",
        r"slept: .*sleeps 0\.01 s",
    ),
    "sleeps on an event": (
        "Meter",
        """
        def _reading(self, number):
            threading.Event().wait(0.01)
            return super()._reading(number)
        """,
        "test_it_never_sleeps",
        r"slept: .*test_it\.py:\d+ sleeps 0\.01 s",
    ),
    "sleeps where it looks": (
        "Meter",
        """
        def look(self):
            time.sleep(0.01)
            return super().look()
        """,
        "test_it_never_sleeps",
        r"slept: .*test_it\.py:\d+ sleeps 0\.01 s",
    ),
    "sleeps where it connects again": (
        "Meter",
        """
        def resume(self):
            time.sleep(0.01)
            return super().resume()
        """,
        "test_it_never_sleeps",
        r"slept: .*test_it\.py:\d+ sleeps 0\.01 s",
    ),
    "sleeps at its second input": (
        "Meter",
        """
        def _reading(self, number):
            if number == 2:
                nap(0.01)
            return super()._reading(number)
        """,
        "test_it_never_sleeps",
        r"slept: .*test_it\.py:\d+ sleeps 0\.01 s",
    ),
    "sleeps while it is not ready": (
        "Meter",
        """
        def _reading(self, number):
            for _ in range(20):
                if (reply := self._ask(f"P{number}")) != "BUSY":
                    break
                time.sleep(0.01)
            return self._value(reply)
        """,
        "test_it_never_sleeps",
        r"slept: .*test_it\.py:\d+ sleeps 0\.01 s",
    ),
    "waits for ever for what is not ready": (
        "Meter",
        """
        def _reading(self, number):
            while (reply := self._ask(f"P{number}")) == "BUSY":
                self.connection.clock.wait(0.1)
            return self._value(reply)
        """,
        "test_what_is_not_ready_is_waited_for_and_not_for_ever",
        r"(not come back|ended after) .*at 'BUSY', that came every time.*by a deadline: self\.connection\.clock\.",
    ),
    "waits as long as it happens": (
        "Meter",
        """
        times = 0
        def open(self):
            type(self).times += 1
            return super().open()
        def _reading(self, number):
            for _ in range(40 * (self.times % 7 + 1)):
                if (reply := self._ask(f"P{number}")) != "BUSY":
                    return self._value(reply)
                self.connection.clock.wait(0.01)
            raise InstrumentError(self.connection.name, f"P{number}: BUSY")
        """,
        "test_what_is_not_ready_is_waited_for_and_not_for_ever",
        r"ended after [0-9, ]+ questions at 'BUSY'.*chance ended it.*by a deadline",
    ),
    "asks without a pause": (
        "Meter",
        """
        def _reading(self, number):
            until_s = self.connection.clock.now() + 0.5
            while (reply := self._ask(f"P{number}")) == "BUSY":
                if self.connection.clock.now() > until_s:
                    raise InstrumentError(self.connection.name, f"P{number}: BUSY")
            return self._value(reply)
        """,
        "test_what_is_not_ready_is_waited_for_and_not_for_ever",
        r"asked \d+ times at 'BUSY', and waited 0 s on the clock.*rule: .*given time.*clock\.wait\(0\.1\) in between",
    ),
    "takes what is not ready for zero": (
        "Meter",
        """
        def _reading(self, number):
            reply = self._ask(f"P{number}")
            return 0.0 if reply == "BUSY" else self._value(reply)
        """,
        "test_what_is_not_ready_is_waited_for_and_not_for_ever",
        r"gave 0\.0 for 'BUSY', that came 3 times before the reading.*has not measured yet",
    ),
    "takes what is not ready for overload in the end": (
        "Meter",
        """
        def _reading(self, number):
            for _ in range(10):
                if (reply := self._ask(f"P{number}")) != "BUSY":
                    return self._value(reply)
            return math.nan
        """,
        "test_what_is_not_ready_is_waited_for_and_not_for_ever",
        r"gave nan for 'BUSY', that came every time.*until a deadline, then raise InstrumentError",
    ),
    "asks until the queue is empty, and it never is": (
        "Meter",
        """
        def errors(self):
            found = []
            while entry := self._error():
                found.append(entry)
            return found
        """,
        "test_errors_comes_back_where_a_fault_stays",
        r"asked ER 301 times where the fault E12 bad word stayed.*mend: ask for at most as many entries.*or 64",
    ),
    "asks a register until it is clear, and it never is": (
        "Registered",
        """
        def errors(self):
            found = []
            while entries := super().errors():
                found += entries
            return found
        """,
        "test_errors_comes_back_where_a_fault_stays",
        r"asked EB 301 times where the fault E:05 stayed",
    ),
    "clears a register and tells nobody": (
        "Registered",
        """
        def _look_at_errors(self):
            self.errors()
        """,
        "test_no_error_is_swallowed",
        r"read\(\[1\], 1, 0\.0\): met 'E:05' in a register and told nobody.*or leaves for errors\(\)",
    ),
    "keeps telling what a register has told": (
        "Registered",
        """
        told = ()
        def errors(self):
            self.told = super().errors() or self.told
            return list(self.told)
        """,
        "test_errors_are_drained_oldest_first",
        r"gave \['error bit 0', 'error bit 2'\] when it was asked again, and nothing was left",
    ),
    "knows two bits of a register": (
        "Registered",
        """
        def errors(self):
            return [each for each in super().errors() if each in ("error bit 0", "error bit 2")]
        """,
        "test_errors_are_drained_oldest_first",
        r"gave \[\] for 'E:02' in a register.*rule: no error is lost",
    ),
    "tells all bits of a register alike": (
        "Registered",
        """
        def errors(self):
            return ["an error"] if super().errors() else []
        """,
        "test_errors_are_drained_oldest_first",
        r"gave \['an error'\] for 'E:02' in a register, as for 'E:05'",
    ),
    "believes that the input is chosen still": (
        "Selected",
        """
        chosen = 0
        def _tell(self, message):
            if message[0] == "M":
                if int(message[1]) == self.chosen:
                    return
                self.chosen = int(message[1])
            super()._tell(message)
        """,
        "test_an_input_is_chosen_anew_after_a_lost_line",
        r"read\(\[2\], 1, 0\.0\): gave 12500 after resume\(\), and -700 before.*mend: choose the input before each",
    ),
    "sets its average when it is first opened alone": (
        "Named",
        """
        known = False
        def _set_average(self):
            if not self.known:
                super()._set_average()
            self.known = True
        """,
        "test_what_must_be_sent_is_sent",
        r"open\(\): did not send 'AV 8' after close\(\).*rule: each open\(\) sets all.*mend: send it in every open",
    ),
    "takes the acknowledgement of another average": (
        "Named",
        """
        def _set_average(self):
            message = f"AV {self.settings.average}"
            self._expect(re.fullmatch(r"AV \\d+ SET", self._ask(message)) is not None, message, "AV, a number and SET")
        """,
        "test_an_acknowledgement_of_another_message",
        r"took 'AV 16 SET' for the acknowledgement of 'AV 8'",
    ),
    "resumes, empties its register, and tells nobody": (
        "Selected",
        """
        def resume(self):
            found = super().resume()
            self.errors()
            return found
        """,
        "test_no_error_is_swallowed_on_the_way_in",
        r"resume\(\): asked EB, was told E:05, and told nobody",
    ),
    "has a setting written into it": (
        "Named",
        """
        def _set_average(self):
            self._expect(self._ask("AV 8") == "AV 8 SET", "AV", "AV 8 SET")
        """,
        "test_other_settings_are_sent_too",
        r"did not send 'AV 16' where rig\.yaml has settings: {'average': 16}.*put the value of self\.settings",
    ),
    "sets where it looks": (
        "Named",
        """
        def look(self):
            return self.open()
        def resume(self):
            self.close()
            return sound.Lined.open(self)
        """,
        "test_a_look_sets_nothing",
        r"look\(\): sent 'AV 8'.*leaves the instrument as it is.*set it in open\(\) alone",
    ),
    "sets where it connects again": (
        "Named",
        """
        def resume(self):
            self.close()
            return self.open()
        """,
        "test_resume_reads_on_and_sets_nothing",
        r"resume\(\): sent 'AV 8'.*what zeros rest on.*return self\.look\(\)",
    ),
    "reads something else after it connected again": (
        "Meter",
        """
        factor = 1.0
        def open(self):
            self.factor = 1.0
            return super().open()
        def resume(self):
            found = super().resume()
            self.factor = 0.001
            return found
        def _value(self, reply):
            return self.factor * super()._value(reply)
        """,
        "test_resume_reads_on_and_sets_nothing",
        r"the reading 12\.5 after 12500.*readings go on as they were",
    ),
    "does not tell check of another kind": (
        "Meter",
        """
        @classmethod
        def unreadable(cls, settings, channel_input, kind):
            return "" if channel_input in (1, 2) else "it has inputs 1 and 2"
        """,
        "test_check_refuses_what_it_cannot_read",
        r"unreadable\(settings, 1, 'temperature'\): said nothing, and it measures gauge pressure only",
    ),
    "does not tell check of an input that is not there": (
        "Meter",
        """
        @classmethod
        def unreadable(cls, settings, channel_input, kind):
            return "" if kind == "gauge pressure" else "it reads gauge pressure"
        """,
        "test_check_refuses_what_it_cannot_read",
        r"unreadable\(settings, 999, 'gauge pressure'\): said nothing, and read refuses input 999 without asking",
    ),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_mistake_fails_its_own_test_with_advice(try_out: TryOut, mistake: str) -> None:
    try_out(*MISTAKES[mistake])
