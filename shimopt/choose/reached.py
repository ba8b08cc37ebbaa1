"""The combinations of clusters that a plan can hold which comes to no more of a level than the one in hand.

To list all of them would be most of the work: nearly all leave far more gaps outside than their cluster must, or take
more pieces. Of each cluster those are listed first that come to the least. Prices of what clusters share, from a
relaxation of these, make a bound of all plans once the least priced cost of every cluster's combinations is known,
listed or not (duality, `proof/proven.py`). What costs more than the bound leaves room for is in no plan as good, and is
never listed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from shimopt.choose.beginnings import Limits, Priced
from shimopt.choose.combinations import Block, Combined
from shimopt.choose.equal_packs import blocks_of
from shimopt.choose.place_by_place import kept_combinations, scarce_lines
from shimopt.choose.tied_places import Joint
from shimopt.choose.whole_model import Model
from shimopt.proof.exact_bounds import NO_END, Range, Sums, Wholes
from shimopt.proof.highs import Relaxation
from shimopt.proof.layers import TooManyLeftError, first_of_alike

# levels by which it is told: whole numbers so small that a cluster comes to few different ones
LEVELS = ("outside", "pieces")
# so many combinations are listed of a cluster; so often prices are found anew, with so many that were cheaper
_MOST, _ROUNDS, _CHEAPER = 300_000, 4, 200


class _Prices(NamedTuple):
    """What each of the model's columns costs by what it takes, and what the limits of all that is shared take off
    [parts of a unit of the level]; how many parts there are.
    """

    cost: Wholes
    beside: int
    parts: int


def reached(
    model: Model,
    clusters: Sequence[Sequence[int]],
    alive: Sequence[Sequence[int]],
    limits: Mapping[str, int],
    chosen: Sequence[int],
    known: Sequence[Block] | None = None,
) -> list[Block] | None:
    """By cluster, all combinations that a plan within limits can hold, perhaps with others; prices are of the last one.

    Ties among packs are left aside. None where there are no prices. Raises TooManyLeftError.

    Parameters: chosen, such a plan; known, what `fewest` found with these limits, where it was asked.
    """
    of = [_Cluster(model, here, [alive[at] for at in here], limits) for here in clusters]
    level, most = [*limits.items()][-1]
    known = [one.and_own(one.fewest(), chosen) for one in of] if known is None else [*known]
    turn = 0
    while True:
        prices = _prices(model, known, level, [one.values(block) for one, block in zip(of, known, strict=True)])
        if prices is None:
            return None
        least = [one.least(block, prices) for one, block in zip(of, known, strict=True)]
        found = _all_within(of, least, most, prices)
        # nothing is cheaper than what is listed now
        now = [min(low, one.least(block, prices)) for one, block, low in zip(of, found, least, strict=True)]
        if now == least:
            return found
        turn += 1
        if turn == _ROUNDS:
            return _all_within(of, now, most, prices)
        for at, one in enumerate(of):
            known[at] = one.and_cheaper(known[at], found[at], prices, least[at])


def fewest(
    model: Model,
    clusters: Sequence[Sequence[int]],
    alive: Sequence[Sequence[int]],
    limits: Mapping[str, int],
    chosen: Sequence[int],
) -> tuple[int, list[Block]]:
    """What the last level comes to at least, and by cluster the combinations that come to the least, with the plan's.

    A plan that comes to that holds no others. Raises TooManyLeftError, also where a cluster comes to more than it may.
    """
    least, found = 0, list[Block]()
    for here in clusters:
        one = _Cluster(model, here, [alive[at] for at in here], limits)
        block = one.fewest()
        if not len(block.columns):
            raise TooManyLeftError
        least += int(one.values(block).min())
        found.append(one.and_own(block, chosen))
    return least, found


def _all_within(of: Sequence[_Cluster], least: Sequence[int], most: int, prices: _Prices) -> list[Block]:
    """By cluster, whose cheapest combination costs so little, all that cost no more than the bound leaves room for.

    The plan in hand is among what is known, so that there is room for it at least.
    """
    room = most * prices.parts - prices.beside - sum(least)
    if room < 0:
        raise TooManyLeftError
    return [one.within(low + room, prices) for one, low in zip(of, least, strict=True)]


def _prices(model: Model, known: Sequence[Block], level: str, values: Sequence[Wholes]) -> _Prices | None:
    """Prices at which a mix of these combinations comes to the least of a level."""
    # of combinations that take the same pieces and come to the same, a mix needs one
    everywhere = [np.unique(column).tolist() for block in known for column in block.columns.T]
    lines = [i for i, most in model.most_taken(everywhere) if most > min(model.supply[i], model.job.there[i])]
    first = [first_of_alike(block.uses(model, lines), of[:, None]) for block, of in zip(known, values, strict=True)]
    known = [Block(block.groups, block.columns[at]) for block, at in zip(known, first, strict=True)]
    joint = Joint(model, known, {level: [of[at] for of, at in zip(values, first, strict=True)]})
    high = np.array([1] * joint.first + [helper.high for helper in joint.helpers], np.int64)
    low = np.array([0] * joint.first + [helper.low for helper in joint.helpers], np.int64)
    sums = Sums(joint.groups, len(high), joint.rows)
    within = Range(low, high)
    sums.parts = sums.parts_needed()
    terms = sums.terms(joint.levels[level])
    relaxed = Relaxation(sums, terms, within).solved(within)
    if relaxed is None or relaxed.values is None:
        return None
    prices = relaxed.prices
    shared = [(price, row.terms) for price, row in zip(prices.tolist(), model.rows, strict=False) if price]
    # whole numbers of any size where what some columns cost together could leave 64 bits
    largest = sum(abs(price) * max(map(abs, takes.values()), default=0) for price, takes in shared)
    small = largest * len(model.groups) < NO_END
    cost = np.zeros(len(model.columns), np.int64 if small else object)
    for price, takes in shared:
        at = [c for c in takes if c < len(cost)]
        cost[at] -= price * np.array([takes[c] for c in at], cost.dtype)
    return _Prices(cost, sums.beside(sums.priced(terms, prices), prices, within), sums.parts)


class _Cluster:
    def __init__(
        self, model: Model, groups: Sequence[int], alive: Sequence[Sequence[int]], limits: Mapping[str, int]
    ) -> None:
        self.model, self.groups, self.limits = model, groups, limits
        self.level, self.most = [*limits.items()][-1]
        self.blocks = blocks_of(model, alive, groups)
        self.lines = scarce_lines(model, self.blocks)

    def _listed(self, most: int, priced: Sequence[Priced] = ()) -> Block:
        limits = Limits({**self.limits, self.level: most}, priced)
        return kept_combinations(self.model, self.blocks, limits, _MOST, self.lines)

    def fewest(self) -> Block:
        """The combinations that come to the least of the level; none where all come to more than may be."""
        first = min(sum(map(self._least_of, self.blocks)), self.most)
        found = self._listed(first)
        for most in range(first + 1, self.most + 1):
            if len(found.columns):
                break
            found = self._listed(most)
        return found

    def _least_of(self, block: Block) -> int:
        """What a block's own options come to at least where they alone keep to all limits."""
        of = Combined(self.model, block.groups, block.columns).all_values([*self.limits])
        keeps = np.logical_and.reduce([of[level] <= most for level, most in self.limits.items()])
        return int(of[self.level][keeps].min(initial=self.most))

    def and_own(self, block: Block, chosen: Sequence[int]) -> Block:
        """These combinations, and what a plan holds here."""
        return Block(block.groups, np.unique([*block.columns, [chosen[at] for at in block.groups]], axis=0))

    def and_cheaper(self, known: Block, found: Block, prices: _Prices, least: int) -> Block:
        """These combinations, and the cheapest of those found that cost less."""
        costs = self.costs(found, prices)
        cheap = np.argsort(costs, kind="stable")[: min(_CHEAPER, int((costs < least).sum()))]
        return Block(known.groups, np.concatenate([known.columns, found.columns[cheap]]))

    def within(self, cost: int, prices: _Prices) -> Block:
        """All that cost no more than this, of those that come to no more than may be."""
        most = max(0, min(self.most, cost // prices.parts))
        return self._listed(most, [Priced(prices.cost, cost, {self.level: prices.parts})])

    def values(self, block: Block) -> Wholes:
        """What each combination comes to."""
        return Combined(self.model, block.groups, block.columns).all_values([self.level])[self.level]

    def costs(self, block: Block, prices: _Prices) -> Wholes:
        """What each combination costs."""
        return np.asarray(self.values(block) * prices.parts + prices.cost[block.columns].sum(axis=1))

    def least(self, block: Block, prices: _Prices) -> int:
        """What the cheapest of them costs; what none costs where there are none."""
        return int(self.costs(block, prices).min(initial=1 << 61))
