"""Puts a simulated rig under PyVISA: `ResourceManager("TOKEN@rigproof")`, or `PYVISA_LIBRARY=TOKEN@rigproof`.

PyVISA finds this package by its name alone. It holds no physics: it looks the token up among the benches of
`rigproof_twin.registry` and passes bytes and time-outs on.
"""

from __future__ import annotations

from pyvisa_rigproof.library import RigLibrary

WRAPPER_CLASS = RigLibrary

__all__ = ["WRAPPER_CLASS", "RigLibrary"]
