"""Each mistake where something is switched or loaded fails the test that is for it, and no other, with advice."""

from __future__ import annotations

from collections.abc import Callable

import pytest

pytest_plugins = ["pytester"]

TryOut = Callable[[str, str, str, str], None]

# The driver of sound.py, the mistake as the body of a subclass, the one test that fails, what its advice says.
MISTAKES = {
    "does not read the relay back": (
        "Switch",
        """
        def shunt(self, channel_input, closed):
            self._expect(self._ask(f"R{channel_input}={int(closed)}") == "OK", "R=", "OK")
        """,
        "test_the_relay_is_read_back",
        r"did not ask how the shunt relay stands; it heard 'R1=1' → 'OK'.*ask for the state after the command",
    ),
    "does not look at the relay it reads back": (
        "Switch",
        """
        def shunt(self, channel_input, closed):
            self._expect(self._ask(f"R{channel_input}={int(closed)}") == "OK", "R=", "OK")
            self._expect(self._ask(f"R{channel_input}?") in ("0", "1"), "R?", "0 or 1")
        """,
        "test_the_relay_is_read_back",
        r"went on as if all were well where 'R1\?' → '0' said.*what is read is looked at",
    ),
    "does not say what excitation its settings ask for": (
        "Amplifier",
        """
        @classmethod
        def set_excitation_v(cls, settings):
            return None
        """,
        "test_excitation",
        r"set_excitation_v\(settings\): gave None.*here 2\.5 V.*return the voltage of the settings",
    ),
    "gives the excitation in mV": (
        "Amplifier",
        """
        def excitation_v(self, channel_input):
            return super().excitation_v(channel_input) * 1000
        """,
        "test_excitation",
        r"gave 2500 V where 2\.5 V was set",
    ),
    "leaves the test voltage on after an error": (
        "Tester",
        """
        def _off(self):
            if self._line is None:
                raise InstrumentError(self.connection.name, "the line is closed")
            super()._off()
        """,
        "test_the_voltage_is_off_afterwards",
        r"left the test voltage on where the reply to '.*over a fresh connection",
    ),
    "reads before the insulation is charged": (
        "Tester",
        """
        def insulation_ohm(self, channel_input, test_voltage_v, electrification_s):
            return super().insulation_ohm(channel_input, test_voltage_v, min(electrification_s, 1.0))
        """,
        "test_the_voltage_is_on_for_the_time_asked",
        r"took 1\.\d s on the clock.*between switching on and reading",
    ),
    "waits until the load is there": (
        "Pump",
        """
        def rise_to(self, target, rate_per_s):
            super().rise_to(target, rate_per_s)
            self.connection.clock.wait(target / rate_per_s)
        """,
        "test_rise_to_returns_at_once",
        r"took 20\.\d s.*let settled\(\) tell",
    ),
    "sends bar where kPa are wanted": (
        "Pump",
        """
        def rise_to(self, target, rate_per_s):
            super().rise_to(target * 100, rate_per_s)
        """,
        "test_the_target_is_the_one_asked_for",
        r"sent the source to 1e\+08.*the factor is off by 100",
    ),
    "sends bar/s where bar/min are wanted": (
        "Pump",
        """
        def rise_to(self, target, rate_per_s):
            super().rise_to(target, rate_per_s / 60)
        """,
        "test_the_rate_is_the_one_asked_for",
        r"has the load rise at 830 per second.*0\.5 bar/s is 50000.*minutes too; the factor is off by 0\.0166",
    ),
    "sends a rate of its own": (
        "Pump",
        """
        def rise_to(self, target, rate_per_s):
            super().rise_to(target, rate_per_s and 30 * rate_per_s)
        """,
        "test_the_rate_is_the_one_asked_for",
        r"has the load rise at 1\.5e\+06 per second.*the factor is off by 30",
    ),
    "sends no rate": (
        "Pump",
        """
        def rise_to(self, target, rate_per_s):
            if not (math.isfinite(target) and 0 < rate_per_s < math.inf):
                raise InstrumentError(self.connection.name, "give finite ones above 0")
            self._expect(self._ask(f"GO {target / 1e5:.3f}") == "OK", "GO", "OK")
        """,
        "test_the_rate_is_the_one_asked_for",
        r"sent no rate, or the simulated source keeps none: it heard .*'GO 10\.000' → 'OK'.*ramps = False",
    ),
    "is settled at any time": (
        "Pump",
        """
        def settled(self):
            super().settled()
            return True
        """,
        "test_settled_is_what_the_source_says",
        r"gave True where the source was on its way, and said 'BUSY' → '1'.*ask the source each time",
    ),
    "is never settled": (
        "Pump",
        """
        def settled(self):
            return not super().settled() and None
        """,
        "test_settled_is_what_the_source_says",
        r"did not give True, however long",
    ),
    "asks on until the load is there": (
        "Pump",
        """
        def rise_to(self, target, rate_per_s):
            super().rise_to(target, rate_per_s)
            while not self.settled():
                pass
        """,
        "test_rise_to_returns_at_once",
        r"asked 51 times whether the load is there.*let settled\(\) tell",
    ),
    "waits on the clock until the source says that it is there": (
        "Pump",
        """
        def rise_to(self, target, rate_per_s):
            super().rise_to(target, rate_per_s)
            while not self.settled():
                self.connection.clock.wait(1.0)
        """,
        "test_rise_to_returns_at_once",
        r"took 50\.\d s.*let settled\(\) tell",
    ),
    "has a fault that stays keep the load on": (
        "Pump",
        """
        def go_safe(self):
            try:
                found = self.errors()
            except InstrumentError:
                found = []
            if found:
                raise InstrumentError(self.connection.name, "a fault stands against it")
            super().go_safe()
        """,
        "test_go_safe_from_every_state",
        r"a fault stands against it with a fault that stays",
    ),
    "takes any rate": (
        "Pump",
        """
        def rise_to(self, target, rate_per_s):
            super().rise_to(target, abs(rate_per_s))
        """,
        "test_a_load_without_sense",
        r"rise_to\(1e\+06, -50000\): gave None.*at a finite rate above 0",
    ),
    "does not read the valve back": (
        "Pump",
        """
        def isolate(self, isolated):
            self._expect(self._ask("SHUT" if isolated else "FREE") == "OK", "SHUT", "OK")
        """,
        "test_the_valve_is_read_back",
        r"did not ask how the valve stands",
    ),
    "cannot go safe on a closed line": (
        "Pump",
        """
        closed = False
        def open(self):
            self.closed = False
            return super().open()
        def close(self):
            super().close()
            self.closed = True
        def go_safe(self):
            if self.closed:
                raise InstrumentError(self.connection.name, "not open")
            super().go_safe()
        """,
        "test_go_safe_from_every_state",
        r"not open after close\(\) under load.*open a fresh one, send the command again",
    ),
    "lets a fault keep the load on": (
        "Pump",
        """
        def settled(self):
            try:
                return super().settled()
            except InstrumentError:
                self.lost = True
                raise
        def go_safe(self):
            if not getattr(self, "lost", False):
                super().go_safe()
        """,
        "test_go_safe_through_a_fault",
        r"left the load on after settled\(\) where the reply to 'BUSY' never comes.*first of all",
    ),
    "goes safe once": (
        "Pump",
        """
        def go_safe(self):
            super().go_safe()
            if getattr(self, "gone", False):
                raise InstrumentError(self.connection.name, "safe already")
            self.gone = True
        def rise_to(self, target, rate_per_s):
            super().rise_to(target, rate_per_s)
            self.gone = False
        """,
        "test_go_safe_twice",
        r"safe already a second time",
    ),
    "goes safe without reading back": (
        "Pump",
        """
        def _stop(self):
            self._expect(self._ask("STOP") == "OK", "STOP", "OK")
        """,
        "test_the_safe_state_is_read_back",
        r"go_safe\(\): said nothing where the source answered that it was still under load",
    ),
    "keeps the safe state in a flag": (
        "Pump",
        """
        def is_safe(self):
            return bool(self._ask("ID")) and self.flag
        def go_safe(self):
            super().go_safe()
            self.flag = True
        def rise_to(self, target, rate_per_s):
            super().rise_to(target, rate_per_s)
            self.flag = False
        """,
        "test_the_safe_state_is_read_back",
        r"is_safe\(\): did not ask the instrument.*keep no flag in the driver",
    ),
    "takes a late reply for the safe state": (
        "Pump",
        """
        def settled(self):
            try:
                return super().settled()
            except InstrumentError:
                self.answered = True
                raise
        def is_safe(self):
            return getattr(self, "answered", False) or super().is_safe()
        """,
        "test_a_late_reply_is_no_safe_state",
        r"said True under load, after settled\(\) where the reply to 'BUSY' comes too late",
    ),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_mistake_fails_its_own_test_with_advice(try_out: TryOut, mistake: str) -> None:
    try_out(*MISTAKES[mistake])
