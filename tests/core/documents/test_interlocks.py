"""Interlocks in rig.yaml: which keys make which kind, and what is wrong with an entry, at its place."""

from __future__ import annotations

import pytest

from rigproof.documents import load_rig, schema
from rigproof.documents.interlocks import KINDS
from rigproof.errors import DocumentError
from rigproof.plugins import Registry
from rigproof.run.plan import Plan

GOOD = {
    "{channel: pressure, above: 38 bar}": "Limit",
    "{channel: pressure, above: 30 bar, for longer than: 20 min}": "TimeBeyond",
    "{channel: pressure, rising faster than: 1 bar/s, over: 4 s}": "RateOfChange",
    "{channel: hoop, against: axial, apart by more than: 100 µε}": "Difference",
    "{channel: water, silent for longer than: 6 s}": "Silence",
    "{channel: pressure, unchanged for longer than: 30 s}": "Silence",
    "{channel: hoop, above share of yield: 60 %}": "ShareOfYield",
}

WRONG = [
    ("{channel: presure, rising faster than: 1 bar/s, over: 4 s}", "channel", "no channel of the rig", "'pressure'"),
    ("{channel: pressure, rising faster than: 1 bar, over: 4 s}", "rising faster than", "'bar'", "bar/s"),
    ("{channel: pressure, rising faster than: -1 bar/s, over: 4 s}", "rising faster than", "not above 0", "sign"),
    ("{channel: pressure, rising faster than: 1 bar/s, over: 0.4 s}", "over", "out of bounds", "at least 1 s"),
    ("{channel: pressure, rising faster than: 1 bar/s}", "", "missing", ""),
    ("{channel: pressure, over: 4 s}", "", "no limit", "rising faster than"),
    ("{channel: pressure, rising faster then: 1 bar/s, over: 4 s}", "rising faster then", "unknown key", "faster than"),
    ("{channel: hoop resistance, rising faster than: 1 Ω/s, over: 4 s}", "rising faster than", "no rate of", "load"),
    ("{channel: hoop, against: pressure, apart by more than: 1 µε}", "against", "measures gauge pressure", "strain"),
    ("{channel: hoop, against: hoop, apart by more than: 1 µε}", "against", "with itself", "another channel"),
    ("{channel: hoop, against: axial, apart by more than: 1 bar}", "apart by more than", "'bar'", "µε"),
    (
        "{channel: water, silent for longer than: 2 s}",
        "silent for longer than",
        "may take 5 s",
        "shorten its `timeout`",
    ),
    ("{channel: pressure, above share of yield: 60 %}", "channel", "yield is told from strain", "measures strain"),
    (
        "{channel: hoop, above share of yield: 60}",
        "above share of yield",
        "out of bounds",
        "write 60 % if that is meant",
    ),
    ("{channel: hoop, above share of yield: 130 %}", "above share of yield", "out of bounds", "at most 100 %"),
    ("{channel: pressure, above: 1 bar, rising faster than: 1 bar/s, over: 2 s}", "above", "watches one thing", "own"),
    (
        "{channel: pressure, silent for longer than: 9 s, over: 2 s}",
        "silent for longer than",
        "watches one thing",
        "own",
    ),
    ("{channel: pressure, above: 3 bar, for longer than: 0 s}", "for longer than", "out of bounds", "at least 1 s"),
    ("3", "", "stands where keys with values are wanted", "key: value"),
]


def rig_with(spool: Plan, entry: str, *changes: tuple[str, str]) -> str:
    text = spool.rig.text[: spool.rig.text.index("interlocks:")]
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return f"{text}interlocks:\n  it: {entry}\n"


@pytest.mark.parametrize("entry", GOOD)
def test_the_keys_tell_the_kind(spool: Plan, registry: Registry, entry: str) -> None:
    lock = load_rig(text=rig_with(spool, entry), registry=registry).interlocks["it"]
    assert (type(lock).__name__, lock.name) == (GOOD[entry], "it")


@pytest.mark.parametrize(("entry", "key", "what", "remedy"), WRONG)
def test_a_wrong_entry_is_told_at_its_key(
    spool: Plan, registry: Registry, entry: str, key: str, what: str, remedy: str
) -> None:
    text = rig_with(spool, entry)
    with pytest.raises(DocumentError) as caught:
        load_rig(text=text, registry=registry)
    where = f"interlocks.it.{key}".rstrip(".")
    found = [fault for fault in caught.value.faults if what in fault.message]
    assert [fault.where for fault in found] == [where], caught.value.faults
    assert remedy in found[0].remedy
    assert found[0].line == text.count("\n")


def test_a_coarse_reading_must_not_trip_a_rate_by_its_steps(spool: Plan, registry: Registry) -> None:
    coarse = ("{of reading: 0.1 %, fixed: 0.02 bar, zero drift: 0.005 bar}", "{of reading: 0.1 %, resolution: 1 bar}")
    entry = "{channel: pressure, rising faster than: 1 bar/s, over: %s}"
    with pytest.raises(DocumentError, match=r"interlocks.it.over: two steps of its resolution \(1 bar\) within 2 s"):
        load_rig(text=rig_with(spool, entry % "2 s", coarse), registry=registry)
    load_rig(text=rig_with(spool, entry % "2.1 s", coarse), registry=registry)


def test_retries_count_in_the_time_that_nobody_looks(spool: Plan, registry: Registry) -> None:
    old = "    resource: TCPIP::192.0.2.15::5025::SOCKET\n"
    tries = (old, f"{old}    retries: {{times: 2, wait: 1 s}}\n")
    text = rig_with(spool, "{channel: water, silent for longer than: 16 s}", tries)
    with pytest.raises(DocumentError, match="may take 17 s"):
        load_rig(text=text, registry=registry)


def test_the_schema_offers_every_kind(registry: Registry) -> None:
    found = schema("rig", registry)
    offered = found["$defs"]["RigDocument"]["properties"]["interlocks"]["additionalProperties"]["anyOf"]
    assert {each["$ref"].rpartition("/")[2] for each in offered} == {kind.__name__ for kind in KINDS}
    assert "over" in found["$defs"]["RateOfChange"]["required"]
