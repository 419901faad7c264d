"""What was said on the line, as messages tell it."""

from __future__ import annotations

import re
from collections.abc import Sequence

from .peer import Exchange


def content(reply: str | bytes) -> bytes:
    """A stated reply as bytes."""
    return reply.encode("latin-1") if isinstance(reply, str) else reply


def shown(data: bytes) -> str:
    """Bytes as a message shows them."""
    try:
        text = repr(data.decode()[:60])
    except UnicodeDecodeError:
        text = repr(data[:60])[1:]
    return text + ("…" if len(data) > 60 else "") if data else "no reply"


def dialogue(said: Sequence[Exchange]) -> str:
    """The last exchanges."""
    return ", ".join(f"{shown(one.message)} → {shown(one.reply)}" for one in said[-6:]) or "nothing"


def unread(said: Sequence[Exchange], complaint: str) -> Exchange | None:
    """The exchange before the last, where its reply is what the driver complains of, and not the last one's."""
    answered = [one for one in said if one.reply]
    if len(answered) < 2 or answered[-2].reply == answered[-1].reply:
        return None
    heard, due = (names(complaint, one.reply) for one in answered[-2:])
    return answered[-2] if heard and not due else None


def names(complaint: str, line: bytes) -> bool:
    """Whether a complaint repeats a line that came; a single letter would be found by chance."""
    text = re.escape(line.decode("latin-1"))
    return len(line) > 1 and re.search(rf"(?<![\w.+-]){text}(?![\w.])", complaint) is not None
