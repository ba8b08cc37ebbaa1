"""A mixture of normal distributions: what is known of a length when its spreads are known by weights only."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import erfc, sqrt
from typing import Any

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

_HALVINGS = 36
# what weighs less is left out where an end is looked for
_LIGHT = 1e-7
# so many standard deviations hold all of a normal distribution but 2e-15
_REACH = 8.0
_erfc: Callable[[Any], Any] = np.frompyfunc(erfc, 1, 1)


def normal_share(z: Floats) -> Floats:
    """The share of a standard normal distribution up to z."""
    found: Floats = np.asarray(_erfc(-z / sqrt(2)), float) / 2
    return found


@dataclass(frozen=True, slots=True)
class Mixture:
    """Normal distributions by their `means` and `variances`, each with its weight; the weights sum to one."""

    weights: Floats
    means: Floats
    variances: Floats

    @property
    def mean(self) -> float:
        """The mean of all of it."""
        return float(self.weights @ self.means)

    @property
    def variance(self) -> float:
        """The variance of all of it."""
        return float(self.weights @ (self.variances + (self.means - self.mean) ** 2))

    def up_to(self, x: float) -> float:
        """The probability of at most x."""
        return float(self.weights @ normal_share((x - self.means) / np.sqrt(self.variances)))

    def at(self, share: float) -> float:
        """The length up to which this share of it lies."""
        heavy = self.weights > _LIGHT
        rest = Mixture(self.weights[heavy] / self.weights[heavy].sum(), self.means[heavy], self.variances[heavy])
        reach = _REACH * np.sqrt(rest.variances)
        low, high = float((rest.means - reach).min()), float((rest.means + reach).max())
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            low, high = (middle, high) if rest.up_to(middle) < share else (low, middle)
        return high

    def interval(self, share: float = 0.95) -> tuple[float, float]:
        """From where to where this share of the middle of it lies."""
        return self.at((1 - share) / 2), self.at((1 + share) / 2)

    def plus(self, variance: float) -> Mixture:
        """The same with an independent error of such a variance on top."""
        return Mixture(self.weights, self.means, self.variances + variance)
