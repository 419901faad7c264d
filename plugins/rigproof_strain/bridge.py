"""The Wheatstone bridge as an exact law, for one half or two like halves.

One half is two arms in series across the excitation, arm 1 (R1, at the excitation corner) and arm 2 (R2). It reads

    r = R1 / (R1 + R2) - 1/2                     one half against a fixed half (quarter and half bridge), V/V
    r = R1 / (R1 + R2) - R4 / (R3 + R4)          two halves (full bridge), R3 like R1 and R4 like R2

so that a rise of R1 reads positive. Everything follows from R1/R2 = (1/2 + r)/(1/2 - r): no assumption of small
strain or of a balanced start. A fixed half that is not quite halved only adds a constant to `r`; taken for unbalance of
the arms it alters the result by the order of its square. Two halves are taken as alike, so that each carries r/2.

All functions take floats or arrays of equal shape.
"""

from __future__ import annotations

import numpy as np

from rigproof.models import Numbers


def arm_change(reading: Numbers, zero: Numbers, halves: int = 1) -> Numbers:
    """Relative change of R1/R2 between the outputs `zero` and `reading` (both V/V): q1/q0 - 1, exact.

    With q = (1/2 + r)/(1/2 - r) this is (r1 - r0)/((1/2 - r1)(1/2 + r0)), written so that nothing cancels.
    From `zero` = 0 it is 4r/(1 - 2r) (Dally and Riley, Experimental Stress Analysis, the bridge chapter; from memory).
    """
    now, start = reading / halves, zero / halves
    return (now - start) / ((0.5 - now) * (0.5 + start))


def output(arm_change: Numbers, zero: Numbers, halves: int = 1) -> Numbers:
    """Output (V/V) after R1/R2 has changed by `arm_change` from the output `zero`: the inverse of `arm_change`."""
    return zero + halves * step(arm_change, zero / halves)


def step(arm_change: Numbers, start: Numbers) -> Numbers:
    """Change of R1/(R1 + R2) when R1/R2 changes by `arm_change` from R1/(R1 + R2) = 1/2 + `start`; exact.

    What one half adds to the output, whatever the other half does.
    """
    return (0.25 - start**2) * arm_change / (1 + (0.5 + start) * arm_change)


def strain_of(arm_change: Numbers, sensitivity: Numbers, opposing: Numbers) -> Numbers:
    """Strain e that turned R1/R2 by `arm_change`, when arm 1 strains by e and arm 2 by -`opposing` * e.

    (1 + S e)/(1 - m S e) = 1 + c  gives  e = c / (S (1 + m (1 + c))). `opposing` m is 0 for one active arm, 1 for
    opposite bending strains, Poisson's ratio for a gauge across. `sensitivity` S is (dR/R of the arm)/strain.
    """
    return arm_change / (sensitivity * (1 + opposing * (1 + arm_change)))


def change_of(strain_1: Numbers, strain_2: Numbers, sensitivity: Numbers) -> Numbers:
    """Relative change of R1/R2 when the gauges of arms 1 and 2 strain so; the inverse of `strain_of`."""
    return sensitivity * (strain_1 - strain_2) / (1 + sensitivity * strain_2)


def strain_of_faces(reading: Numbers, zero: Numbers, sensitivity: Numbers, poisson: Numbers) -> Numbers:
    """Strain e of a bridge with gauges along and across on both faces in bending: arms +e, -nu e, +nu e, -e.

    With k = S e and a start unbalance alike in both halves, r = q(1+k)/(q(1+k) + 1-nu k) - (1-k)/(1-k + q(1+nu k)),
    q = (1+r0)/(1-r0), is a quadratic in k; the root near 0 is taken in the form in which nothing cancels. From balance
    it is r = (k(1+nu)/2)/(1 - (k(1-nu)/2)^2): nearly linear, not quite (trade.md 2.1, derived).
    """
    p, m = 1 + poisson, 1 - poisson
    rise = reading - zero
    slope = p * ((1 + zero**2) / 2 - reading * zero)
    bend = poisson * zero + reading * (m**2 - (zero * p) ** 2) / 4
    return 2 * rise / (slope + np.sqrt(slope**2 + 4 * rise * bend)) / sensitivity


def linear(reading: Numbers, zero: Numbers, sensitivity: Numbers, factor: Numbers) -> Numbers:
    """Strain as an instrument without the exact law shows it: 4 (r - r0)/(N S), N the bridge `factor`.

    N is 1, 2, 1 + nu, 2(1 + nu) or 4: the sum of the arms' strains, signs as in the ring, over e.
    """
    return 4 * (reading - zero) / (factor * sensitivity)
