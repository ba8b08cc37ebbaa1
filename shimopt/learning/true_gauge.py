"""How well a gauge repeats, from pairs of readings of one gap, by a likelihood that knows how it rounds.

A reading says that the gap, with the error of that reading, lies between two blades, or half a graduation about what a
dial shows. With the gap itself as likely anywhere, the second reading given the first is a double integral of a normal
distribution over both intervals, in closed form; its variance is that of both errors, and of the pieces and the seat
where what is predicted from the first reading is compared with what was found. Scatter of the readings alone is biased:
high where the gauge repeats about as well as it is graduated, low where it repeats far better, for then most pairs are
the same.

A pair in so many is taken to be wild, as likely anywhere near: one slip carries nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi, sqrt

import numpy as np

from shimopt.learning.mixture import Floats, normal_share

# repeatability, in graduations: from far below what shows in any pair to far above
_GRID = np.geomspace(0.01, 30.0, 90)
# half a graduation is as likely exceeded as not (half a Cauchy distribution: a bad gauge is not ruled out)
_PRIOR = 0.5
_WILD, _FAR = 0.01, 20.0


@dataclass(frozen=True, slots=True)
class Pair:
    """One gap read twice, or predicted from one reading and found by another: from where to where either has it.

    `other` is the variance of what else is between them, pieces and seat; `repeats` how often the gauge's own variance
    counts: twice, less where a reading is a mean of several. Lengths in any one unit; `name` is what it is told by.
    """

    first: tuple[float, float]
    second: tuple[float, float]
    other: float = 0.0
    repeats: float = 2.0
    name: str = ""


@dataclass(frozen=True, slots=True)
class Repeatability:
    """The standard deviation of one reading: as likely above as below `middle`, 19 times in 20 in `low` to `high`.

    `same` is how many pairs of `pairs` read the same, `wild` those that are more likely slips; `shows` whether it is
    known from below too: where nearly all pairs read the same, only `high` is. `finer`: surely below its graduation.
    """

    middle: float
    low: float
    high: float
    pairs: int
    same: int
    wild: tuple[Pair, ...]
    shows: bool
    finer: bool = True


def repeatability(pairs: Sequence[Pair]) -> Repeatability:
    """What pairs tell of their gauge; each interval is wider than nothing."""
    first, second = (np.array([getattr(pair, which) for pair in pairs], float) for which in ("first", "second"))
    other, repeats = (np.array([getattr(pair, which) for pair in pairs], float) for which in ("other", "repeats"))
    grade = float(np.median(np.concatenate([first[:, 1] - first[:, 0], second[:, 1] - second[:, 0]])))
    # by repeatability, then by pair
    spread = np.sqrt(repeats * (_GRID * grade)[:, None] ** 2 + other)
    told = _second_given_first(first, second, spread)
    wide = second[:, 1] - second[:, 0]
    slip = np.minimum(1.0, wide / (2 * _FAR * grade)) * _WILD
    each = (1 - _WILD) * told + slip
    likely = np.log(each).sum(axis=1) + np.log(_GRID / (1 + (_GRID / _PRIOR) ** 2))
    weights = np.exp(likely - likely.max())
    weights /= weights.sum()
    wild = weights @ (slip / each)
    share = np.cumsum(weights)
    middle, low, high = (
        float(np.exp(np.interp(at, share - weights / 2, np.log(_GRID)))) * grade for at in (0.5, 0.025, 0.975)
    )
    return Repeatability(
        middle,
        low,
        high,
        len(pairs),
        int((np.abs(first - second).max(axis=1) <= grade / 1_000).sum()),
        tuple(pair for pair, share_wild in zip(pairs, wild.tolist(), strict=True) if share_wild > 0.5),
        low > 0.05 * grade,
        high < grade,
    )


def _second_given_first(first: Floats, second: Floats, spread: Floats) -> Floats:
    """The probability that a second reading falls into c..d where the first fell into a..b.

    The integral over y in a..b and z in c..d of a normal density of z - y is K(d - a) - K(d - b) - K(c - a) + K(c - b)
    with K(t) = t F(t/s) + s f(t/s), the second integral of that density.
    """
    (a, b), (c, d) = first.T, second.T
    whole = _twice(d - a, spread) - _twice(d - b, spread) - _twice(c - a, spread) + _twice(c - b, spread)
    found: Floats = np.maximum(whole, 0.0) / (b - a)
    return found


def _twice(t: Floats, spread: Floats) -> Floats:
    z = t / spread
    # above the middle the share is taken from the other end: large numbers that cancel lose digits
    found: Floats = spread * (np.exp(-(z**2) / 2) / sqrt(2 * pi) - np.abs(z) * normal_share(-np.abs(z)))
    return found + np.maximum(t, 0.0)
