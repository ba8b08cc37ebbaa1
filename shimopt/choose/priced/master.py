"""The linear program that mixes what pricing found: whole choices of groups of clusters, within supply and held levels.

A row per cluster would make it the bottleneck. With a row per group of clusters it stays small however many clusters
there are, and all but a few groups still take one of their choices whole.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from shimopt.choose.priced.tables import Ints
from shimopt.proof.highs import LinearProgram

Floats = npt.NDArray[np.float64]

# a level held where the plan stands leaves floats no room: so much more may go into a mix, which is no plan anyway
_ROOM = 1e-7
# weights below are nothing but what floats leave
_NOTHING = 1e-7


@dataclass(frozen=True, slots=True)
class Mixed:
    """The best mix of the choices found: what no mix of them costs less than, the prices of the limits (none below 0),
    and what it mixes: by group, the numbers of its choices and their weights. Floats, so all of it is a proposal.
    """

    value: float
    prices: Floats
    taken: tuple[tuple[tuple[int, float], ...], ...]


class Master:
    """Columns are choices of one group each: what they take of every limit, and what they cost."""

    def __init__(self, groups: int, limits: Sequence[int]) -> None:
        self.groups = groups
        self.program = LinearProgram([*([1.0] * groups), *(limit + _ROOM for limit in limits)], equal=groups)
        self.of: list[tuple[int, int]] = []
        self.seen: set[tuple[int, ...]] = set()

    def add(self, number: int, takes: Ints, costs: Ints, groups: Sequence[int] | None = None) -> None:
        """Choice `number` of all groups, or of these: by group, what it takes of the limits, and its cost."""
        listed, prices = takes.tolist(), costs.tolist()
        for group in range(self.groups) if groups is None else groups:
            key = (group, prices[group], *listed[group])
            if key in self.seen:
                continue
            self.seen.add(key)
            terms = {self.groups + at: taken for at, taken in enumerate(listed[group]) if taken}
            self.program.add_column({group: 1, **terms}, prices[group])
            self.of.append((group, number))

    def mixed(self) -> Mixed | None:
        """The best mix of the columns; None where the solver has none to give."""
        found = self.program.least()
        if found is None:
            return None
        taken: list[list[tuple[int, float]]] = [[] for _ in range(self.groups)]
        for (group, number), weight in zip(self.of, found.values, strict=True):
            if weight > _NOTHING:
                taken[group].append((number, weight))
        if not all(taken):
            return None
        prices = np.maximum(0.0, -np.array(found.prices[self.groups :]))
        # without that room no mix of these columns costs less than this
        value = found.cost + _ROOM * float(prices.sum())
        return Mixed(value, prices, tuple(map(tuple, taken)))
