"""The other end of the line writes down all that was sent."""

from __future__ import annotations

import socket
import time

from rigproof_pytest.peer import HOST, Instrument, Peer


class Slow(Instrument):
    """Takes its time over each message."""

    def answer(self, message: str) -> str:
        """A reply, late."""
        time.sleep(0.05)
        return f"{message} OK"


def test_what_was_sent_is_heard_out_though_the_driver_complains_before() -> None:
    peer = Peer(Slow(), b"\n", b"\n")
    try:
        with socket.create_connection((HOST, peer.port)) as line:
            line.sendall(b"M1\nR\n")
            line.recv(1)  # of the first reply: the second message is taken only now
            peer.hear_out()
        assert [one.message for one in peer.said] == [b"M1", b"R"]
        assert peer.talking() == 0
    finally:
        peer.close()
