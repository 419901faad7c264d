"""A line that the driver does not hear, or throws away, is told as that."""

from __future__ import annotations

import re
from textwrap import dedent, indent

import pytest

from rigproof_pytest.told import names

pytest_plugins = ["pytester"]


def test_a_reply_that_was_not_read_is_told_as_such(with_sound: pytest.Pytester) -> None:
    """The driver complains of the acknowledgement, where it wants a reading."""
    with_sound.makepyfile(
        test_it="import sound\nclass Hasty(sound.Selected):\n    def _reading(self, number):\n"
        "        self._line.sendall(f'M{number}\\n'.encode())\n        return self._value(self._ask('R'))\n"
        "    def _expect_quiet(self, line):\n        pass\n    def _text(self, reply):\n"
        "        return super()._text(reply.partition(b'\\n')[0] + b'\\n')\n"
        "class TestMine(sound.SelectedContract):\n    driver = Hasty\n"
    )
    result = with_sound.runpytest_inprocess("-q")
    assert result.parseoutcomes()["failed"] == 1
    said = "mend: the reply 'M1 OK' to 'M1' was not read, and was taken for the next one: read it (`ask`, not `write`)"
    assert said in result.stdout.str()


def test_an_acknowledgement_that_is_thrown_away_is_told_with_the_same_advice(with_sound: pytest.Pytester) -> None:
    """A driver that empties its line before each question has no symptom later."""
    with_sound.makepyfile(
        test_it="""
        import select
        import sound

        class Empties(sound.Selected):
            def _tell(self, message):
                self._line.sendall(message.encode() + b"\\n")
            def _expect_quiet(self, line):
                while select.select([line], [], [], 0.05)[0] and line.recv(4096):
                    pass

        class TestMine(sound.SelectedContract):
            driver = Empties
        """
    )
    result = with_sound.runpytest_inprocess("-q", "-k", "test_timeout")
    assert result.parseoutcomes()["failed"] == 1
    told = r"went on as if all were well where the reply to 'M1' never comes.*mend: read it \(`ask`, not `write`\)"
    assert re.search(told, result.stdout.str(), re.DOTALL), result.stdout.str()


def test_a_greeting_that_is_not_heard_is_told(with_sound: pytest.Pytester) -> None:
    with_sound.makepyfile(
        test_it="""
        import sound
        from rigproof.instruments import Identity
        from rigproof_scpi.text_line import TextLine

        class Unprepared(sound.Meter):
            def open(self):
                line = TextLine(self.connection, "\\n", "\\n")
                return line.start("ID", self.identity)

            @staticmethod
            def identity(reply):
                if reply.count(",") != 3:
                    raise ValueError("an identity has four fields")
                return Identity(*reply.split(","))

        class TestMine(sound.MeterContract):
            driver, greeting = Unprepared, "BENCH 7"
            resource = "TCPIP::127.0.0.1::{port}::SOCKET"
        """
    )
    result = with_sound.runpytest_inprocess("-q")
    assert result.parseoutcomes()["failed"] == 1
    assert "mend: 'BENCH 7' comes unasked after each connection: hear it before the first" in result.stdout.str()


NOT_CONNECTED = {
    "does not connect anew": (
        """
            def resume(self):
                return sound.Identity(*self._ask("ID").split(","))
        """,
        "test_resume_reads_on_and_sets_nothing",
        r"Broken\.resume\(\): raised .*mend: the line had been lost, and nothing connected again: let open\(\) and "
        r"resume\(\) connect anew",
    ),
    "one line for all": (
        """
            lines = {}
            def _connect(self):
                resource = self.connection.resource
                self.connection = replace(self.connection, resource=self.lines.setdefault("kept", resource))
                super()._connect()
        """,
        "test_open_says_who_answered",
        r"Broken\.open\(\): raised .*mend: nothing connected to 127\.0\.0\.1:\d+, where the instrument is: connect to "
        r"self\.connection\.resource, and keep the line on the object",
    ),
}


@pytest.mark.parametrize("mistake", NOT_CONNECTED)
def test_one_that_does_not_connect_is_told_so(with_sound: pytest.Pytester, mistake: str) -> None:
    body, test, advice = NOT_CONNECTED[mistake]
    head = "from dataclasses import replace\nimport sound\nclass Broken(sound.Meter):\n"
    with_sound.makepyfile(
        test_it=f"{head}{indent(dedent(body), '    ')}\nclass TestBroken(sound.MeterContract):\n    driver = Broken\n"
    )
    result = with_sound.runpytest_inprocess("-q", "-k", test)
    assert result.parseoutcomes()["failed"] == 1
    assert re.search(advice, result.stdout.str(), re.DOTALL), result.stdout.str()


def test_other_settings_that_are_no_pair_are_told_with_their_form(with_sound: pytest.Pytester) -> None:
    with_sound.makepyfile(
        test_it="import sound\nclass TestMine(sound.MeterContract):\n    otherwise = ()\n    driver = sound.Meter\n"
    )
    result = with_sound.runpytest_inprocess("-q", "-k", "other_settings")
    assert result.parseoutcomes()["failed"] == 1
    assert 'mend: write `otherwise = ({"filter": "5"}, ["F5"])`' in result.stdout.str()


@pytest.mark.parametrize(
    ("complaint", "line", "is_named"),
    [
        ("P: it must be a number, not M1 OK", b"M1 OK", True),
        ("P: b'M1 OK\\n' came; a number must come", b"M1 OK", True),
        ("P: 0.15 came", b"0.1", False),
        ("P: a number must come", b"a", False),
        ("P: +0.5 came", b"0.5", False),
        ("P: OKAY came", b"OK", False),
    ],
)
def test_a_line_is_known_as_a_whole(complaint: str, line: bytes, is_named: bool) -> None:
    assert names(complaint, line) is is_named
