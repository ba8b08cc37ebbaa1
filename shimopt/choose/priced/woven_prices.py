"""Clusters of gaps that several balances tie: the least cost of all their values together, one gap after the other.

A gap is inside at one of its few values, or outside, which sets its balances aside. To settle a gap is to keep, for all
values of those that a balance ties to it, the least that it can cost together with these balances: what is left has a
gap less, and the tables stay small where balances form chains or trees. Clusters tied alike are looked at together.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce

import numpy as np

from shimopt.choose.priced.members import FAR, Costs, Members
from shimopt.choose.priced.priced_balances import apart
from shimopt.choose.priced.tables import Ints
from shimopt.choose.priced.woven import Woven

# the tables of all clusters that are looked at together may have so many numbers
_AT_ONCE = 4_000_000

# gaps by number, and a number for each cluster and all of their values
_Factor = tuple[tuple[int, ...], Ints]


class WovenPrices:
    """The least costs of woven clusters; their members are kinds of place, told by their values."""

    def __init__(self, woven: Woven, members: Members) -> None:
        self.woven, self.members = woven, members
        self.who = members.of[woven.at]
        # of clusters alike in all that costs depend on one is looked at
        alike = np.concatenate([self.who, *woven.offset, woven.within], axis=1)
        _, self.one, inverse = np.unique(alike, axis=0, return_index=True, return_inverse=True)
        self.of = inverse.ravel()
        together = max(1, _AT_ONCE // (members.most + 1) ** woven.shape.width)
        self.parts = np.array_split(self.one, -(-len(self.one) // together))
        self.values = members.padded(members.value, 0)

    def cheapest(self, costs: Costs, slope: int, bend: int) -> tuple[Ints, Ints]:
        """By cluster, the least cost of its gaps, and the option of each place."""
        found = [self._cheapest(some, costs, slope, bend) for some in self.parts]
        total, state = (np.concatenate(of)[self.of] for of in zip(*found, strict=True))
        many = self.members.most
        cell = np.minimum(self.members.first[self.who] + state, max(0, len(costs.pick) - 1))
        inside = costs.pick[cell] if len(costs.pick) else self.members.out[self.who]
        return total, np.where(state == many, self.members.out[self.who], inside)

    def beside(self, costs: Costs, slope: int, bend: int) -> Ints:
        """By cluster, gap and value of it (outside last), what all others and the balances cost at least."""
        found = [self._beside(some, costs, slope, bend) for some in self.parts]
        return np.concatenate(found)[self.of]

    def _factors(self, some: Ints, costs: Costs, slope: int, bend: int) -> list[_Factor]:
        woven, who = self.woven, self.who[some]
        own = np.concatenate([costs.wide[who], costs.outside[who][:, :, None]], axis=2)
        factors: list[_Factor] = [((gap,), own[:, gap]) for gap in range(own.shape[1])]
        if not slope and not bend:
            return factors
        values = np.pad(self.values[who], ((0, 0), (0, 0), (0, 1)))
        for number, scope in enumerate(woven.shape.scopes):
            even = [values[:, gap] - woven.offset[number][some, k, None] for k, gap in enumerate(scope)]
            axes = [_spread(of, (at,), range(len(scope))) for at, of in enumerate(even)]
            far = reduce(np.maximum, axes) - reduce(np.minimum, axes)
            within = woven.within[some, number].reshape(-1, *(1,) * len(scope))
            cost = apart(far, within, slope, bend)
            for at in range(len(scope)):
                # the last is outside, and sets the balance aside
                np.moveaxis(cost, at + 1, 0)[-1] = 0
            factors.append((scope, cost))
        return factors

    def _cheapest(self, some: Ints, costs: Costs, slope: int, bend: int) -> tuple[Ints, Ints]:
        factors, steps = self._factors(some, costs, slope, bend), list[tuple[int, tuple[int, ...], Ints]]()
        for gap in self.woven.shape.order:
            scope, table, factors = _gathered(factors, gap)
            steps.append((gap, scope, table.argmin(axis=1)))
            factors.append((scope, table.min(axis=1)))
        state, every = np.zeros((len(some), self.woven.shape.gaps), dtype=np.int64), np.arange(len(some))
        for gap, scope, least in reversed(steps):
            state[:, gap] = least[(every, *(state[:, other] for other in scope))]
        return sum((table for _, table in factors), np.zeros(len(some), dtype=np.int64)), state

    def _beside(self, some: Ints, costs: Costs, slope: int, bend: int) -> Ints:
        whole, found = self._factors(some, costs, slope, bend), list[Ints]()
        for gap in range(self.woven.shape.gaps):
            # what this one costs by itself is left aside
            factors = [factor for factor in whole if factor[0] != (gap,)]
            for other in self.woven.shape.order:
                if other != gap:
                    scope, table, factors = _gathered(factors, other)
                    factors.append((scope, table.min(axis=1)))
            begun = np.zeros((len(some), self.members.most + 1), dtype=np.int64)
            found.append(sum((_spread(table, scope, (gap,)) for scope, table in factors), begun))
        return np.minimum(np.stack(found, axis=1), FAR)


def _gathered(factors: Sequence[_Factor], gap: int) -> tuple[tuple[int, ...], Ints, list[_Factor]]:
    """All that knows of a gap as one table, its values first; the other gaps in it, and the factors that are left."""
    mine = [factor for factor in factors if gap in factor[0]]
    others = tuple(sorted({other for scope, _ in mine for other in scope} - {gap}))
    table = reduce(np.add, (_spread(of, scope, (gap, *others)) for scope, of in mine))
    return others, np.asarray(table), [factor for factor in factors if gap not in factor[0]]


def _spread(table: Ints, scope: Sequence[int], over: Sequence[int]) -> Ints:
    """A table over some gaps as one over more of them, after the axis of clusters."""
    ordered = sorted(range(len(scope)), key=lambda at: over.index(scope[at]))
    table = table.transpose(0, *(at + 1 for at in ordered))
    sizes = iter(table.shape[1:])
    return table.reshape(len(table), *(next(sizes) if gap in scope else 1 for gap in over))
