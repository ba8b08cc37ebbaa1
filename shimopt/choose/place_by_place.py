"""All combinations of some places that keep to limits, built up place after place in whole numbers.

What the places still to come can add to each gap at least and at most is known: a beginning that must come to more at
a level than it may, whatever comes, or for which there are no pieces, goes at once. No relaxation is asked, and nothing
that keeps to the limits is left out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from shimopt.choose.combinations import Block, Combined
from shimopt.choose.coupling import Linked
from shimopt.choose.whole_model import Model
from shimopt.proof.layers import TooManyLeftError
from shimopt.proof.sums import Wholes

__all__ = ["kept_combinations"]

# so many beginnings are looked at together; in all so many for each that may be kept
_AT_ONCE, _LOOKS = 400_000, 100
# what gaps add to these levels is known from the ends between which their clearances lie
_OF_GAPS = ("outside", "miss", "target", "unproven", "doubt")
# sums of whole numbers of 64 bits stay right below this
_LARGEST = float(1 << 61)


def kept_combinations(
    model: Model, blocks: Sequence[Block], limits: Mapping[str, int], most: int | None = None
) -> Block:
    """The combinations of a row of each block for which there are pieces, less those that surely break a limit.

    Parameters: limits, what all of them together may come to at some levels; those of balances and of purchases rule
    nothing out. most, how many may be kept; TooManyLeftError is raised beyond that.
    """
    here = {group for block in blocks for group in block.groups}
    gaps = [gap for gap in model.linked.values() if here.issuperset(gap.groups)]
    blocks = _in_order(blocks, gaps)
    amounts = _Amounts(model, blocks, gaps, limits)
    rows, taken = amounts.narrowed()
    built, sums, looks = np.zeros((1, 0), np.int64), amounts.begun, 0
    for at, block in enumerate(blocks):
        looks += sums.shape[1] * len(rows[at])
        if most is not None and looks > _LOOKS * most:
            raise TooManyLeftError
        old, new = amounts.beginnings(sums, taken[at], taken[at + 1 :])
        if most is not None and len(old) > most:
            raise TooManyLeftError
        built = np.column_stack([built[old], block.columns[rows[at][new]]])
        sums = sums[:, old] + taken[at][:, new]
    groups = [group for block in blocks for group in block.groups]
    return Block(tuple(sorted(groups)), built[:, np.argsort(groups)])


class _Amounts:
    """What beginnings are judged by: pieces of scarce lines, what options add to levels by themselves, and clearances.

    All of these are sums over blocks, a row for each in this order; of clearances those ends that are looked at.
    `begun` is what they are before anything is chosen, `taken` by block what each of its rows adds.
    """

    def __init__(
        self, model: Model, blocks: Sequence[Block], gaps: Sequence[Linked], limits: Mapping[str, int]
    ) -> None:
        lines = _scarce(model, blocks)
        levels = {level: limit for level, limit in limits.items() if model.levels.get(level)}
        # while none may be outside, every gap whose bracket stands out adds to these two; else it may be set aside
        if levels.get("outside", 1) > 0:
            levels = {level: limit for level, limit in levels.items() if level not in ("unproven", "doubt")}
        self.levels, self.gaps = list(levels), gaps
        self.ends = (1, 0, 2) if {"unproven", "doubt"} & levels.keys() else (1,) if levels.keys() & _OF_GAPS else ()
        self.limits = [*(min(model.supply[i], 1 << 40) for i in lines), *levels.values()]
        reads = [gap.judge.read[end] for gap in gaps for end in self.ends]
        taken = [self._of_block(model, block, lines) for block in blocks]
        begun = np.array([0] * len(self.limits) + reads, object)[:, None]
        size = sum((np.abs(of).max(axis=1, initial=0) for of in taken), np.abs(begun[:, 0])).max(initial=0)
        kind = np.int64 if float(size) * max(1, len(gaps)) < _LARGEST else object
        self.begun, self.taken = begun.astype(kind), [of.astype(kind) for of in taken]

    def _of_block(self, model: Model, block: Block, lines: Sequence[int]) -> Wholes:
        own = Combined(model, block.groups, block.columns)
        rows = [*block.uses(model, lines).T, *(own.of_options(level) for level in self.levels)]
        rows += [own.moved(gap, end) for gap in self.gaps for end in self.ends]
        return np.array([row.astype(object) for row in rows], object).reshape(len(rows), len(block.columns))

    def narrowed(self) -> tuple[list[Wholes], list[Wholes]]:
        """By block, the rows that some combination may hold, and what they add."""
        rows, taken = [np.arange(of.shape[1]) for of in self.taken], list(self.taken)
        before = -1
        while before != (before := sum(map(len, rows))):
            for at in range(len(rows)):
                _, kept = self.beginnings(self.begun, taken[at], [*taken[:at], *taken[at + 1 :]])
                rows[at], taken[at] = rows[at][kept], taken[at][:, kept]
        return rows, taken

    def beginnings(self, sums: Wholes, mine: Wholes, to_come: Sequence[Wholes]) -> tuple[Wholes, Wholes]:
        """Of beginnings with each row of the next block, those that may keep to all limits: their numbers."""
        if any(not of.shape[1] for of in to_come):
            return np.zeros(0, np.int64), np.zeros(0, np.int64)
        least, most = (
            sum((find(of, axis=1) for of in to_come), np.zeros_like(self.begun[:, 0])) for find in (np.min, np.max)
        )
        step, found = max(1, _AT_ONCE // max(1, mine.shape[1])), []
        for first in range(0, max(1, sums.shape[1]), step):
            old, new = np.nonzero(self._there(sums[:, first : first + step], mine, least, most))
            found.append((old + first, new))
        old, new = (np.concatenate(of) for of in zip(*found, strict=True))
        return old, new

    def _there(self, sums: Wholes, mine: Wholes, least: Wholes, most: Wholes) -> npt.NDArray[np.bool_]:
        there = np.ones((sums.shape[1], mine.shape[1]), bool)
        first, totals = len(self.limits) - len(self.levels), dict[str, Wholes]()
        for at, limit in enumerate(self.limits):
            if at < first:
                there &= _at_most(sums[at], mine[at], limit - least[at])
            else:
                totals[self.levels[at - first]] = sums[at][:, None] + (mine[at] + least[at])
        at = len(self.limits)
        for gap in self.gaps:
            ends = {}
            for end in self.ends:
                now = sums[at][:, None] + mine[at]
                ends[end] = (now + least[at], now + most[at])
                at += 1
            if ends:
                _add_shares(totals, gap, ends)
        for level, limit in zip(self.levels, self.limits[first:], strict=True):
            there &= (totals[level] <= limit).astype(bool)
        return there


def _at_most(sums: Wholes, mine: Wholes, limit: int) -> npt.NDArray[np.bool_]:
    return np.asarray(mine <= (limit - sums)[:, None], bool)


def _add_shares(totals: Mapping[str, Wholes], gap: Linked, ends: Mapping[int, tuple[Wholes, Wholes]]) -> None:
    """Add to each level what a gap comes to at least, given the least and the most of its clearance's ends."""
    judge, (least, most) = gap.judge, ends[1]
    miss = _outside(least, most, judge.min, judge.max)
    found = {"outside": miss > 0, "miss": miss, "target": _outside(least, most, judge.target, judge.target)}
    if 0 in ends:
        # it is not outside
        found["doubt"] = _outside(ends[2][0], ends[0][1], judge.min, judge.max)
        found["unproven"] = found["doubt"] > 0
    for level, total in totals.items():
        if level in found:
            total += found[level]


