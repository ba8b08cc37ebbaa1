"""Every combination of the options that are left, worked out one by one in whole numbers: small jobs need no solver.

What is looked at here is decided whatever its numbers are. Combinations are built up place by place
(`place_by_place`), so that what cannot be as good goes early; then each level keeps those that are best at it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from math import prod

import numpy as np
import numpy.typing as npt

from shimopt.arithmetic.outcome import cheapest_packs
from shimopt.choose.beginnings import Limits
from shimopt.choose.combinations import OF_ALL, Block, Combined, wholes
from shimopt.choose.equal_packs import keeping_ties
from shimopt.choose.place_by_place import kept_combinations
from shimopt.choose.whole_model import Model
from shimopt.proof.exact_bounds import Wholes

# so many combinations are worked out, where places are few
_MOST = 1_000_000
_PLACES = 6


def can_be_tried(alive: Sequence[Sequence[int]]) -> bool:
    """Whether the combinations of these options are few enough to look at each."""
    open_places = sum(len(group) > 1 for group in alive)
    return prod(map(len, alive)) * max(1, open_places) <= _MOST * _PLACES


class Trial:
    """The combinations of a model's options that keep its rules, less those that surely break a limit.

    `columns` holds a row for each, with one of the model's columns for every group. Raises TooManyLeftError where there
    are more than `most`.
    """

    def __init__(self, model: Model, blocks: Sequence[Block], limits: Limits, most: int | None = None) -> None:
        self.model = model
        self.columns = kept_combinations(model, blocks, limits, most).columns
        self.columns = self.columns[keeping_ties(model, range(len(model.groups)), self.columns)]

    def keep(self, which: npt.NDArray[np.bool_]) -> None:
        """Only these from now on."""
        self.columns = self.columns[which]

    def keep_within(self, limits: Mapping[str, int]) -> None:
        """Only those that come to no more than so much at these levels: every clearance is worked out once."""
        of_all, here = [level for level in limits if level in OF_ALL], np.ones(len(self.columns), bool)
        for level, values in self._own([level for level in limits if level not in OF_ALL]).items():
            here &= (values <= limits[level]).astype(bool)
        self.keep(here)
        for level in of_all:
            self.keep(self._purchases(level) <= limits[level])

    def values(self, level: str) -> Wholes:
        """A level's value of each combination."""
        return self._purchases(level) if level in OF_ALL else self._own([level])[level]

    def _own(self, levels: Sequence[str]) -> dict[str, Wholes]:
        return Combined(self.model, range(len(self.model.groups)), self.columns).all_values(levels)

    def _purchases(self, level: str) -> Wholes:
        model, total = self.model, np.zeros(len(self.columns), np.int64)
        uses: Counter[int] = Counter()
        for option in model.columns:
            uses |= Counter(option.stack)
        for i, most in uses.items():
            there = model.job.there[i]
            if most * len(model.groups) <= there:
                continue
            used = np.array([option.stack.count(i) for option in model.columns], np.int64)[self.columns].sum(axis=1)
            pieces = np.maximum(used - there, 0)
            if level == "bought":
                total = total + pieces
                continue
            packs = [cheapest_packs(model.job.stock[i].offers, n) for n in range(int(pieces.max(initial=0)) + 1)]
            worth = [int(p * model.price_unit) if level == "cost" else n for p, n in packs]
            total = total + wholes(worth)[pieces]
        return total
