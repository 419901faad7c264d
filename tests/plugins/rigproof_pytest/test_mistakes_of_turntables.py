"""Each mistake of a driver that turns the part fails the test that is for it, and no other, with advice."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest

pytest_plugins = ["pytester"]

TryOut = Callable[[str, str, str, str], None]

# The driver of sound.py, the mistake as the body of a subclass, the one test that fails, what its advice says.
MISTAKES = {
    "sends rad where degrees are wanted": (
        "Table",
        """
        def _sent(self, angle_rad):
            return f"{angle_rad:.2f}"
        def _near(self, shown_deg, angle_rad):
            return abs(shown_deg - angle_rad) < 0.5
        """,
        "test_the_part_stands_at_the_angle",
        r"rotate_to\(2\.094\): came back with the part at 2\.09°.*2\.094 is 120°.*send math\.degrees\(angle_rad\)",
    ),
    "counts from where the part stands": (
        "Table",
        """
        before = 0.0
        def rotate_to(self, angle_rad):
            super().rotate_to(self.before + angle_rad)
            self.before += angle_rad
        """,
        "test_the_part_stands_at_the_angle",
        r"rotate_to\(4\.189\): came back with the part at 360°.*from the first position, not from the last",
    ),
    "comes back before the part is there": (
        "Table",
        """
        def _near(self, shown_deg, angle_rad):
            return abs(math.remainder(shown_deg - math.degrees(angle_rad), 360.0)) < 30.0
        """,
        "test_the_part_stands_at_the_angle",
        r"came back with the part at 100°.*ask for the angle until it is there",
    ),
    "does not look at the angle": (
        "Table",
        """
        def rotate_to(self, angle_rad):
            try:
                super().rotate_to(angle_rad)
            except InstrumentError as error:
                if "did not turn" not in str(error):
                    raise
        """,
        "test_the_angle_is_read_back",
        r"rotate_to\(4\.189\): went on as if the part were turned where 'ANGLE' → '120\.00 deg' said that it was not",
    ),
    "takes any angle": (
        "Table",
        """
        def rotate_to(self, angle_rad):
            super().rotate_to(angle_rad if math.isfinite(angle_rad) else 0.0)
        """,
        "test_an_angle_without_sense",
        r"rotate_to\(nan\): turned the part.*an angle is a finite number.*look at the angle first",
    ),
    "lets ValueError out": (
        "Table",
        """
        def rotate_to(self, angle_rad):
            int(angle_rad)
            super().rotate_to(angle_rad)
        """,
        "test_an_angle_without_sense",
        r"rotate_to\(nan\): raised ValueError.*refused in words",
    ),
    "calls for rad": (
        "Turned",
        """
        def rotate_to(self, angle_rad):
            super().rotate_to(angle_rad * math.pi / 180)
        """,
        "test_the_part_stands_at_the_angle",
        r"came back with the part at 2°.*2\.094 is 120°",
    ),
    "takes whatever is typed": (
        "Turned",
        """
        def rotate_to(self, angle_rad):
            if not math.isfinite(angle_rad):
                raise InstrumentError("disc", "give a finite angle")
            self._ask(f"{math.degrees(angle_rad):.0f}")
        """,
        "test_the_angle_is_read_back",
        r"went on as if the part were turned where 'Turn it to 240 and type that:' → '120' said.*ask a person again",
    ),
    "asks for Enter": (
        "Turned",
        """
        def _ask(self, wanted):
            self.connection.person.ask(sound.Question("disc", "rotate", "", f"Turn it to {wanted} and press Enter:"))
            return wanted
        """,
        "test_the_angle_is_read_back",
        r"did not ask where the part stands.*a person types the angle that stands at the mark",
    ),
    "bothers the person with no angle": (
        "Turned",
        """
        def rotate_to(self, angle_rad):
            wanted = f"{math.degrees(angle_rad):.0f}"
            while self._ask(wanted) != wanted or wanted == "nan":
                pass
        """,
        "test_an_angle_without_sense",
        r"rotate_to\(nan\): asked 'Turn it to nan and type that:'",
    ),
    "goes on where nobody answers": (
        "Turned",
        """
        def rotate_to(self, angle_rad):
            try:
                super().rotate_to(angle_rad)
            except InstrumentError as error:
                if not math.isfinite(angle_rad):
                    raise
        """,
        "test_nobody_turns_the_part",
        r"went on as if all were well where nobody answered.*let the InstrumentError of self\.connection\.person",
    ),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_mistake_fails_its_own_test_with_advice(try_out: TryOut, mistake: str) -> None:
    try_out(*MISTAKES[mistake])


@pytest.mark.parametrize(
    ("stated", "advice"),
    [
        ("angles = ('120°', '480°')", "two positions are told from each other"),
        ("angles = ('0°', '90°')", "two positions are told from each other"),
        ("angles = ('120', '240')", "angles: .*120"),
        (
            "def instrument(self): return {'ID': 'own make,bench,7,1.2', 'ER': '0', 'TURN 120.00': 'OK', "
            "'ANGLE': '120.00 deg'}",
            "has rotated = None.*set `rotated`",
        ),
    ],
)
def test_a_misstated_turntable_is_told_with_advice(with_sound: pytest.Pytester, stated: str, advice: str) -> None:
    with_sound.makepyfile(
        test_it=f"import sound\nclass TestMine(sound.Contract):\n    driver = sound.Table\n    {stated}\n"
    )
    result = with_sound.runpytest_inprocess("-q", "-k", "test_the_part_stands_at_the_angle")
    assert result.parseoutcomes()["failed"] == 1
    assert re.search(advice, result.stdout.str(), re.DOTALL), result.stdout.str()
