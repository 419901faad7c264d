"""The talk with the person: a value is typed, repeated back, corrected or kept; a serial number likewise."""

from __future__ import annotations

from rigproof.instruments import Identity
from rigproof.people import Person, Question, Wants
from rigproof.quantities import WrittenError
from rigproof_manual.display import Display, keeps, lacks_reason


def ask_value(person: Person, instrument: str, item: str, display: Display, beforehand: str = "") -> float:
    """A reading that the person typed and kept, in the base unit of what the display reads; nan: overload.

    `beforehand` says what must be done before the reading is taken.
    """
    prompt = f"{beforehand}{display.label}, in {display.unit}:"
    typed = _ask(person, instrument, "value", item, prompt)
    while True:
        try:
            value = display.read(typed)
        except WrittenError as error:
            typed = _ask(person, instrument, "value", item, prompt, amiss=f"{error}")
            continue
        plausible = display.plausible(value)
        otherwise = "" if plausible else None  # a script must say by itself why an unlikely value is kept
        amiss, repeated = _repeated(display, value, plausible)
        reply = _ask(person, instrument, "keep", item, repeated, otherwise, amiss)
        while lacks_reason(reply) and not plausible:
            said = f"{reply.strip()!r} gives no reason; write it behind `keep:`, a word at least"
            waits = f"{display.shown(value)} waits. {amiss}. {repeated}"
            reply = _ask(person, instrument, "keep", item, waits, otherwise, said)
        if keeps(reply, plausible):
            return value
        typed = reply


def _repeated(display: Display, value: float, plausible: bool) -> tuple[str, str]:
    """What is wrong with a value, "" where nothing is, and what may be typed."""
    shown = display.shown(value)
    if plausible:
        return "", f"{display.label}: {shown}. Enter keeps it; or type the right value."
    between = f"between {display.lowest.text} and {display.highest.text}"
    return (
        f"{display.label}: {shown} is not {between}, which rig.yaml calls plausible",
        "Look again and type the right value; or, if it is right, type `keep:` and why.",
    )


def identify(person: Person, instrument: str, what: str) -> Identity:
    """Who a person says it is: the serial number or mark on it. Nothing but a plate answers, so no maker or model."""
    prompt = f"{instrument}: the serial number or mark on {what}:"
    typed = _ask(person, instrument, "serial number", "", prompt)
    while True:
        if not typed.strip():
            typed = _ask(person, instrument, "serial number", "", prompt, amiss="Nothing was typed")
            continue
        back = f"{instrument}: {typed.strip()}. Enter keeps it; or type what it says."
        reply = _ask(person, instrument, "keep", "serial number", back, otherwise="")
        if keeps(reply, plausible=True):
            return Identity("", "", typed.strip(), "read by hand")
        typed = reply


def check_by_hand(resource: str) -> None:
    """Raise `WrittenError` for a `resource:` with an address: a person reaches these instruments."""
    if resource != "by hand":
        raise WrittenError(f"{resource!r} is no place where a person works", "write `by hand`")


def _ask(
    person: Person,
    instrument: str,
    wants: Wants,
    item: str,
    text: str,
    otherwise: str | None = None,
    amiss: str = "",
) -> str:
    """An answer; `amiss` is what is wrong with the one before."""
    apart = " " if wants == "keep" else "\n"
    whole = f"{amiss}.{apart}{text}" if amiss else text
    return person.ask(Question(instrument, wants, item, whole, otherwise, amiss=amiss))
