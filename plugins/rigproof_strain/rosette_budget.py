"""Principal strains and stresses of a rosette, each with its uncertainty and the whole budget behind it."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from rigproof.errors import NumberError
from rigproof.models import Numbers
from rigproof.uncertainty import Budget, Estimate, Input
from rigproof_strain import stress
from rigproof_strain.rosette import Rosette, State

Correlation = tuple[str, str, float]
Reducer = Callable[..., Numbers]

ROOT_3 = math.sqrt(3.0)
LEAST_RADII = 2.0  # a circle of less than so many u has no direction worth a number


@dataclass(frozen=True, slots=True)
class PrincipalEstimates:
    """The state at a rosette. Strains 1, stresses Pa, angle rad.

    `angle` of e1 counts from the axis of the rosette's angles, in their sense, plus how far the rosette is turned; None
    where e1 - e2 is within its own uncertainty, so that no direction stands out.
    """

    e1: Estimate
    e2: Estimate
    angle: Estimate | None
    shear: Estimate  # greatest shear strain in the plane, e1 - e2
    s1: Estimate
    s2: Estimate
    von_mises: Estimate


def principal_budget(
    rosette: Rosette,
    readings: Sequence[Input],
    modulus: Input,
    poisson: Input,
    *,
    kt: Input | Sequence[Input] = (),
    off: Sequence[Input] = (),
    turned: Input | None = None,
    correlations: Sequence[Correlation] = (),
) -> PrincipalEstimates:
    """Principal strains, direction, greatest shear strain in the plane, principal and von Mises stress.

    `readings` are the strains reported by the legs, in their order. `kt`: transverse sensitivity, one input for a
    packet or one a leg. `off`: how far each leg lies off its angle (rad). `turned`: how far the rosette as a whole lies
    off the part's axis (rad). `correlations` by the inputs' names: legs of one packet share their gauge factor's
    deviation, so their readings are correlated. Names must differ.

    A principal strain is stationary in direction, so to first order its uncertainty is that of the strain in the
    direction found; taking it so also holds where both are equal and the root of the circle has no slope. The same for
    von Mises.
    Raises NumberError as `Rosette`, `stress` and `Budget` do.
    """
    legs = len(rosette.angles_deg)
    kts = [kt] if isinstance(kt, Input) else list(kt)
    if len(readings) != legs or len(kts) not in (0, 1, legs) or len(off) not in (0, legs):
        raise NumberError(
            f"readings={len(readings)}, kt={len(kts)}, off={len(off)}: {rosette.angles_deg} takes a reading a leg; "
            "give kt once or for each leg, off for each leg or not at all"
        )
    turn = turned or Input.exact("turned", 0.0, "rad")
    strain_inputs = [*readings, *kts, *off]

    def state(*values: Numbers) -> State:
        of_legs = values[legs : legs + len(kts)] * (legs if len(kts) == 1 else 1)
        return rosette.state(values[:legs], of_legs, values[legs + len(kts) : len(strain_inputs)])

    seen = _SeenFromZero(state, state(*(i.value for i in strain_inputs)), modulus, poisson)

    def estimate(function: Reducer, *more: Input) -> Estimate:
        inputs = [*strain_inputs, *more]
        names = {i.name for i in inputs}
        held = [c for c in correlations if c[0] in names and c[1] in names]
        return Budget(function, inputs, held).evaluate()

    radius = estimate(seen.radius)
    return PrincipalEstimates(
        e1=estimate(lambda *values: seen.strains(*values)[0]),
        e2=estimate(lambda *values: seen.strains(*values)[1]),
        angle=estimate(seen.angle, turn) if radius.value > LEAST_RADII * radius.u else None,
        shear=estimate(lambda *values: 2 * seen.radius(*values)),
        s1=estimate(lambda *values: seen.stresses(*values)[0], modulus, poisson),
        s2=estimate(lambda *values: seen.stresses(*values)[1], modulus, poisson),
        von_mises=estimate(seen.von_mises, modulus, poisson),
    )


class Seen:
    """Figures as functions of the legs' values, looked at in the direction found at one state: smooth there."""

    def __init__(self, state: Callable[..., State], found: State) -> None:
        self._state = state
        self._double = math.atan2(found.shear, found.difference)  # twice the angle of e1
        self._cos, self._sin = math.cos(self._double), math.sin(self._double)

    def radius(self, *values: Numbers) -> Numbers:
        """Radius of the circle in the direction found."""
        state = self._state(*values)
        return state.difference * self._cos + state.shear * self._sin

    def strains(self, *values: Numbers) -> tuple[Numbers, Numbers]:
        """Principal strains, the larger first."""
        centre, radius = self._state(*values).centre, self.radius(*values)
        return centre + radius, centre - radius

    def direction(self, *values: Numbers) -> Numbers:
        """Of the larger principal strain, rad."""
        state = self._state(*values)
        aside = state.shear * self._cos - state.difference * self._sin
        return self._double / 2 + 0.5 * np.arctan2(aside, self.radius(*values))

    def stresses(self, *values: Numbers) -> tuple[Numbers, Numbers]:
        """Principal stresses (Pa); modulus (Pa) and Poisson's ratio come last."""
        return stress.plane_stress_pa(*self.strains(*values[:-2]), *values[-2:])


class _SeenFromZero(Seen):
    """The same, and the von Mises stress straightened, so that it has a slope even without load."""

    def __init__(self, state: Callable[..., State], found: State, modulus: Input, poisson: Input) -> None:
        super().__init__(state, found)
        s1, s2 = stress.plane_stress_pa(*found.principal(), modulus.value, poisson.value)
        slant = math.atan2(ROOT_3 * (s1 - s2), s1 + s2)
        self._of_mean, self._of_half = math.cos(slant), ROOT_3 * math.sin(slant)

    def angle(self, *values: Numbers) -> Numbers:
        """Direction of e1 with how far the rosette is turned, which comes last."""
        return self.direction(*values[:-1]) + values[-1]

    def von_mises(self, *values: Numbers) -> Numbers:
        """Equivalent stress (Pa); modulus (Pa) and Poisson's ratio come last."""
        s1, s2 = self.stresses(*values)
        return (s1 + s2) / 2 * self._of_mean + (s1 - s2) / 2 * self._of_half
