"""The invented instruments that the sound drivers talk to."""

from __future__ import annotations

import math
import re

from rigproof.people import Question
from rigproof_pytest import Instrument


class Bench(Instrument):
    """All of these instruments in one."""

    def __init__(self) -> None:
        super().__init__(
            {"ID": "own make,bench,7,1.2", "ER": "0", "P1": "+012.50 kPa", "P2": "-000.70 kPa", "EB": "E:00"}
        )
        self.relay = self.shut = "0"
        self.feed = 0.0
        self.rotated = self.aim = self.stands = 0.0

    def answer(self, message: str) -> str | bytes | None:
        if message.startswith("R1="):
            self.relay = message[-1]
            return "OK"
        if message == "R1?":
            return self.relay
        if message.startswith("F="):
            self.feed = float(message[2:])
            return "OK"
        if message == "F1?":
            return f"{self.feed:.2f} V"
        if message.startswith("V="):
            self.energized = float(message[2:]) != 0
            return "OK"
        if message == "M1":
            return "5000 MOhm" if self.energized else "E3"
        return self.pumping(message) or self.turning(message) or super().answer(message)

    def turning(self, message: str) -> str | None:
        """100° between two questions, the last ones less."""
        if message.startswith("TURN "):
            self.aim = math.radians(float(message[5:]))
            return "OK"
        if message == "ANGLE":
            left, most = self.aim - self.stands, math.radians(100.0)
            self.rotated = self.stands = self.stands + max(-most, min(most, left))
            return f"{math.degrees(self.stands):.2f} deg"
        return None

    def asked(self, question: Question) -> str | None:
        """Turns it to the angle that is called for, where it is one, and types what is wanted."""
        if found := re.search(r"to (-?\d+) and", question.text):
            self.rotated = math.radians(float(found[1]))
        return question.item

    def pumping(self, message: str) -> str | None:
        if message.startswith("GO "):
            bar, *per_s = map(float, message.split()[1:])
            self.energized, self.target, self.rate = True, bar * 1e5, per_s[0] * 1e5 if per_s else None
        elif message == "STOP":
            self.energized = False
        elif message in ("SHUT", "FREE"):
            self.shut = str(int(message == "SHUT"))
        else:
            return {
                "STATE": "on" if self.energized else "off",
                "BUSY": "0",
                "VALVE": "shut" if self.shut == "1" else "free",
            }.get(message)
        return "OK"


class Selector(Instrument):
    """Reads the input that was selected."""

    def __init__(self) -> None:
        super().__init__({"ID": "own make,bench,7,1.2", "ER": "0", "EB": "E:00", "UNIT KPA": "UNIT KPA OK"})
        self.input = 1

    def answer(self, message: str) -> str | bytes | None:
        if message in ("M1", "M2"):
            self.input = int(message[1])
            return f"{message} OK"
        return ("+012.50 kPa", "-000.70 kPa")[self.input - 1] if message == "R" else super().answer(message)
