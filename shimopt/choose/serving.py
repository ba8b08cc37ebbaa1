"""Gaps that want sets of pieces, as a whole-number model: how few of those asked about must be left unserved."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from shimopt.choose.branching import Halving
from shimopt.proof.branch_and_bound import closed
from shimopt.proof.exact_bounds import Floats, Range, Sums, Wholes
from shimopt.proof.highs import Relaxation
from shimopt.proof.rows import Row

_MOST_NODES = 300


class Served(NamedTuple):
    """Whether all can be served (None: not settled).

    `given` holds each gap with the number of its set, `clash` gaps that cannot all be.
    """

    enough: bool | None
    given: tuple[tuple[int, int], ...] = ()
    clash: tuple[int, ...] = ()


class _Nodes:
    def __init__(self, most: int) -> None:
        self.left = most

    def over(self) -> bool:
        self.left -= 1
        return self.left < 0


class Serving:
    """A group of columns for each gap: to be left unserved, which costs one, and a column for each of its sets."""

    def __init__(self, sets: Sequence[Sequence[Sequence[tuple[int, int]]]], there: Mapping[int, int]) -> None:
        groups, uses = list[range](), dict[int, dict[int, int]]()
        first = 0
        for choices in sets:
            groups.append(range(first, first + 1 + len(choices)))
            for column, needs in enumerate(choices, start=first + 1):
                for i, n in needs:
                    uses.setdefault(i, {})[column] = n
            first = groups[-1].stop
        self.groups = groups
        self.sums = Sums(groups, first, [Row(terms, there[i]) for i, terms in sorted(uses.items())])
        self.unserved = np.array([group.start for group in groups])
        self.cost = np.zeros(first, np.int64)
        self.cost[self.unserved] = 1
        self.relaxation = Relaxation(self.sums, self.cost, Range(np.zeros(first, np.int64), np.ones(first, np.int64)))

    def for_all(self, gaps: Sequence[int]) -> Served:
        """Whether all of these gaps can be served out of what there is."""
        high = np.zeros(len(self.cost), np.int64)
        high[self.unserved] = 1
        for at in gaps:
            high[self.groups[at]] = 1
        within, others = Range(np.zeros_like(high), high), len(self.groups) - len(gaps)
        task = Halving(self.sums, self.cost, 1, within, np.ones_like(high), self._read, worked_out=self._worked_out)
        self.found: list[int] | None = None
        self.fewest = others + 1
        relaxed = self.relaxation.solved(within)
        if relaxed is not None and (clash := too_dear(self.sums, relaxed.prices, high, gaps)):
            return Served(False, clash=clash)
        bound = closed(task, self.fewest, _Nodes(_MOST_NODES), self.relaxation)
        if self.found is not None:
            chosen = self.found
            return Served(True, tuple((at, chosen[at] - self.groups[at].start - 1) for at in gaps))
        return Served(False, clash=tuple(gaps)) if bound > others else Served(None)

    def _read(self, values: Floats) -> int | None:
        return self._worked_out(
            [group.start + int(np.argmax(values[group.start : group.stop])) for group in self.groups]
        )

    def _worked_out(self, chosen: Sequence[int]) -> int | None:
        """How many are left unserved by a choice; None where it takes more than there is."""
        value = int(self.cost[list(chosen)].sum())
        if value >= self.fewest:
            return value
        taken = np.zeros(len(self.sums.limits), np.int64)
        mine = np.isin(self.sums.at, chosen)
        np.add.at(taken, self.sums.row_of[mine], self.sums.factors[mine])
        if (taken > self.sums.limits).any():
            return None
        self.found, self.fewest = list(chosen), value
        return value


def too_dear(sums: Sums, prices: Wholes, high: Wholes, gaps: Sequence[int]) -> tuple[int, ...]:
    """Gaps whose cheapest sets cost more than everything there is, the dearest first; empty where none do.

    Parameters: prices of the rows, none above zero: what a piece of each line costs, turned round; high, the columns
    that may be taken, the first of each group being to leave it unserved.
    """
    costs = sums.priced(np.zeros(sums.variables, np.int64), prices)
    all_there = -sum(p * n for p, n in zip(prices.tolist(), sums.limits.tolist(), strict=True))
    least, ends = {}, [*sums.starts[1:].tolist(), sums.columns]
    for at in gaps:
        here = np.arange(int(sums.starts[at]) + 1, ends[at])
        least[at] = int(costs[here[high[here] > 0]].min())
    total, clash = 0, []
    for at in sorted(gaps, key=lambda at: (-least[at], at)):
        clash.append(at)
        total += least[at]
        if total > all_there:
            return tuple(clash)
    return ()
