"""Random numbers of the twin: a stream of its own for every consumer, by name.

Each stream is a child of one seed, keyed by the consumer's name, so that a flaw, a further gauge or another order of
drawing leaves every other draw as it was.
"""

from __future__ import annotations

from hashlib import sha256

import numpy as np

from rigproof.errors import UsageError
from rigproof.quantities import Quantity, Uncertain
from rigproof_twin.fields import field_of

SQRT_3 = 3.0**0.5


class Streams:
    """Streams of one seed (a whole number >= 0); `UsageError` for any other."""

    def __init__(self, seed: int) -> None:
        if seed < 0:
            raise UsageError(f"seed={seed}: a seed is a whole number from 0 on. Give another.")
        self.seed = seed

    def generator(self, name: str) -> np.random.Generator:
        """The stream of the consumer `name`, from its beginning."""
        digest = sha256(name.encode()).digest()
        key = tuple(int.from_bytes(digest[i : i + 4], "little") for i in range(0, 16, 4))
        return np.random.default_rng(np.random.SeedSequence(self.seed, spawn_key=key))

    def uniform(self, name: str, lower: float, upper: float) -> float:
        """One number between `lower` and `upper`."""
        return float(self.generator(name).uniform(lower, upper))

    def truth(self, name: str, stated: Uncertain) -> float:
        """A true value that the statement allows: within limits, or as likely as a certificate or statistics say."""
        if stated.u == 0.0:
            return stated.value
        return stated.value + self.deviation(name, stated.u, stated.shape, stated.dof)

    def drawn(self, owner: str, holder: object, field: str) -> float:
        """The true value of a model's field, named after its owner; as stated where that leaves nothing open."""
        stated = field_of(holder, field)
        assert isinstance(stated, Uncertain | Quantity), f"{field} is a quantity"
        return self.truth(f"{owner} {field}", stated) if isinstance(stated, Uncertain) else stated.value

    def deviation(self, name: str, u: float, shape: str, dof: float = np.inf) -> float:
        """A deviation about 0 with standard uncertainty `u`, in the unit of `u`."""
        if u == 0.0 or shape == "exact":
            return 0.0
        generator = self.generator(name)
        if shape == "rectangular":
            return float(generator.uniform(-SQRT_3 * u, SQRT_3 * u))
        if shape == "t" and np.isfinite(dof):
            return float(u * generator.standard_t(dof))
        return float(generator.normal(0.0, u))
