"""Each mistake a driver of a meter can make fails the test that is for it, and no other, with advice."""

from __future__ import annotations

from collections.abc import Callable

import pytest

pytest_plugins = ["pytester"]

TryOut = Callable[[str, str, str, str], None]

# The driver of sound.py, the mistake as the body of a subclass, the one test that fails, what its advice says.
MISTAKES = {
    "connects when made": (
        "Meter",
        """
        def __init__(self, connection, settings):
            super().__init__(connection, settings)
            self._connect()
        """,
        "test_making_a_driver_touches_nothing",
        r"connected.*mend: connect in open\(\)",
    ),
    "does not say who answered": (
        "Meter",
        """
        def open(self):
            found = super().open()
            return Identity(found.model, found.maker, found.serial_number, found.firmware)
        """,
        "test_open_says_who_answered",
        r"gave Identity\(maker='bench'.*mend: ask the instrument",
    ),
    "lets OSError out when nobody is there": (
        "Meter",
        """
        def _connect(self):
            host, port = self.connection.resource.split(":")
            self._line = socket.create_connection((host, int(port)), timeout=self.connection.timeout_s)
        """,
        "test_nobody_there_is_an_error_and_open_may_be_tried_again",
        r"open\(\): raised ConnectionRefusedError.*raise InstrumentError\(self\.connection\.name",
    ),
    "cannot be opened again": (
        "Meter",
        """
        opened = 0
        def open(self):
            found, self.opened = super().open(), self.opened + 1
            return found if self.opened == 1 else Identity("", "", "", "")
        """,
        "test_it_opens_again_after_close",
        r"the second time.*mend: connect anew in open\(\)",
    ),
    "does not close": (
        "Meter",
        """
        def close(self):
            if self._line is not None:
                LEAKED.append(self._line)
            self._line = None
        """,
        "test_close_lets_go",
        r"left 1 connection\(s\) open.*mend: close the socket",
    ),
    "raises on the second close": (
        "Meter",
        """
        closed = False
        def open(self):
            self.closed = False
            return super().open()
        def close(self):
            if self.closed:
                raise ValueError("not open")
            self.closed = True
            super().close()
        """,
        "test_close_never_raises",
        r"raised ValueError: not open the second time.*with suppress\(Exception\)",
    ),
    "tells check that it cannot read": (
        "Meter",
        """
        @classmethod
        def unreadable(cls, settings, channel_input, kind):
            return "" if kind == "pressure" else f"it reads pressure, and the channel {kind}"
        """,
        "test_check_takes_what_it_reads",
        r"unreadable\(settings, 1, 'gauge pressure'\): said .*would refuse a sound rig.*mend: return \"\" for it",
    ),
    "takes the empty queue for an error": (
        "Meter",
        """
        def errors(self):
            return super().errors() or ["0"]
        def _look_at_errors(self):
            if errors := super().errors():
                raise InstrumentError(self.connection.name, "; ".join(errors))
        """,
        "test_no_errors_when_all_is_well",
        r"gave \['0'\] of a healthy instrument.*leave out the entry",
    ),
    "loses the sign": (
        "Meter",
        """
        def _value(self, reply):
            return abs(super()._value(reply))
        """,
        "test_the_sign",
        r"read\(\[2\], 1, 0\.0\): gave 700 where input 2 shows -0\.7 kPa.*mend: match the sign with the number",
    ),
    "turns the sign": (
        "Meter",
        """
        def _value(self, reply):
            return -super()._value(reply)
        """,
        "test_the_sign",
        r"read\(\[1\], 1, 0\.0\): gave -12500 where input 1 shows 12\.5 kPa.*rule: a reading keeps its sign",
    ),
    "turns the sign of a resistance": (
        "Tester",
        """
        def insulation_ohm(self, *arguments):
            found = super().insulation_ohm(*arguments)
            return found if found == math.inf else -found
        """,
        "test_the_sign",
        r"insulation_ohm\(1, 10, 0\.0\): gave -",
    ),
    "throws errors away when it closes": (
        "Meter",
        """
        def close(self):
            if self._line is not None:
                with sound.suppress(InstrumentError):
                    self.errors()
            super().close()
        """,
        "test_close_leaves_errors_where_they_are",
        r"close\(\): asked ER, was told E12 bad word, and told nobody.*mend: leave it out of close\(\)",
    ),
    "reads its register when it closes": (
        "Registered",
        """
        def close(self):
            if self._line is not None:
                with sound.suppress(InstrumentError):
                    self._ask("EB")
            super().close()
        """,
        "test_close_leaves_errors_where_they_are",
        r"close\(\): asked EB, was told E:05, and told nobody",
    ),
    "forgets to set the unit": (
        "Named",
        """
        def _set_unit(self):
            pass
        """,
        "test_what_must_be_sent_is_sent",
        r"never sent 'UNIT KPA', and said 'ID', 'AV 8', 'C1'.*a unit perhaps.*mend: send it in open\(\)",
    ),
    "sets what it is told after the first reading": (
        "Named",
        """
        late = False
        def _set_average(self):
            self.late = True
        def read(self, inputs, count, interval_s):
            found = super().read(inputs, count, interval_s)
            if self.late:
                super()._set_average()
            self.late = False
            return found
        """,
        "test_what_must_be_sent_is_sent",
        r"did not send 'AV 8' before the first reading, but 'ID', 'UNIT KPA', 'C1'\n.*with the value of the settings",
    ),
    "takes the reply of another input": (
        "Named",
        """
        def _value(self, reply, number):
            return super()._value(reply, int(reply[2:3]) if reply.startswith("CH") else number)
        """,
        "test_a_reply_of_another_input",
        r"a reading of input 1: gave -700\.0 for 'CH2 -000\.70', the reply of another input.*here as 'CH1 \+012\.50'"
        r".*mend: compare the input in the reply with the one asked for",
    ),
    "takes the acknowledgement of another message": (
        "Selected",
        """
        def _acknowledged(self, message, reply):
            super()._acknowledged(message, f"{message} OK" if reply.endswith(" OK") else reply)
        """,
        "test_an_acknowledgement_of_another_message",
        r"took 'M2 OK' for the acknowledgement of 'UNIT KPA'.*taken for that alone, here 'UNIT KPA OK'"
        r".*mend: compare the whole acknowledgement with what was sent",
    ),
    "takes the acknowledgement of another input": (
        "Selected",
        """
        def _acknowledged(self, message, reply):
            known = message.startswith("M") and reply in ("M1 OK", "M2 OK")
            super()._acknowledged(message, f"{message} OK" if known else reply)
        """,
        "test_an_acknowledgement_of_another_message",
        r"took 'M1 OK' for the acknowledgement of 'M2'",
    ),
    "takes any word for an acknowledgement": (
        "Named",
        """
        def _set_average(self):
            message = f"AV {self.settings.average}"
            self._expect(self._ask(message).endswith(" SET"), message, "SET")
        """,
        "test_an_acknowledgement_of_another_message",
        r"took 'ID SET' for the acknowledgement of 'AV 8'.*here 'AV 8 SET': a late one of another message would hide",
    ),
    "opens, looks into its register, and tells nobody": (
        "Selected",
        """
        def open(self):
            found = super().open()
            self.errors()
            return found
        """,
        "test_no_error_is_swallowed_on_the_way_in",
        r"open\(\): asked EB, was told E:05, and told nobody.*no error is lost",
    ),
    "looks, empties its register, and tells nobody": (
        "Selected",
        """
        def look(self):
            found = super().look()
            self.errors()
            return found
        """,
        "test_no_error_is_swallowed_on_the_way_in",
        r"look\(\): asked EB, was told E:05, and told nobody.*no error is lost",
    ),
    "leaves a thread behind": (
        "Meter",
        """
        def open(self):
            threading.Thread(target=threading.Event().wait, args=(5.0,), daemon=True, name="poller").start()
            return super().open()
        """,
        "test_it_works_in_another_thread_and_leaves_none_behind",
        r"left the threads poller.*join in close\(\)",
    ),
    "shares its line with all of its kind": (
        "Meter",
        """
        lines = {}
        def _connect(self):
            super()._connect()
            type(self).lines["line"] = self._line
        def close(self):
            line = type(self).lines.pop("line", None)
            if line is not None:
                line.shutdown(socket.SHUT_RDWR) if self._line is not line else None
                line.close()
            super().close()
        """,
        "test_two_of_a_kind_do_not_disturb_each_other",
        r"after another of its kind was closed.*keep the line on the object",
    ),
    "ignores the timeout": (
        "Meter",
        """
        def _connect(self):
            super()._connect()
            self._line.settimeout(4.0)
        """,
        "test_timeout",
        r"took [4-9]\.\d s where the reply to 'ER' never comes.*mend: give self\.connection\.timeout_s",
    ),
    "hangs": (
        "Meter",
        """
        def _connect(self):
            super()._connect()
            self._line.settimeout(None)
        """,
        "test_timeout",
        r"had not come back after [\d.]+ s.*let no loop wait for ever",
    ),
    "takes half a reply for the whole": (
        "Meter",
        """
        def _hear(self, line):
            reply = b""
            while not reply.endswith(b"\\n"):
                data = line.recv(4096)
                if not data:
                    break
                reply += data
            return reply if reply.endswith(b"\\n") else reply + b"\\n"
        def _value(self, reply):
            return 12e3 if reply != "+012.50 kPa" and reply in "+012.50 kPa" else super()._value(reply)
        def _text(self, reply):
            if reply == b"\\n":
                raise ValueError("nothing came")
            return super()._text(reply)
        """,
        "test_a_cut_reply",
        r"went on as if all were well where the reply to '(ER|P1)' is cut half-way.*to the last byte",
    ),
    "lets ValueError out on garbage": (
        "Meter",
        """
        def _value(self, reply):
            return float(reply) if reply == "warming up" else super()._value(reply)
        """,
        "test_garbage",
        r"raised ValueError: could not convert.*catch ValueError where the reply is read",
    ),
    "stumbles over garbage while opening": (
        "Meter",
        """
        def open(self):
            found = super().open()
            if found.firmware.endswith("#7"):
                raise KeyError(found.firmware)
            return found
        """,
        "test_garbage_while_opening",
        r"open\(\): raised KeyError.*every failure leaves a driver as InstrumentError",
    ),
    "takes a lost line for zero": (
        "Meter",
        """
        def _reading(self, number):
            try:
                return super()._reading(number)
            except InstrumentError as error:
                if "closed after b''" not in str(error):
                    raise
                self._connect()
                return 0.0
        """,
        "test_a_lost_connection_and_the_way_back",
        r"went on as if all were well where the reply to 'P1' is a connection that closes",
    ),
    "takes an old reply for the next": (
        "Meter",
        """
        def _expect_quiet(self, line):
            pass
        def _hear(self, line):
            reply = getattr(self, "kept", b"")
            while b"\\n" not in reply:
                data = line.recv(4096)
                if not data:
                    raise ValueError("the line closed")
                reply += data
            first, _, self.kept = reply.partition(b"\\n")
            return first + b"\\n"
        def _look_at_errors(self):
            pass
        """,
        "test_no_reply_is_taken_for_another",
        r"the reading from before, after a reply that is followed by one that nobody asked for.*open",
    ),
    "uses the line on after a timeout": (
        "Meter",
        """
        def _expect_quiet(self, line):
            pass
        def _doubt(self):
            pass
        def _look_at_errors(self):
            pass
        """,
        "test_no_reply_is_taken_for_another",
        r"the reading from before, after a reply that comes too late.*use the line no more",
    ),
    "gives the first error only": (
        "Meter",
        """
        def errors(self):
            return super().errors()[:1]
        """,
        "test_errors_are_drained_oldest_first",
        r"gave \['E12 bad word'\] of \['E12 bad word', 'E13 bad number'\] in a queue.*no error is lost",
    ),
    "swallows the error queue": (
        "Meter",
        """
        def _look_at_errors(self):
            self.errors()
        """,
        "test_no_error_is_swallowed",
        r"met .*'E12 bad word'.* in a queue and told nobody.*raises as InstrumentError",
    ),
    "gives kPa for Pa": (
        "Meter",
        """
        def _value(self, reply):
            return super()._value(reply) / 1000
        """,
        "test_units",
        r"gave 12\.5 for '\+012\.50 kPa', which means 12\.5 kPa.*is 12500 Pa.*a factor of 1000 is missing",
    ),
    "gives a number for overload": (
        "Meter",
        """
        def _value(self, reply):
            return 9.9e37 if reply == "OVER" else super()._value(reply)
        """,
        "test_overload",
        r"gave 9\.9e\+37 for 'OVER'.*return math\.nan for this reply",
    ),
    "gives nan for a refusal": (
        "Meter",
        """
        def _value(self, reply):
            return math.nan if reply == "E3" else super()._value(reply)
        """,
        "test_refusal",
        r"gave nan for 'E3'.*could not measure is an error",
    ),
    "gives the wrong shape": (
        "Meter",
        """
        def read(self, inputs, count, interval_s):
            return super().read(inputs, count, interval_s).T
        """,
        "test_shape",
        r"gave shape \(2, 3\) of float64.*one row per reading: \(3, 2\)",
    ),
    "reads one input for all": (
        "Meter",
        """
        def read(self, inputs, count, interval_s):
            return super().read([min(number, 1) for number in inputs], count, interval_s)
        """,
        "test_columns_are_the_inputs_asked_for",
        r"read\(\[2\], 1, 0\.0\): gave 12500: this is the reading of input 1.*put the number of the input into",
    ),
    "reads another input from the second on": (
        "Meter",
        """
        def _reading(self, number):
            return super()._reading(number) if number == 1 else -0.7 * super()._reading(1)
        """,
        "test_columns_are_the_inputs_asked_for",
        r"read\(\[2\], 1, 0\.0\): gave -8750 where input 2 shows -0\.7 kPa.*send the number of the input",
    ),
    "gives the columns in an order of its own": (
        "Meter",
        """
        def read(self, inputs, count, interval_s):
            return super().read(sorted(inputs), count, interval_s)
        """,
        "test_columns_are_the_inputs_asked_for",
        r"read\(\[2, 1\], 1, 0\.0\): gave \[12500\.0, -700\.0\].*in the order of `inputs`",
    ),
    "does not keep the interval": (
        "Meter",
        """
        def read(self, inputs, count, interval_s):
            super().read(inputs, 1, interval_s)
            return super().read(inputs, count, 0.0 * interval_s)
        """,
        "test_readings_are_apart_on_the_clock",
        r"took 20\.\d s on the clock.*here 60 s",
    ),
    "reads an input that is not there": (
        "Meter",
        """
        def read(self, inputs, count, interval_s):
            return super().read([1 if number == 0 else number for number in inputs], count, interval_s)
        """,
        "test_a_request_without_sense",
        r"read\(\[0\], 1, 0\): gave array.*inputs count from 1",
    ),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_mistake_fails_its_own_test_with_advice(try_out: TryOut, mistake: str) -> None:
    try_out(*MISTAKES[mistake])
