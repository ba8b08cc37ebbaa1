"""The best kit for some seasons as a whole-number model, and a bound that holds exactly.

Of each gap of each job of each season exactly one column is taken: not served, or one of its stacks. What the stacks of
a season take of a part is at most what the kit holds of it; all seasons share the kit. Whoever fits in this model knows
all jobs of a season before the first is done: nobody can serve more.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from shimopt.learning.kit_budget import Budget
from shimopt.learning.needs import Need, Pieces
from shimopt.learning.seasons import Kit, Season, fewest
from shimopt.proof.branch_and_bound import Closing, closed
from shimopt.proof.exact_bounds import Floats, Range, Sums, Wholes
from shimopt.proof.rows import Row
from shimopt.watch import Limit


@dataclass
class KitModel:
    """Seasons, and the best kit found for them so far; `lost` is its jobs not served, by weight.

    It is written to while a search reads one answer after another.
    """

    needs: Sequence[Need]
    seasons: Sequence[Season]
    budget: Budget
    best: Kit
    lost: int = field(init=False)
    task: Closing = field(init=False)

    def __post_init__(self) -> None:
        self.lost = self._lost(self.best)
        self.task = self._task()

    @property
    def jobs(self) -> int:
        """All jobs of all seasons, by weight."""
        return sum(season.weight * len(season.jobs) for season in self.seasons)

    def least_lost(self, limit: Limit) -> int:
        """What no kit loses less than, as far as the limit allows; better kits that come up on the way are kept."""
        return closed(self.task, self.lost, limit)

    def _lost(self, kit: Kit) -> int:
        return sum(season.weight * (len(season.jobs) - self._served(kit, season)) for season in self.seasons)

    def _served(self, kit: Kit, season: Season) -> int:
        # the hardest first: this is one way to use the kit, which the model's own can only be better than
        order = sorted(season.jobs, key=lambda job: sum(map(len, self.needs[job].gaps)))
        left, served = list(kit), 0
        for job in order:
            taken = fewest(self.needs[job].gaps, left)
            if taken is not None:
                served += 1
                for part in taken:
                    left[part] -= 1
        return served

    def _read(self, values: Floats) -> int:
        first, chosen = self.task.sums.columns, np.rint(values).astype(np.int64)
        kit = self.budget.filled(tuple(int(count) for count in chosen[first : first + len(self.best)]))
        if not self.budget.allows(kit):
            return self.lost
        lost = min(self._lost(kit), self._as_proposed(chosen))
        if lost < self.lost:
            self.best, self.lost = kit, lost
        return lost

    def _as_proposed(self, chosen: Wholes) -> int:
        """What the use of the kit that the model proposes loses, worked out again; no gain where it is none."""
        sums, rows = self.task.sums, np.zeros(len(self.task.sums.limits), np.int64)
        np.add.at(rows, sums.row_of, sums.factors * chosen[sums.at])
        taken = np.add.reduceat(chosen[: sums.columns], sums.starts) if sums.columns else chosen[:0]
        if (chosen < 0).any() or (taken != 1).any() or (rows > sums.limits).any():
            return self.lost
        return int(self.task.objective @ chosen)

    def _task(self) -> Closing:
        groups, taken, weights, shared = _columns(self.needs, self.seasons)
        columns, parts = sum(map(len, groups)), len(self.best)
        kit, packs = columns, columns + parts
        jobs_from = packs + (parts if self.budget.pieces is None else 0)
        objective: dict[int, int] = dict(weights)
        rows = [Row({**uses, kit + part: -1}, 0) for (_, part), uses in taken.items()]
        for at, (weight, unserved) in enumerate(shared):
            objective[jobs_from + at] = weight
            rows += [Row({column: 1, jobs_from + at: -1}, 0) for column in unserved]
        rows += self._budget_rows(kit, packs)
        variables = jobs_from + len(shared)
        sums = Sums(groups, variables, rows)
        high = np.ones(variables, np.int64)
        high[kit:packs] = self._most()
        if self.budget.pieces is None:
            prices = self.budget.coins[0]
            high[packs:jobs_from] = [
                0 if prices[part] is None else self.budget.packs(part, int(high[kit + part])) for part in range(parts)
            ]
        order = np.zeros(variables, np.int64)
        order[kit:jobs_from], order[:columns] = 1, 2
        within = Range(np.zeros(variables, np.int64), high)
        return Closing(sums, sums.terms(objective), 1, within, order, self._read)

    def _most(self) -> list[int]:
        """By part, the most that could be of use in one season, and be had."""
        parts = len(self.best)
        most = [0] * parts
        for season in self.seasons:
            uses = [0] * parts
            for job in season.jobs:
                for stacks in self.needs[job].gaps:
                    for part in range(parts):
                        uses[part] += max((stack.count(part) for stack in stacks), default=0)
            most = [max(pair) for pair in zip(most, uses, strict=True)]
        there = self.budget.on_hand
        most = [min(one, there[part]) if part in self.budget.not_sold else one for part, one in enumerate(most)]
        if self.budget.pieces is not None:
            return [min(one, self.budget.pieces) for one in most]
        prices = self.budget.coins[0]
        return [min(m, o) if price is None else m for m, o, price in zip(most, there, prices, strict=True)]

    def _budget_rows(self, kit: int, packs: int) -> list[Row]:
        parts = range(len(self.best))
        if self.budget.pieces is not None:
            return [Row({kit + part: 1 for part in parts}, self.budget.pieces)]
        prices, money = self.budget.coins
        rows = [
            Row({kit + part: 1, packs + part: -self.budget.pack[part]}, self.budget.on_hand[part]) for part in parts
        ]
        return [*rows, Row({packs + part: price for part, price in enumerate(prices) if price}, money)]


def _columns(
    needs: Sequence[Need], seasons: Sequence[Season]
) -> tuple[list[list[int]], dict[tuple[int, int], dict[int, int]], list[tuple[int, int]], list[tuple[int, list[int]]]]:
    """Groups of columns, what they take by season and part, what each costs, and of jobs of several gaps, for each its
    weight and the columns that say that one of its gaps is not served.
    """
    groups, weights, shared = list[list[int]](), list[tuple[int, int]](), list[tuple[int, list[int]]]()
    taken: defaultdict[tuple[int, int], dict[int, int]] = defaultdict(dict)
    column = 0
    for at, season in enumerate(seasons):
        for job in season.jobs:
            unserved = []
            for stacks in needs[job].gaps:
                unserved.append(column)
                groups.append(list(range(column, column + 1 + len(stacks))))
                for number, stack in enumerate(stacks, start=column + 1):
                    for part, count in _counts(stack):
                        taken[at, part][number] = count
                column += 1 + len(stacks)
            if len(unserved) == 1:
                weights.append((unserved[0], season.weight))
            elif unserved:
                shared.append((season.weight, unserved))
    return groups, taken, weights, shared


def _counts(stack: Pieces) -> list[tuple[int, int]]:
    return [(part, stack.count(part)) for part in dict.fromkeys(stack)]
