"""From bytes to commands: headers, paths, parameters, errors (IEEE 488.2-1992, 7; SCPI-1999, 6; from memory)."""

from __future__ import annotations

import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof_twin.instruments import KINDS
from rigproof_twin.parameters import Channels, Number, Whole
from rigproof_twin.scpi import KEPT, CommandSet, command, query


class Toy:
    """Commands that say what they were called with."""

    @command("SOURce:VOLTage", Number(0, 10), Channels(default=(1,)))
    def set_volt(self, volt: float, inputs: tuple[int, ...]) -> str:
        return f"volt {volt} {inputs}"

    @query("SOURce:VOLTage", Channels(default=(1,)))
    def volt(self, inputs: tuple[int, ...]) -> str:
        return f"volt? {inputs}"

    @command("SOURce:LIMit[:UPPer]", Number())
    def set_limit(self, volt: float) -> str:
        return f"limit {volt}"

    @query("SYSTem:ERRor[:NEXT]")
    def error(self) -> str:
        return "error?"

    @command("*ESE", Whole(0, 255))
    def enable(self, mask: int) -> str:
        return f"ese {mask}"

    @command("[SENSe]:POINts", Whole(1, 9))
    def points(self, number: int) -> str:
        return f"points {number}"


class More(Toy):
    """A class has the commands of its bases, and may give them other methods."""

    @query("SYSTem:ERRor[:NEXT]")
    def error(self) -> str:
        return "another error?"


COMMANDS = CommandSet(Toy)


def carried_out(message: str | bytes, commands: CommandSet = COMMANDS) -> list[str | int]:
    """What the units of a message do, in order: their words, or the number of the error instead."""
    program = commands.compile(message.encode() if isinstance(message, str) else message)
    done: list[str | int] = [
        unit.error.number if unit.error else unit.command.method(Toy(), *unit.arguments) for unit in program.units
    ]
    return [*done, program.error.number] if program.error else done


@pytest.mark.parametrize(
    "header", ["SOURce:VOLTage", "SOUR:VOLT", "source:volt", ":SOUR:VOLTAGE", "  sOuR:vOlTaGe\t", "\x01SOUR:VOLT"]
)
def test_long_and_short_forms_mean_the_same(header: str) -> None:
    assert carried_out(f"{header} 2.5") == ["volt 2.5 (1,)"]


@pytest.mark.parametrize("header", ["SOURC:VOLT", "SOU:VOLT", "SOUR:VOLTA", "VOLT", "SOUR", "SOUR:VOLT:LEV", "*ESEE"])
def test_other_abbreviations_are_undefined(header: str) -> None:
    assert carried_out(f"{header} 2.5") == [-113]


@pytest.mark.parametrize("message", ["SYST:ERR?", "SYSTem:ERRor:NEXT?", "syst:err:next?"])
def test_an_optional_node_may_be_left_out(message: str) -> None:
    assert carried_out(message) == ["error?"]


def test_an_optional_first_node_may_be_left_out() -> None:
    assert carried_out("POIN 3") == carried_out("SENS:POIN 3") == ["points 3"]


def test_command_and_query_are_different_headers() -> None:
    assert carried_out("SOUR:VOLT?") == ["volt? (1,)"]
    assert carried_out("SYST:ERR") == [-113]
    assert carried_out("*ESE?") == [-113]


def test_units_after_a_semicolon_start_where_the_last_one_was() -> None:
    assert carried_out("SOUR:VOLT 1;LIM 2;VOLT?") == ["volt 1.0 (1,)", "limit 2.0", "volt? (1,)"]
    assert carried_out("SOUR:VOLT 1;:SYST:ERR?") == ["volt 1.0 (1,)", "error?"]
    assert carried_out("SOUR:VOLT 1;*ESE 4;LIM 2") == ["volt 1.0 (1,)", "ese 4", "limit 2.0"]
    assert carried_out("SOUR:VOLT 1;SYST:ERR?") == ["volt 1.0 (1,)", -113]
    assert carried_out("SOUR:LIM:UPP 1;VOLT 1") == ["limit 1.0", -113]


def test_separators_inside_an_expression_do_not_count() -> None:
    assert carried_out("SOUR:VOLT 2 , (@1,3:4) ; VOLT? (@2)") == ["volt 2.0 (1, 3, 4)", "volt? (2,)"]