def _outside(least: Wholes, most: Wholes, low: int | None, high: int | None) -> Wholes:
    """By how much what lies from least to most is surely below a lower limit, and above an upper one."""
    nothing = np.zeros_like(least)
    below = nothing if low is None else np.maximum(low - most, 0)
    return below if high is None else below + np.maximum(least - high, 0)


def _scarce(model: Model, blocks: Sequence[Block]) -> list[int]:
    """The stock lines that can run out."""
    most: Counter[int] = Counter()
    for block in blocks:
        for columns in block.columns.T:
            here: Counter[int] = Counter()
            for c in np.unique(columns).tolist():
                here |= Counter(model.columns[c].stack)
            most.update(here)
    return sorted(i for i, count in most.items() if count > model.supply[i])


def _in_order(blocks: Sequence[Block], gaps: Sequence[Linked]) -> list[Block]:
    """Blocks so that gaps are soon settled: next always one of the smallest of those that settle most of them."""
    found, left, settled = list[Block](), list(blocks), set[int]()
    while left:
        open_gaps = [gap for gap in gaps if not settled.issuperset(gap.groups)]

        def merit(block: Block) -> tuple[float, int]:
            now = settled.union(block.groups)
            begun = sum(len(now.intersection(gap.groups)) / len(gap.groups) for gap in open_gaps)
            return -begun, len(block.columns)

        found.append(min(left, key=merit))
        left = [block for block in left if block is not found[-1]]
        settled.update(found[-1].groups)
    return found
