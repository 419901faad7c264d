"""A driver that believes whatever comes while it opens is found; one that has a reason to take it is not."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from rigproof.instruments import NOT_ASKED, Identity
from rigproof_pytest.answering import _another, _fields

pytest_plugins = ["pytester"]

TryOut = Callable[[str, str, str, str], None]

LOOKED_AT = "test_every_reply_to_open_is_looked_at"
CAME = "test_the_identity_is_the_one_that_came"
MISTAKES = {
    "takes any acknowledgement": (
        "Named",
        """
        def _set_unit(self):
            self._ask("UNIT KPA")
        """,
        LOOKED_AT,
        r"open\(\): took 'warming up' for the reply to 'UNIT KPA', which is 'OK'.*mend: compare the whole reply",
    ),
    "takes an acknowledgement that goes on": (
        "Named",
        """
        def _set_unit(self):
            self._expect(self._ask("UNIT KPA").startswith("OK"), "UNIT", "OK")
        """,
        LOOKED_AT,
        r"took 'OK#7' for the reply to 'UNIT KPA'",
    ),
    "a source that takes any acknowledgement": (
        "Pump",
        """
        def open(self):
            found = super().open()
            self._ask("FREE")
            return found
        """,
        LOOKED_AT,
        r"took 'warming up' for the reply to 'FREE', which is 'OK'",
    ),
    "looks at the form of the identity, and gives one of its own": (
        "Meter",
        """
        def open(self):
            super().open()
            return Identity("own make", "bench", "7", "1.2")
        """,
        f"{CAME} {LOOKED_AT}",
        r"gave '7' where the reply to 'ID' said '8'",
    ),
    "keeps the identity of the first time": (
        "Meter",
        """
        first = None
        def open(self):
            found = super().open()
            self.first = self.first or found
            return self.first
        """,
        CAME,
        r"gave '7' where the reply to 'ID' said '8'.*mend: take maker, model",
    ),
    "asks who is there the first time alone": (
        "Meter",
        """
        first = None
        def open(self):
            if self.first is None:
                self.first = super().open()
            else:
                self._drop()
                self._connect()
                self._ask("EB")
            return self.first
        """,
        CAME,
        r"gave '7' where the reply to 'ID' said '8'",
    ),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_what_is_believed_unseen_is_found(try_out: TryOut, mistake: str) -> None:
    try_out(*MISTAKES[mistake])


OPENS = """
    def open(self):
        found = super().open()
        {}
        return found
"""
SOUND = {
    "makes sure of the line by a question whose first reply may be anything": """
    def open(self):
        self._drop()
        self._connect()
        self._ask("ID")
        fields = self._ask("ID").split(",")
        self._expect(len(fields) == 4, "ID", "four fields")
        return Identity(*fields)
""",
    "throws away what the last user left in the queue": OPENS.format("self._ask('ER')"),
    "sees at the first reading that its unit is none": f"""{OPENS.format("self.state = self._ask('STATE')")}
    def _reading(self, number):
        self._expect(self.state == "off", "STATE", "off")
        return super()._reading(number)
""",
    "sets what nothing acknowledges": OPENS.format("self._line.sendall(b'MUTE\\n')"),
}


@pytest.mark.parametrize("habit", SOUND)
def test_a_sound_habit_passes(with_sound: pytest.Pytester, habit: str) -> None:
    with_sound.makepyfile(
        test_it="import sound\nfrom rigproof.instruments import Identity\n"
        f"class Mine(sound.Sets, sound.Meter):\n{SOUND[habit]}"
        "class TestMine(sound.MeterContract):\n    driver = Mine\n"
    )
    result = with_sound.runpytest_inprocess("-q", "-W", "error")
    assert set(result.parseoutcomes()) == {"passed", "skipped"}, result.stdout.str()


@pytest.mark.parametrize(
    ("reply", "told"),
    [
        ("a,b,h,i", "no reply to open() is seen to carry what identity states"),
        ("own make,bench,7,1.2", ""),
    ],
)
def test_where_no_reply_carries_the_identity_it_is_told(with_sound: pytest.Pytester, reply: str, told: str) -> None:
    with_sound.makepyfile(
        test_it="import sound\nfrom rigproof.instruments import Identity\nclass Mine(sound.Meter):\n"
        "    def open(self):\n        found = super().open()\n"
        "        return Identity(*({'a': 'own make', 'b': 'bench', 'h': '7', 'i': '1.2'}.get(one, one)\n"
        "            for one in (found.maker, found.model, found.serial_number, found.firmware)))\n"
        "class TestMine(sound.MeterContract):\n    driver = Mine\n    def instrument(self):\n"
        f"        made = sound.Bench()\n        made.table['ID'] = {reply!r}\n        return made\n"
    )
    result = with_sound.runpytest_inprocess("-q", "-rs", "-k", CAME)
    assert result.parseoutcomes()["skipped" if told else "passed"] == 1
    assert told in result.stdout.str()


@pytest.mark.parametrize(
    ("text", "other"), [("7701", "7702"), ("T-0039", "T-0030"), ("v2.z", "v2.a"), ("7 kN (Z)", "7 kN (A)")]
)
def test_another_of_the_same_form(text: str, other: str) -> None:
    assert _another(text) == other


def test_what_nobody_was_asked_is_in_no_reply() -> None:
    assert _fields(Identity("", "-", "", NOT_ASKED)) == []