@pytest.mark.parametrize("message", [b"", b" ", b";", b" ; ;\r", b"\x00"])
def test_an_empty_message_does_nothing(message: bytes) -> None:
    assert carried_out(message) == []


@pytest.mark.parametrize(
    ("message", "number"),
    [
        ("SOUR:VOLT", -109),
        ("SOUR:VOLT ,(@1)", -109),
        ("SOUR:VOLT 1,", -109),
        ("SOUR:VOLT 1,(@1),3", -108),
        ("SYST:ERR? 1", -108),
        ("SOUR:VOLT abc", -148),
        ("SOUR:VOLT 1 V", -138),
        ("SOUR::VOLT 1", -102),
        ("SOUR:VOLT:", -102),
        ("SOUR:VOLT ?", -121),
        ("?", -102),
        ("*", -102),
        ("1", -102),
        ("SOUR VOLT 1", -113),
        ("ABCDEFGHIJKLM 1", -112),
        ("SOUR:VOLT '1", -151),
        ('SOUR:VOLT "1', -151),
        ("SOUR:VOLT (@1", -171),
        ("SOUR:VOLT 1)", -171),
        (b"SOUR:VOLT 1\xff", -101),
        ("SOUR:VOLT 1µ", -101),
    ],
)
def test_a_command_error_ends_the_message(message: str | bytes, number: int) -> None:
    raw = message.encode() if isinstance(message, str) else message
    assert carried_out(raw) == [number]
    if number != -101:  # a byte that is no character spoils the message from its start
        assert carried_out(b"*ESE 1;:" + raw + b";*ESE 2") == ["ese 1", number]


def test_an_execution_error_spoils_its_own_unit_only() -> None:
    assert carried_out("*ESE 1;*ESE 256;SOUR:VOLT 11;*ESE 2") == ["ese 1", -222, -222, "ese 2"]


def test_the_error_carries_the_unit_as_sent() -> None:
    program = COMMANDS.compile(b"*ESE 1; SOUR:VOLT 11 ;:FOO 1;*ESE 2")
    assert program.units[1].error is not None
    assert program.units[1].error.detail == "SOUR:VOLT 11"
    assert program.error is not None
    assert program.error.detail == ":FOO 1"


def test_a_derived_class_may_answer_otherwise() -> None:
    assert carried_out("SYST:ERR?;*ESE 3", CommandSet(More)) == ["another error?", "ese 3"]


def test_messages_are_kept_but_not_without_end() -> None:
    commands = CommandSet(Toy)
    assert commands.compile(b"SYST:ERR?") is commands.compile(b"SYST:ERR?")
    for number in range(2 * KEPT):
        commands.compile(b"SOUR:VOLT %d" % number)
    assert len(commands._kept) <= KEPT
    long = b"SYST:ERR?" + b" " * 1000
    assert commands.compile(long) is not commands.compile(long)


def test_every_instrument_knows_the_headers_of_messages_md_and_the_required_ones() -> None:
    required = {"*CLS", "*IDN?", "*RST", "*OPC?", "*ESR?", "*STB?", "SYSTem:ERRor[:NEXT]?", "SYSTem:VERSion?"}
    for kind in KINDS.values():
        assert required <= set(kind.commands.patterns())


ALPHABET = st.sampled_from([*b"SOURVLTYE*?:;,()@ \t\n\r'\"#0123456789.+-Ee\x00\xff"])
MESSAGES = st.one_of(st.binary(), st.lists(ALPHABET, max_size=60).map(bytes))


@given(MESSAGES, st.sampled_from([COMMANDS, *(kind.commands for kind in KINDS.values())]))
def test_arbitrary_bytes_never_raise(message: bytes, commands: CommandSet) -> None:
    program = commands.compile(message)
    assert program.error is None or -200 < program.error.number <= -100
    assert all(unit.error is None or -230 < unit.error.number <= -200 for unit in program.units)


@pytest.mark.parametrize("message", [b"(" * 60_000, b'"' * 59_999, b"SOUR:VOLT " + b"1" * 60_000, b";" * 60_000])
def test_a_malicious_message_takes_no_time(message: bytes) -> None:
    """Quadratic time would take minutes here."""
    started = time.process_time()
    COMMANDS.compile(message)
    assert time.process_time() - started < 1.0
