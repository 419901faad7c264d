"""What the plugin supplies, and that MESSAGES.md names every header the drivers send."""

from __future__ import annotations

import re
from inspect import isabstract
from pathlib import Path

import rigproof_scpi
from rigproof_scpi import plugin

FOLDER = Path(rigproof_scpi.__file__).parent


def test_drivers() -> None:
    drivers = plugin.rigproof_drivers()
    assert plugin.RIGPROOF_DOOR == 1
    assert [driver.kind for driver in drivers] == [
        "bridge amplifier",
        "ohmmeter",
        "insulation tester",
        "pressure transmitter",
        "thermometer",
        "pressure source",
        "described meter",
        "described source",
    ]
    assert not any(isabstract(driver) for driver in drivers)


def test_one_file_a_driver() -> None:
    for driver in plugin.rigproof_drivers():
        assert (FOLDER / f"{driver.kind.replace(' ', '_')}.py").is_file()


def test_every_header_sent_is_in_the_list_of_messages() -> None:
    """A short form such as SENS:SWE:POIN stands for the long form SENSe:SWEep:POINts."""
    listed = (FOLDER / "MESSAGES.md").read_text(encoding="utf-8").replace("[", "").replace("]", "")
    sent: set[str] = set()
    for source in set(FOLDER.glob("*.py")) - {FOLDER / "resources.py"}:  # whose capitals are interfaces
        sent.update(re.findall(r'"(\*?[A-Z]{3,4}(?::[A-Z]{3,4})*)[ ?"]', source.read_text(encoding="utf-8")))
    assert {"*IDN", "READ", "SENS:SWE:POIN", "SOUR:PRES:SLEW", "STAT:OPER:COND", "MEAS:FRES"} <= sent
    unlisted = {header for header in sent if not re.search(re.escape(header).replace(":", "[a-z]*:"), listed)}
    assert unlisted == set()
