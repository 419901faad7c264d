"""What a gauge shows that lies off its direction. Angles in rad, floats or arrays of equal shape."""

from __future__ import annotations

import numpy as np

from rigproof.models import Numbers


def strain_at(e1: Numbers, e2: Numbers, angle: Numbers) -> Numbers:
    """Strain at `angle` from the direction of the principal strain `e1` (Mohr's circle)."""
    return (e1 + e2) / 2 + (e1 - e2) / 2 * np.cos(2 * angle)


def error(e1: Numbers, e2: Numbers, meant: Numbers, off: Numbers) -> Numbers:
    """Strain read at `meant` + `off` less that at `meant`, both from the direction of `e1`.

    (e1 - e2)/2 [cos 2(p + b) - cos 2p] (trade.md 2.8), written as -(e1 - e2) sin(2p + b) sin b: nothing cancels.
    """
    return -(e1 - e2) * np.sin(2 * meant + off) * np.sin(off)
