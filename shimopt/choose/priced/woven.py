"""Clusters of gaps that several balances tie, as arrays: those tied alike together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass, field

import numpy as np

from shimopt.choose.priced.tables import Ints

# a table of what several gaps of a cluster cost together may have so many numbers
_MOST_OF_ONE = 200_000

@dataclass(frozen=True, slots=True)
class Shape:
    """Which of so many gaps each balance ties, by number, and in which order they are settled."""

    gaps: int
    scopes: tuple[tuple[int, ...], ...]
    order: tuple[int, ...] = field(init=False, compare=False)
    width: int = field(init=False, compare=False)

    def __post_init__(self) -> None:
        scopes, order, width = [set(scope) for scope in self.scopes], list[int](), 1
        while len(order) < self.gaps:
            beside = {
                gap: set().union(*(scope for scope in scopes if gap in scope)) | {gap}
                for gap in range(self.gaps)
                if gap not in order
            }
            gap = min(beside, key=lambda one: (len(beside[one]), one))
            scopes = [scope for scope in scopes if gap not in scope] + [beside[gap] - {gap}]
            order, width = [*order, gap], max(width, len(beside[gap]))
        # the one moment in which a frozen object may be written to
        object.__setattr__(self, "order", tuple(order))
        object.__setattr__(self, "width", width)


@dataclass(frozen=True)
class Woven:
    """Clusters of one shape: `clusters` by number, `at` their places, `offset` by cluster, balance and gap of it what is
    taken off [ticks], `within` by cluster and balance the spread from which there is excess, -1 where none is stated.
    """

    shape: Shape
    _: KW_ONLY
    clusters: Ints
    at: Ints
    offset: tuple[Ints, ...]
    within: Ints

    def levels(self, best: Ints, outside: Ints) -> tuple[Ints, Ints]:
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
    return [(Shape(*key), numbers) for key, numbers in found.items()]


def too_wide(shape: Shape, values: int) -> bool:
    """Whether tables of clusters of this shape, with so many values for each gap, would be too large."""
    return bool((values + 1) ** shape.width > _MOST_OF_ONE)


