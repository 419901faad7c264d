"""A source that speaks by its map: nothing starts before its settings are read back, and it can always be made safe."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rigproof.errors import InstrumentError, NumberError
from rigproof.instruments import Connection
from rigproof_scpi.command_map import SourceMap
from rigproof_scpi.described_source import DescribedSource

from .conftest import StillClock
from .test_sockets import connection, served

pytestmark = pytest.mark.network

MAP: dict[str, Any] = {
    "quantity": "gauge pressure",
    "unit": "bar",
    "identity": "cannot say",
    "error": {"ask": "FAULT", "none": "NONE"},
    "rate": {"send": "RAMP {rate}", "unit": "bar/min", "ask": "RAMP", "reply": "{rate} BAR/MIN"},
    "target": {"send": "GOTO {value}", "ask": "GOTO", "reply": "{value} BAR"},
    "start": "RUN",
    "settled": {"ask": "STATE", "is": ["HOLD", "IDLE"], "is not": "MOVE*"},
    "safe": {"send": ["STOP", "VENT"], "ask": "MODE", "is": "VENTED", "is not": "*"},
    "isolate": {"send": "SHUT", "send back": "OPEN", "ask": "VALVE", "is": "SHUT", "is not": "OPEN"},
}


class Pump:
    """A pump of its own: it does what it is told, or what a test makes of it."""

    def __init__(self) -> None:
        self.rate, self.target = "0", "0"
        self.pumping, self.vented, self.shut = False, True, False
        self.heard: list[str] = []
        self.deaf_to: set[str] = set()  # messages that it takes and does not carry out
        self.says: dict[str, str | None] = {}  # replies in the place of its own; None: it hangs up
        self.silent = 0  # how many messages from now on are lost
        self.fault = "NONE"

    def answer(self, line: bytes) -> bytes | None:
        message = line.decode("latin-1").removesuffix("\n")
        self.heard.append(message)
        if self.silent:
            self.silent -= 1
            return b""
        word, _, rest = message.partition(" ")
        if message in self.says:
            reply = self.says[message]
            return None if reply is None else f"{reply}\n".encode("latin-1")
        if word not in self.deaf_to:
            self._carry_out(word, rest)
        return f"{asked}\n".encode() if (asked := self._reply(message)) else b""

    def _carry_out(self, word: str, rest: str) -> None:
        if word == "RAMP" and rest:
            self.rate = rest
        elif word == "GOTO" and rest:
            self.target = rest
        elif word == "RUN":
            self.pumping, self.vented = True, False
        elif word == "STOP":
            self.pumping = False
        elif word == "VENT":
            self.vented = True
        elif word in {"SHUT", "OPEN"}:
            self.shut = word == "SHUT"

    def _reply(self, message: str) -> str:
        return {
            "FAULT": self.fault,
            "RAMP": f"{self.rate} BAR/MIN",
            "GOTO": f"{self.target} BAR",
            "STATE": "MOVE UP" if self.pumping else "HOLD",
            "MODE": "VENTED" if self.vented and not self.pumping else "LOADED",
            "VALVE": "SHUT" if self.shut else "OPEN",
        }.get(message, "")


class Bench:
    """A pump, and the driver at the other end of the wire."""

    def __init__(self, pump: Pump, port: int, **changes: Any) -> None:
        self.pump = pump
        self.driver = DescribedSource(connection(port), SourceMap.model_validate({**MAP, **changes}))
        self.driver.open()
        pump.heard.clear()


def test_rate_and_target_are_read_back_before_it_starts() -> None:
    pump = Pump()
    with served(pump.answer) as port:
        driver = Bench(pump, port).driver
        driver.rise_to(35.75e5, 0.5e5)
        assert pump.heard == [
            "RAMP 30.000", "FAULT", "RAMP", "GOTO 35.750", "FAULT", "GOTO", "RUN", "FAULT",
        ]  # fmt: skip
        assert not driver.settled()
        pump.pumping = False
        assert driver.settled()
        driver.close()


@pytest.mark.parametrize(
    ("says", "match"),
    [
        ({"RAMP": "60.000 BAR/MIN"}, "RAMP: it reads back 60; it was set to 30.000"),
        ({"GOTO": "3.575 BAR"}, "GOTO: it reads back 3.575; it was set to 35.750"),
        ({"GOTO": "35.75 kPa"}, "GOTO: the reply was '35.75 kPa"),
        ({"GOTO": "9.91E37 BAR"}, "GOTO: it reads back nan"),
        ({"GOTO": "9.9E37 BAR"}, "GOTO: it reads back inf"),
        ({"RAMP": ""}, "RAMP: the reply was"),
        ({"FAULT": "17 TOO FAST"}, "'17 TOO FAST'"),
        ({"RAMP": None}, "RAMP: "),
    ],
)
def test_it_does_not_start_on_settings_that_did_not_take(says: dict[str, str | None], match: str) -> None:
    pump = Pump()
    with served(pump.answer) as port:
        driver = Bench(pump, port).driver
        pump.says = says
        with pytest.raises(InstrumentError, match=match):
            driver.rise_to(35.75e5, 0.5e5)
        assert "RUN" not in pump.heard
        driver.close()


def test_a_rate_that_rides_on_the_target_is_read_back_after_it() -> None:
    pump = Pump()
    both = {"rate": {"unit": "bar/min", "ask": "RAMP", "reply": "{rate} BAR/MIN"},
            "target": {"send": ["RAMP {rate}", "GOTO {value}"]}}  # fmt: skip
    with served(pump.answer) as port:
        driver = Bench(pump, port, **both).driver
        driver.rise_to(10e5, 0.5e5)
        assert pump.heard == ["RAMP 30.000", "GOTO 10.000", "FAULT", "RAMP", "RUN", "FAULT"]
        driver.close()


def test_a_source_may_round_to_its_own_steps_and_no_further() -> None:
    pump = Pump()
    with served(pump.answer) as port:
        driver = Bench(pump, port).driver
        pump.says = {"GOTO": "35.78 BAR"}  # 0.8 per mille
        driver.rise_to(35.75e5, 0.5e5)
        pump.says = {"GOTO": "0.0004 BAR"}
        driver.rise_to(0.0, 0.5e5)
        pump.says = {"GOTO": "0.002 BAR"}
        with pytest.raises(InstrumentError, match=r"it was set to 0\.000"):
            driver.rise_to(0.0, 0.5e5)
        driver.close()


@pytest.mark.parametrize(
    ("changes", "target", "rate", "match"),
    [
        ({"decimals": 0}, 0.4e5, 1e5, "value 0.4 would be sent as 0"),
        ({"decimals": 0}, 1e5, 0.005e5, "rate 0.3 would be sent as 0"),
        ({"decimals": 1}, 1.26e5, 1e5, r"value 1\.26 would be sent as 1\.3"),
    ],
)
def test_rounding_never_changes_what_is_asked_for(
    changes: dict[str, Any], target: float, rate: float, match: str
) -> None:
    pump = Pump()
    with served(pump.answer) as port:
        driver = Bench(pump, port, **changes).driver
        with pytest.raises(InstrumentError, match=match):
            driver.rise_to(target, rate)
        assert pump.heard == []
        driver.close()


@pytest.mark.parametrize(
    ("target", "rate"), [(math.nan, 1.0), (math.inf, 1.0), (1e5, 0.0), (1e5, -1.0), (1e5, math.inf)]
)
def test_no_target_without_number(target: float, rate: float) -> None:
    driver = DescribedSource(
        Connection("pump", "TCPIP::192.0.2.1::1::SOCKET", "@py", 1.0, StillClock()), SourceMap.model_validate(MAP)
    )
    with pytest.raises(NumberError):
        driver.rise_to(target, rate)


def test_scale_unit_and_comma_of_what_is_sent() -> None:
    """A source whose numbers are tenths of a kilopascal: 10 bar is 1000 kPa is 10000."""
    pump = Pump()
    pump.rate = "30,00"
    kilo = {"unit": "kPa", "scale": "0.1", "decimals": 2, "decimal": "comma",
            "target": {"send": "GOTO {value}", "ask": "GOTO", "reply": "{value} BAR"}}  # fmt: skip
    with served(pump.answer) as port:
        driver = Bench(pump, port, **kilo).driver
        driver.rise_to(10e5, 0.5e5)
        assert pump.target == "10000,00"
        assert pump.rate == "30,00"
        driver.close()


def test_the_valve_is_read_back() -> None:
    pump = Pump()
    with served(pump.answer) as port:
        driver = Bench(pump, port).driver
        driver.isolate(True)
        assert pump.heard[-3:] == ["SHUT", "FAULT", "VALVE"]
        pump.deaf_to = {"OPEN"}
        with pytest.raises(InstrumentError, match="VALVE: the valve is shut; it was told to open; look for a stuck"):
            driver.isolate(False)
        pump.deaf_to = set()
        driver.isolate(False)
        assert not pump.shut
        driver.close()


def test_no_valve_no_hold() -> None:
    without = SourceMap.model_validate({key: value for key, value in MAP.items() if key != "isolate"})
    driver = DescribedSource(Connection("pump", "TCPIP::192.0.2.1::1::SOCKET", "@py", 1.0, StillClock()), without)
    assert not DescribedSource.isolates(without)
    with pytest.raises(InstrumentError, match="no `isolate`"):
        driver.isolate(True)


@pytest.mark.parametrize("reply", ["", "VENTEDX", "xVENTED", "vented"])
def test_another_word_is_not_safe(reply: str) -> None:
    pump = Pump()
    with served(pump.answer) as port:
        driver = Bench(pump, port).driver
        pump.says = {"MODE": reply}
        assert not driver.is_safe()
        with pytest.raises(InstrumentError, match=r"not in its safe state.*STOP, VENT takes it there.*by hand"):
            driver.go_safe()
        driver.close()


def test_a_source_that_cannot_say_whether_it_is_safe_is_not_opened() -> None:
    pump = Pump()
    strict = {"safe": {"send": "VENT", "ask": "MODE", "is": "VENTED", "is not": "LOADED"}}
    pump.says = {"MODE": "?"}
    with served(pump.answer) as port, pytest.raises(InstrumentError, match="none of 'VENTED', 'LOADED' fit"):
        Bench(pump, port, **strict)


def test_a_reply_that_is_and_is_not_is_a_fault() -> None:
    pump = Pump()
    loose = {"safe": {"send": "VENT", "ask": "MODE", "is": "VENT*", "is not": ["*FAILED", "*"]}}
    with served(pump.answer) as port:
        driver = Bench(pump, port, **loose).driver
        assert driver.is_safe()
        pump.says = {"MODE": "VENT FAILED"}
        with pytest.raises(InstrumentError, match="not one but several"):
            driver.is_safe()
        driver.close()


DISTURBANCES = st.fixed_dictionaries(
    {
        "pumping": st.booleans(),
        "vented": st.booleans(),
        "shut": st.booleans(),
        "silent": st.integers(0, 1),
        "fault": st.sampled_from(["NONE", "17 TOO FAST"]),
        "before": st.sampled_from(["nothing", "rise", "lost reply", "garbage", "closed"]),
    }
)


@settings(max_examples=25, suppress_health_check=[HealthCheck.too_slow])
@given(told=DISTURBANCES)
def test_it_is_made_safe_from_any_state(told: dict[str, Any]) -> None:
    """Pumping, mute for a message, complaining, after an exchange that failed: pump off and vent open at the end."""
    pump = Pump()
    with served(pump.answer) as port:
        driver = Bench(pump, port).driver
        pump.pumping, pump.vented, pump.shut = told["pumping"], told["vented"], told["shut"]
        _disturb(driver, pump, told["before"])
        pump.silent, pump.fault = told["silent"], told["fault"]
        driver.go_safe()
        assert (pump.pumping, pump.vented) == (False, True)
        assert driver.is_safe()
        driver.go_safe()
        assert driver.is_safe()
        driver.close()


def _disturb(driver: DescribedSource, pump: Pump, before: str) -> None:
    if before == "rise":
        driver.rise_to(10e5, 0.5e5)
    elif before == "closed":
        driver.close()
    elif before in {"lost reply", "garbage"}:
        pump.says = {"STATE": "?!"} if before == "garbage" else {}
        pump.silent = int(before == "lost reply")
        with pytest.raises(InstrumentError):
            driver.settled()
        pump.says, pump.silent = {}, 0


def test_a_lost_source_is_said_to_be_unsafe_and_told_to_stop_nevertheless() -> None:
    """Replies are lost and messages arrive: the safe messages are sent, and the failure is told."""
    pump = Pump()
    with served(pump.answer) as port:
        driver = Bench(pump, port).driver
        pump.pumping, pump.vented = True, False
        pump.says = dict.fromkeys(("MODE", "FAULT"))
        with pytest.raises(InstrumentError):
            driver.go_safe()
        assert (pump.pumping, pump.vented) == (False, True)
        driver.close()
