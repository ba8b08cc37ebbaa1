"""Clusters of gaps that several balances tie, as arrays: those tied alike together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from shimopt.choose.priced.tables import Ints

# a table of what several gaps of a cluster cost together may have so many numbers
_MOST_OF_ONE = 200_000


class Shape(NamedTuple):
    """Which of so many gaps each balance ties, by number; in which order they are settled, and of how many at most
    that one is which are tied to each other then, itself among them.
    """

    gaps: int
    scopes: tuple[tuple[int, ...], ...]
    order: tuple[int, ...]
    width: int


def shape_of(gaps: int, balances: Sequence[tuple[int, ...]]) -> Shape:
    """Balances of so many gaps; next always a gap is settled that the fewest others are tied to."""
    beside: dict[int, set[int]] = {gap: set() for gap in range(gaps)}
    for scope in balances:
        for gap in scope:
            beside[gap] |= {*scope} - {gap}
    order, width = list[int](), 1
    while beside:
        gap = min(beside, key=lambda one: (len(beside[one]), one))
        tied = beside.pop(gap)
        for other in tied:
            beside[other] = (beside[other] | tied) - {gap, other}
        order, width = [*order, gap], max(width, len(tied) + 1)
    return Shape(gaps, tuple(balances), tuple(order), width)


@dataclass(frozen=True)
class Woven:
    """Clusters of one shape: `clusters` by number, `at` their places.

    By balance, cluster and gap of it, `offset` is what is taken off [ticks]; by cluster and balance, `within` the
    spread from which there is excess, -1 where none is stated.
    """

    shape: Shape
    _: KW_ONLY
    clusters: Ints
    at: Ints
    offset: tuple[Ints, ...]
    within: Ints

    def levels(self, best: Ints, outside: npt.NDArray[np.bool_]) -> tuple[Ints, Ints]:
        """The excess and the spread of each cluster, where the gaps of all places come to so much."""
        excess = spread = np.zeros(len(self.clusters), dtype=np.int64)
        for number, scope in enumerate(self.shape.scopes):
            at = self.at[:, scope]
            even = best[at] - self.offset[number]
            far = np.where(outside[at].any(axis=1), 0, even.max(axis=1) - even.min(axis=1))
            within = self.within[:, number]
            excess, spread = excess + np.where(within < 0, 0, np.maximum(0, far - within)), spread + far
        return excess, spread

    def differences(self, best: Ints) -> list[Ints]:
        """By balance, how far its gaps come from the first of it where those of all places come to `best`."""
        even = [best[self.at[:, scope]] - offset for scope, offset in zip(self.shape.scopes, self.offset, strict=True)]
        return [of - of[:, :1] for of in even]


def shapes_of(balances: Sequence[Sequence[Sequence[int]]]) -> list[tuple[Shape, list[int]]]:
    """Clusters by shape: the shape, and the numbers of those that have it; by cluster, the gaps of each balance."""
    found: dict[tuple[int, tuple[tuple[int, ...], ...]], list[int]] = {}
    for number, scopes in enumerate(balances):
        key = max(map(max, scopes)) + 1, tuple(tuple(scope) for scope in scopes)
        found.setdefault(key, []).append(number)
    return [(shape_of(*key), numbers) for key, numbers in found.items()]


def too_wide(shape: Shape, values: int) -> bool:
    """Whether tables of clusters of this shape, with so many values for each gap, would be too large."""
    return bool((values + 1) ** shape.width > _MOST_OF_ONE)
