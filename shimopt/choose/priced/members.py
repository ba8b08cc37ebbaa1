"""What the gaps of balances can come to: for every sort of member its own few values, each with the options to it.

A member is a kind of place with the offset that its gap has in a balance. All that balances need is what each member's
values cost; a grid of all members by all values would be next to empty.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from shimopt.choose.priced.fleet import Fleet
from shimopt.choose.priced.tables import Ints

# costs more than anything that can be chosen
FAR = 1 << 52


@dataclass(frozen=True, slots=True)
class Members:
    """Cells, one for each member and each value it can come to inside, in this order.

    `of` is the member at each place, -1 where no balance ties it; by member, `first` is its first cell, with the end,
    and `out` the option that leaves the gap outside, -1 where there is none; by cell, `value` [ticks, from the least of
    all], `options` its options one cell after another from `start` on.
    """

    of: Ints
    first: Ints
    out: Ints
    value: Ints
    options: Ints
    start: Ints
    lowest: int

    @property
    def widest(self) -> int:
        """How far two values can be apart [ticks]."""
        return int(self.value.max(initial=0))

    @property
    def most(self) -> int:
        """The most cells of any member."""
        return int(np.diff(self.first).max(initial=0))

    def cell(self, member: Ints, value: Ints, side: str = "left") -> Ints:
        """The first cell of each member from a value on (side "left") or beyond it ("right"), or its end."""
        reach = self.widest + 1
        sort = np.repeat(np.arange(len(self.out)), np.diff(self.first))
        keys = sort * reach + self.value
        asked = member * reach + np.clip(value, 0 if side == "left" else -1, reach - (side == "right"))
        found = np.searchsorted(keys, asked, "right" if side == "right" else "left")
        return np.asarray(np.clip(found, self.first[member], self.first[member + 1]), dtype=np.int64)

    def costs(self, cost: Ints) -> Costs:
        """What every cell and staying outside cost, where options cost so much each."""
        if len(self.value):
            in_order = cost[self.options]
            cell = np.minimum.reduceat(in_order, self.start)
            hit = np.flatnonzero(in_order == np.repeat(cell, np.diff(self.start, append=len(in_order))))
            # of options that cost the same the first
            pick = self.options[hit[np.unique(np.searchsorted(self.start, hit, "right"), return_index=True)[1]]]
        else:
            cell = pick = np.zeros(0, dtype=np.int64)
        wide = self.padded(cell, FAR)
        inside = wide.min(axis=1, initial=FAR)
        return Costs(cell, pick, np.where(self.out >= 0, cost[self.out], FAR), inside, wide)

    def numbers(self, many: int) -> Ints:
        """By option, of so many in all, the number of its cell among its member's; outside comes after all of them."""
        found = np.full(many, self.most)
        cells = np.arange(len(self.value)) - np.repeat(self.first[:-1], np.diff(self.first))
        found[self.options] = np.repeat(cells, np.diff(self.start, append=len(self.options)))
        return found

    def padded(self, by_cell: Ints, other: int) -> Ints:
        """A row for each member, of its cells, filled up with another number."""
        counts = np.diff(self.first)
        wide = np.full((len(counts), max(1, self.most)), other, dtype=np.int64)
        wide[np.arange(wide.shape[1]) < counts[:, None]] = by_cell
        return wide


@dataclass(frozen=True, slots=True)
class Costs:
    """By cell, the least `cell` cost and the option `pick` that has it; by member, what it costs `outside` at least,
    and `inside`; `wide` has a row of cells for each member, FAR where there are no more.
    """

    cell: Ints
    pick: Ints
    outside: Ints
    inside: Ints
    wide: Ints


def members_of(fleet: Fleet, clusters: npt.NDArray[np.bool_]) -> Members:
    """The members of all balances of some clusters of a fleet."""
    tables, sizes = fleet.tables, np.diff(fleet.start)
    at = np.flatnonzero(np.repeat(clusters, sizes))
    sorts, inverse = np.unique(np.stack([fleet.kind[at], fleet.offset[at]], axis=1), axis=0, return_inverse=True)
    of = np.full(len(fleet.kind), -1)
    of[at] = inverse.ravel()
    kind, offset = sorts[:, 0], sorts[:, 1]
    counts = tables.first[kind + 1] - tables.first[kind]
    member = np.repeat(np.arange(len(kind)), counts)
    ends = np.cumsum(counts)
    option = np.arange(len(member)) - np.repeat(ends - counts - tables.first[kind], counts)
    even = tables.best[option] - offset[member]
    outside = tables.outside[option]
    out = np.full(len(kind), -1)
    out[member[outside]] = option[outside]
    option, member, even = option[~outside], member[~outside], even[~outside]
    order = np.lexsort((option, even, member))
    option, member, even = option[order], member[order], even[order]
    new = np.ones(len(option), dtype=bool)
    new[1:] = (np.diff(member) != 0) | (np.diff(even) != 0)
    start = np.flatnonzero(new)
    first = np.searchsorted(member[start], np.arange(len(kind) + 1))
    lowest = int(even.min()) if len(even) else 0
    return Members(of, first, out, even[start] - lowest, option, start, lowest)
