"""The simulated instruments: every message of plugins/rigproof_scpi/MESSAGES.md, and how a truth becomes a reading."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from rigproof.errors import UsageError
from rigproof_twin.instruments import KINDS, SimulatedInstrument, build
from rigproof_twin.instruments.base import nr3
from rigproof_twin.interface import Appearance, Deviation, World
from rigproof_twin.still import StillWorld

Ask = Callable[[str], str]


def an(kind: str, world: World, **looks: object) -> SimulatedInstrument:
    appearance = Appearance("Test bay", kind, "X-1", "1.0", **{"latency_s": 0.002, **looks})  # type: ignore[arg-type]
    return build(kind, world, appearance, np.random.default_rng(7))


def asker(instrument: SimulatedInstrument) -> Ask:
    """Sends messages on a bus; the reply is "" where there is none."""
    exchange = instrument.connect(bus=True)

    def ask(message: str) -> str:
        exchange.write(message.encode())
        if exchange.next_ready() is None:
            return ""
        return exchange.read(10_000_000, None, math.inf)[0].decode("latin-1").removesuffix("\n")

    return ask


@pytest.fixture
def world() -> StillWorld:
    return StillWorld()


@pytest.mark.parametrize("kind", KINDS)
def test_the_common_commands(kind: str, world: StillWorld) -> None:
    ask = asker(an(kind, world))
    assert ask("*IDN?") == f"Test bay,{kind},X-1,1.0"
    assert ask("*OPC?") == "1"
    assert ask("*TST?") == "0"
    assert ask("SYST:VERS?") == "1999.0"
    assert ask("*ESR?") == "128"
    assert ask("FOO?") == ""
    assert ask("*STB?") == "4"
    assert ask("*ESE 32;*ESE?") == "32"
    assert ask("*SRE 96;*SRE?") == "32"  # bit 6 is not stored
    assert ask("*STB?") == str(4 + 32 + 64)
    assert ask("*ESR?") == "32"
    assert ask("SYST:ERR?") == '-113,"Undefined header;FOO?"'
    assert ask("*OPC;*WAI;*ESR?") == "1"
    assert ask("FOO") == ask("*CLS;*RST") == ""
    assert ask("SYST:ERR?;*ESR?;*STB?") == '0,"No error";0;16'
    assert ask("STAT:OPER:COND?;:STAT:QUES:COND?") == "0;0"


def test_nothing_may_be_asked_after_an_identity(world: StillWorld) -> None:
    ask = asker(an("ohmmeter", world))
    assert ask("*IDN?;*OPC?;*ESE 1") == "Test bay,ohmmeter,X-1,1.0"
    assert ask("SYST:ERR?;*ESE?") == '-440,"Query UNTERMINATED after indefinite response;*OPC?";1'


def test_an_identity_keeps_its_four_fields_and_ascii(world: StillWorld) -> None:
    appearance = Appearance("Prüfstand, Bau 3", "m", "n", "f")
    assert asker(build("ohmmeter", world, appearance, np.random.default_rng(1)))("*IDN?") == "Pr?fstand  Bau 3,m,n,f"


def test_every_query_costs_its_latency_and_commands_cost_nothing(world: StillWorld) -> None:
    ask = asker(an("ohmmeter", world, latency_s=0.02))
    ask("*ESE 1")
    assert world.clock.now() == 0.0
    ask("*OPC?;*ESE?")
    assert world.clock.now() == pytest.approx(0.04)
    assert ask("MEAS:FRES? (@1:3)") == "3.500000000E+02,3.505000000E+02,1.077900000E+02"
    assert world.clock.now() == pytest.approx(0.10)  # the scanner reads one input after the other


def test_the_ohmmeter(world: StillWorld) -> None:
    ask = asker(an("ohmmeter", world, upper=400.0))
    assert ask("MEASure:FRESistance? (@2)") == "3.505000000E+02"
    assert ask("MEAS:FRES? (@4)") == "9.9E37"  # nothing is wired to it: open
    world.resistances_ohm[1] = 400.1
    assert ask("MEAS:FRES? (@1)") == "9.9E37"
    for wrong, number in {"": -109, " (@0)": -222, " (@5)": -222, " (@1,1)": -224, " 1": -104}.items():
        assert ask(f"MEAS:FRES?{wrong}") == ""
        assert ask("SYST:ERR?").startswith(f"{number},")


def test_the_thermometer_and_the_transmitter(world: StillWorld) -> None:
    world.source.enabled, world.source.target_pa = True, 2.5e6
    assert asker(an("thermometer", world))("MEAS:TEMP? (@1)") == "2.000000000E+01"
    ask = asker(an("pressure transmitter", world, upper=6e6))
    assert ask("MEAS:PRES? (@1)") == "2.500000000E+06"
    assert ask("MEAS:PRES? (@2)") == ""
    assert ask("SYST:ERR?") == '-222,"Data out of range;the transmitter has input 1 only"'
    world.source.target_pa = 7e6
    assert ask("MEAS:PRES? (@1)") == "9.9E37"


def test_the_insulation_tester_reads_only_while_its_voltage_is_on(world: StillWorld) -> None:
    ask = asker(an("insulation tester", world, upper=1e11))
    assert ask("OUTP?") == "0"
    assert ask("SOUR:VOLT -50;VOLT?") == "-5.000000000E+01"
    assert ask("MEAS:RES? (@1)") == "9.91E37"
    assert ask("OUTP ON;:OUTP?") == "1"
    assert ask("MEAS:RES? (@1,2)") == "2.000000000E+10,5.000000000E+07"
    world.insulations_ohm[1] = math.inf
    assert ask("MEAS:RES? (@1)") == "9.9E37"
    assert ask("SOUR:VOLT 0;:MEAS:RES? (@1)") == "9.91E37"
    ask("SOUR:VOLT 1001")
    assert ask("SYST:ERR?").startswith("-222,")
    ask("SOUR:VOLT 50;*RST")
    assert ask("OUTP?;:SOUR:VOLT?") == "0;0.000000000E+00"


def test_the_pressure_source(world: StillWorld) -> None:
    ask = asker(an("pressure source", world, upper=4e6))
    assert ask("SOUR:PRES:SLEW 5E4;SLEW?") == "5.000000000E+04"
    assert ask("SOURce:PRESsure 2.5E6;:SOUR:PRES?") == "2.500000000E+06"
    assert ask("MEAS:PRES?") == "0.000000000E+00"
    world.source.busy = True
    assert ask("OUTP ON;:OUTP?;:STAT:OPER:COND?") == "1;2"
    world.source.busy = False
    assert ask("STAT:OPER:COND?;:MEAS:PRES?") == "0;2.500000000E+06"
    assert ask("ROUT:OPEN (@1);CLOS? (@1)") == "0"
    assert not world.source.connected
    assert ask("ROUT:CLOS (@1);CLOS? (@1)") == "1"
    for message in ("SOUR:PRES 4.1E6", "SOUR:PRES -1", "SOUR:PRES:SLEW 0", "ROUT:CLOS (@2)"):
        ask(message)
        assert ask("SYST:ERR?").startswith("-222,"), message
    assert world.source.target_pa == 2.5e6
    ask("ROUT:OPEN (@1);*RST")
    assert (world.source.enabled, world.source.connected, world.source.target_pa) == (False, True, 0.0)


def test_the_bridge_amplifier_sets_excitation_and_shunts_by_input(world: StillWorld) -> None:
    ask = asker(an("bridge amplifier", world))
    assert world.excitation_v == {1: 2.5, 2: 2.5, 3: 2.5, 4: 2.5}
    assert ask("SOUR:VOLT 5,(@1,3);VOLT? (@1:4)") == ",".join(nr3(v) for v in (5, 2.5, 5, 2.5))
    assert world.excitation_v == {1: 5.0, 2: 2.5, 3: 5.0, 4: 2.5}
    assert ask("ROUT:CLOS (@2);CLOS? (@1,2)") == "0,1"
    assert world.shunted == {2}
    assert ask("MEAS:VOLT:RAT? (@1,2)") == "1.250000000E-04,-5.350000000E-04"
    assert ask("ROUT:OPEN (@2);CLOS? (@2)") == "0"
    ask("ROUT:CLOS (@1:3);*RST")
    assert world.shunted == set()
    assert world.excitation_v == {1: 2.5, 2: 2.5, 3: 2.5, 4: 2.5}
    for message in ("SOUR:VOLT 21,(@1)", "SOUR:VOLT 2.5,(@9)", "ROUT:CLOS (@0)", "SENS:SWE:POIN 0"):
        ask(message)
        assert ask("SYST:ERR?").startswith("-222,"), message


def test_the_bridge_amplifier_sends_scans_as_text(world: StillWorld) -> None:
    ask = asker(an("bridge amplifier", world))
    assert ask("FORM?") == "ASC"
    assert ask("CONF:VOLT:RAT (@2,1,4);:SENS:SWE:POIN 2;TINT 0.5;TINT?;POIN?") == "5.000000000E-01;2"
    started_s = world.clock.now()
    assert ask("READ?") == ",".join(["-3.500000000E-05,1.250000000E-04,9.9E37"] * 2)
    assert world.clock.now() - started_s == pytest.approx(1.0 + 0.002)


def test_the_bridge_amplifier_sends_scans_as_a_block(world: StillWorld) -> None:
    ask = asker(an("bridge amplifier", world))
    assert ask("CONF:VOLT:RAT (@2,1,4);:SENS:SWE:POIN 3;:FORM REAL,64;FORM?;:FORM:BORD?") == "REAL,64;NORM"
    reply = ask("READ?").encode("latin-1")
    assert reply[:4] == b"#272"
    values = np.frombuffer(reply[4:], ">f8").reshape(3, 3)
    assert values.tolist() == [[-3.5e-5, 1.25e-4, 9.9e37]] * 3
    assert ask("FORM:BORD SWAP;BORD?") == "SWAP"
    assert np.frombuffer(ask("READ?").encode("latin-1")[4:], "<f8").tolist() == values.ravel().tolist()
    ask("FORM REAL,32")
    assert ask("SYST:ERR?") == '-224,"Illegal parameter value;REAL,32"'
    assert ask("FORM ASC;FORM?") == "ASC"


def test_the_amplifier_samples_at_the_end_of_its_latency_and_then_every_interval(world: StillWorld) -> None:
    asked: list[np.ndarray] = []
    answer = world.bridge_output

    def listen(inputs: tuple[int, ...], times_s: np.ndarray) -> np.ndarray:
        asked.append(times_s)
        return answer(inputs, times_s)

    world.bridge_output = listen  # type: ignore[method-assign, assignment]
    world.clock.wait(10.0)
    asker(an("bridge amplifier", world))("SENS:SWE:POIN 3;TINT 0.25;:READ?")
    assert asked[0].tolist() == pytest.approx([10.002, 10.252, 10.502])
    assert world.clock.now() == pytest.approx(10.752)


def test_a_reading_departs_from_the_truth_as_told(world: StillWorld) -> None:
    deviation = Deviation(gain_error=0.01, offset=0.5, zero_drift=0.2, drift_time_s=100.0)
    ohmmeter = an("ohmmeter", world, latency_s=0.0, deviations={1: deviation})
    ask = asker(ohmmeter)
    assert float(ask("MEAS:FRES? (@1)")) == pytest.approx(350 * 1.01 + 0.5)
    assert float(ask("MEAS:FRES? (@2)")) == 350.5
    world.clock.wait(100.0)
    assert float(ask("MEAS:FRES? (@1)")) == pytest.approx(350 * 1.01 + 0.5 + 0.2 * (1 - math.exp(-1)), rel=1e-9)


def test_the_two_ways_to_a_reading_agree(world: StillWorld) -> None:
    looks = {
        "latency_s": 3.0,
        "resolution": 0.25,
        "lower": -50.0,
        "upper": 60.0,
        "deviations": {1: Deviation(0.1, -0.4, 3.0, 5.0)},
    }
    ohmmeter = an("ohmmeter", world, **looks)
    truths = [0.0, 7.3, -44.0, -45.2, 54.0, 55.0, math.nan, math.inf, -math.inf]
    ohmmeter.ready_s = 3.0
    for channel_input in (1, 2):
        one = [ohmmeter.seen(channel_input, truth) for truth in truths]
        many = ohmmeter.seen_all((channel_input,), np.array([truths]).T, np.full(len(truths), 3.0))
        assert many.ravel().tolist() == one
        assert one[-3:] == [9.9e37, 9.9e37, -9.9e37]


def test_noise_is_as_told_absolute_and_relative(world: StillWorld) -> None:
    amplifier = an("bridge amplifier", world, noise=3e-8)
    readings = amplifier.seen_all((1,), np.full((4000, 1), 1e-4), np.zeros(4000))
    assert readings.std() == pytest.approx(3e-8, rel=0.05)
    tester = an("insulation tester", world, noise_relative=0.01)
    spread = np.std([tester.seen(1, 1e9) for _ in range(4000)])
    assert spread == pytest.approx(1e7, rel=0.05)


def test_readings_are_multiples_of_the_resolution(world: StillWorld) -> None:
    ask = asker(an("ohmmeter", world, resolution=0.01, noise=1.0))
    for _ in range(20):
        hundredths = float(ask("MEAS:FRES? (@1)")) * 100
        assert hundredths == pytest.approx(round(hundredths), abs=1e-5)


def test_the_same_seed_gives_the_same_bytes_and_other_instruments_do_not_disturb_it() -> None:
    def run(disturb: bool) -> list[str]:
        world = StillWorld()
        ask, other = asker(an("bridge amplifier", world, noise=3e-8)), asker(an("ohmmeter", world, noise=1e-3))
        ask("SENS:SWE:POIN 5;:FORM REAL,64")
        return [ask("READ?") for _ in range(3) if not disturb or other("MEAS:FRES? (@1)")]

    assert run(disturb=False) == run(disturb=True)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0.000000000E+00"),
        (-1.5e-7, "-1.500000000E-07"),
        (9.9e37, "9.9E37"),
        (-math.inf, "-9.9E37"),
        (math.nan, "9.91E37"),
    ],
)
def test_numbers_are_sent_as_nr3(value: float, text: str) -> None:
    assert nr3(value) == text


def test_an_instrument_that_the_twin_has_not_is_refused(world: StillWorld) -> None:
    with pytest.raises(UsageError, match=r"driver='oscilloscope'.*bridge amplifier, insulation tester, ohmmeter"):
        an("oscilloscope", world)


def test_the_still_world_is_a_world(world: StillWorld) -> None:
    """What the protocol says, mypy checks here."""
    checked: World = world
    assert math.isnan(checked.resistance_ohm(9))
