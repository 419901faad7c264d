"""A share that was counted, and what it says about the probability behind it."""

from __future__ import annotations

from dataclasses import dataclass

from rigproof.errors import NumberError
from rigproof.uncertainty import beta_quantile

CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True)
class Share:
    """`count` of `of` independent runs."""

    count: int
    of: int

    def __post_init__(self) -> None:
        if not 0 <= self.count <= self.of or self.of == 0:
            raise NumberError(f"count={self.count}, of={self.of}: a share needs 0 <= count <= of, and one run at least")

    @property
    def value(self) -> float:
        """The share itself, 0 to 1."""
        return self.count / self.of

    @property
    def rest(self) -> Share:
        """Those not counted."""
        return Share(self.of - self.count, self.of)

    def interval(self, confidence: float = CONFIDENCE) -> tuple[float, float]:
        """Both ends of the exact interval of the probability, equal tails.

        C. J. Clopper and E. S. Pearson, Biometrika 26, 1934, 404-413; as quantiles of the beta distribution:
        NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.4.1 (from memory).
        """
        tail = 0.5 - 0.5 * confidence
        k, n = self.count, self.of
        lower = beta_quantile(tail, k, n - k + 1) if k else 0.0
        upper = beta_quantile(1.0 - tail, k + 1, n - k) if k < n else 1.0
        return lower, upper

    def __str__(self) -> str:
        lower, upper = self.interval()
        return f"{100 * self.value:.0f} % ({100 * lower:.0f} % to {100 * upper:.0f} %)"
