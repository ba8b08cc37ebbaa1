"""Beginnings of combinations: what they have taken and moved so far, and whether they may still keep to all limits.

A beginning is judged by pieces of scarce lines, priced costs, what its options add to levels by themselves, and
clearances. All of these are sums over the places chosen so far, in whole numbers. What all gaps surely miss falls and
then rises as one place gets thicker: of its stacks from thin to thick, those that may keep to a limit stand side by
side, and the others need not be looked at one by one.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from types import MappingProxyType
from typing import Any, NamedTuple, Self

import numpy as np
import numpy.typing as npt

from shimopt.candidates import Judge
from shimopt.proof.exact_bounds import Wholes
from shimopt.proof.layers import TooManyLeftError

# so many are looked at together; in all so many for each that may be kept
_AT_ONCE, _LOOKS = 400_000, 60
# and in all, each counted once for every gap that is open
_MOST_LOOKED = 100_000_000
# what gaps add to these levels is known from the ends between which their clearances lie
_OF_GAPS = frozenset(("outside", "miss", "target", "unproven", "doubt"))
# sums of whole numbers of 64 bits stay right below this
_LARGEST = float(1 << 61)


class Priced(NamedTuple):
    """What columns cost by a bound, what a unit of some levels costs beside that, and what all may come to."""

    cost: Wholes
    most: int
    weights: Mapping[str, int] = MappingProxyType({})


class Limits(NamedTuple):
    """What a choice may come to at most: by level, and by what bounds say that it costs."""

    levels: Mapping[str, int]
    priced: Sequence[Priced] = ()


class Added(NamedTuple):
    """What rows of a block add: by amount and row. `rows` are their numbers in the block; `starts`, where they are one
    place's stacks from thin to thick, the first of each thickness, with the end.
    """

    amounts: Wholes
    rows: Wholes
    starts: Wholes | None

    @classmethod
    def of(cls, amounts: Sequence[Wholes], many: int, sizes: Wholes | None) -> Self:
        """Amounts of so many rows; `sizes`, their thickness where they are stacks of one place."""
        table = np.array(amounts).reshape(len(amounts), many)
        if sizes is None:
            return cls(table, np.arange(many), None)
        order = np.argsort(sizes, kind="stable")
        new = np.flatnonzero(np.diff(sizes[order], prepend=sizes.min(initial=0) - 1, append=sizes.max(initial=0) + 1))
        return cls(table[:, order], order, new)

    def only(self, kept: Wholes) -> Self:
        """Some of the rows, by where they stand."""
        starts = None if self.starts is None else np.unique(np.searchsorted(kept, self.starts))
        return self._replace(amounts=self.amounts[:, kept], rows=self.rows[kept], starts=starts)


class Beginnings:
    """By what beginnings are judged; a row each of their amounts: lines, priced costs, levels, then gaps by their ends.

    `levels` are those that can be told of beginnings; `ends` the ends of clearances that they look at; `open` the gaps
    that are not yet settled; `begun` the amounts before anything is chosen.

    Parameters: there, how many pieces there are of each scarce line; judges, of the gaps that blocks move.
    """

    def __init__(self, limits: Limits, there: Sequence[int], judges: Sequence[Judge]) -> None:
        self.limits, self.judges, self.looked = limits, judges, 0
        self.all_inside = limits.levels.get("outside") == 0
        # while none may be outside, every gap whose bracket stands out adds to these two; else it may be set aside
        self.levels = [level for level in limits.levels if self.all_inside or level not in ("unproven", "doubt")]
        unsure = {"unproven", "doubt"} & set(self.levels)
        self.ends = (1, 0, 2) if unsure else (1,) if _OF_GAPS & set(self.levels) else ()
        self.plain = [*there, *(priced.most for priced in limits.priced)]
        self.first_priced = len(there)
        self.first_level, self.first_gap = len(self.plain), len(self.plain) + len(self.levels)
        reads = [judge.read[end] for judge in judges for end in self.ends]
        self.begun: Wholes = np.array([0] * self.first_gap + reads, object)[:, None]
        self.open: Sequence[int] = range(len(judges)) if self.ends else ()

    def narrowed(self, added: Sequence[Added]) -> list[Added]:
        """What each block adds, less the rows that no combination may hold."""
        sizes = [np.abs(block.amounts.astype(float)).max(axis=1, initial=0.0) for block in added]
        largest = sum(sizes, np.abs(self.begun[:, 0].astype(float))).max(initial=0.0) * max(1, len(self.judges))
        largest *= max((w for priced in self.limits.priced for w in (1, *priced.weights.values())), default=1)
        kind = np.int64 if largest < _LARGEST and max(map(abs, self.plain), default=0) < _LARGEST else object
        self.begun = self.begun.astype(kind)
        found = [block._replace(amounts=block.amounts.astype(kind)) for block in added]
        # without gaps there is next to nothing to be struck
        before = -1 if self.open else sum(len(block.rows) for block in found)
        while before != (before := sum(len(block.rows) for block in found)):
            for at, block in enumerate(found):
                found[at] = block.only(self.go_on(self.begun, block, [*found[:at], *found[at + 1 :]])[1])
        return found

    def with_rows(self, sums: Wholes, mine: Added, pairs: tuple[Wholes, Wholes]) -> Wholes:
        """The amounts of beginnings, each with a row of a block; gaps that are settled have none any more."""
        old, new = pairs
        found = np.zeros((len(sums), len(old)), sums.dtype)
        of_gaps = (at for gap in self.open for at in range(self._best(gap), self._best(gap) + len(self.ends)))
        for at in (*range(self.first_gap), *of_gaps):
            found[at] = sums[at][old] + mine.amounts[at][new]
        return found

    def settle(self, sums: Wholes, gaps: Collection[int]) -> None:
        """Add to the levels what these gaps come to: no block to come moves them."""
        totals = dict[str, Wholes]()
        for at, level in enumerate(self.levels, start=self.first_level):
            totals[level] = sums[at]
        for gap in gaps:
            first = self._best(gap)
            ends = {end: (sums[at], sums[at]) for at, end in enumerate(self.ends, start=first)}
            self._add_shares(totals, self.judges[gap], ends)
            sums[first : first + len(self.ends)] = 0
        self.open = [gap for gap in self.open if gap not in gaps]

    def go_on(
        self, sums: Wholes, mine: Added, to_come: Sequence[Added], most: int | None = None
    ) -> tuple[Wholes, Wholes]:
        """Beginnings with rows of the next block that may keep to all limits: their numbers, in pairs.

        Parameters: sums, by amount and beginning; to_come, the blocks after the next; most, how many there may be.
        Raises TooManyLeftError.
        """
        if not all(len(block.rows) for block in to_come):
            return np.zeros(0, np.int64), np.zeros(0, np.int64)
        rest = tuple(
            sum((find(block.amounts, axis=1) for block in to_come), np.zeros_like(self.begun[:, 0]))
            for find in (np.min, np.max)
        )
        first, last = self._span(sums, mine, rest)
        ends = np.cumsum(np.maximum(last - first, 0))
        if most is not None and len(ends):
            self.looked += int(ends[-1]) * (1 + len(self.open))
            if ends[-1] > _LOOKS * most or self.looked > _MOST_LOOKED:
                raise TooManyLeftError
        found, kept, begin = [(np.zeros(0, np.int64), np.zeros(0, np.int64))], 0, 0
        while begin < len(ends):
            before = int(ends[begin - 1]) if begin else 0
            end = max(begin + 1, int(np.searchsorted(ends, before + _AT_ONCE, "right")))
            counts = np.diff(ends[begin:end], prepend=before)
            old = np.repeat(np.arange(begin, end), counts)
            new = np.arange(len(old)) - np.repeat(ends[begin:end] - counts - before - first[begin:end], counts)
            found.append(self._kept(sums, mine.amounts, (old, new), rest))
            begin, kept = end, kept + len(found[-1][0])
            if most is not None and kept > most:
                raise TooManyLeftError
        return np.concatenate([old for old, _ in found]), np.concatenate([new for _, new in found])

    def _span(self, sums: Wholes, mine: Added, rest: tuple[Wholes, ...]) -> tuple[Wholes, Wholes]:
        """By beginning, from which row of the next block to which it has to be looked at."""
        many = sums.shape[1]
        first, last = np.zeros(many, np.int64), np.full(many, len(mine.rows))
        if mine.starts is None or not self.ends or not len(mine.rows):
            return first, last
        if self.all_inside:
            for gap in self.open:
                low, high = self._inside(gap, sums, mine, rest)
                first, last = np.maximum(first, low), np.minimum(last, high)
        elif "miss" in self.levels:
            return self._near(sums, mine, mine.starts, rest)
        return first, last

    def _best(self, gap: int) -> int:
        return self.first_gap + gap * len(self.ends)

    def _inside(self, gap: int, sums: Wholes, mine: Added, rest: tuple[Wholes, ...]) -> tuple[Wholes, Wholes]:
        """By beginning, from which row to which a gap may still be inside."""
        judge, at = self.judges[gap], self._best(gap)
        moves, sign = mine.amounts[at], 1
        if moves[0] > moves[-1]:
            moves, sign = -moves, -1
        low = None if judge.min is None else judge.min - rest[1][at] - sums[at]
        high = None if judge.max is None else judge.max - rest[0][at] - sums[at]
        if sign < 0:
            low, high = None if high is None else -high, None if low is None else -low
        many = sums.shape[1]
        return (
            np.zeros(many, np.int64) if low is None else np.searchsorted(moves, low, "left"),
            np.full(many, len(moves)) if high is None else np.searchsorted(moves, high, "right"),
        )

    def _near(self, sums: Wholes, mine: Added, starts: Wholes, rest: tuple[Wholes, ...]) -> tuple[Wholes, Wholes]:
        """By beginning, from which row to which all gaps together may still miss no more than they may."""
        level = self.first_level + self.levels.index("miss")
        room = self.limits.levels["miss"] - rest[0][level] - sums[level]
        moves = mine.amounts[:, starts[:-1]]

        def missed(who: Wholes, which: Wholes) -> Wholes:
            which, total = np.minimum(which, moves.shape[1] - 1), np.zeros_like(room[who])
            for gap in self.open:
                at, judge = self._best(gap), self.judges[gap]
                now = sums[at][who] + moves[at][which]
                total += _outside(now + rest[0][at], now + rest[1][at], judge.min, judge.max)
            return np.asarray(total)

        who, most = np.arange(len(room)), np.full(len(room), len(starts) - 2)
        nearest = _first(np.zeros_like(most), most, lambda which: missed(who, which + 1) >= missed(who, which))
        who = np.flatnonzero(missed(who, nearest) <= room)
        nearest, most = nearest[who], most[who]
        first, last = np.zeros(len(room), np.int64), np.zeros(len(room), np.int64)
        first[who] = starts[_first(np.zeros_like(most), nearest, lambda which: missed(who, which) <= room[who])]
        last[who] = starts[_first(nearest + 1, most + 1, lambda which: missed(who, which) > room[who])]
        return first, last

    def _kept(
        self, sums: Wholes, mine: Wholes, pairs: tuple[Wholes, Wholes], rest: tuple[Wholes, ...]
    ) -> tuple[Wholes, Wholes]:
        """Of beginnings, each with a row of the next block, those that may keep to all limits."""
        old, new = pairs
        for at, limit in enumerate(self.plain):
            fits = sums[at][old] + mine[at][new] <= limit - rest[0][at]
            if not fits.all():
                fits = fits.astype(bool)
                old, new = old[fits], new[fits]
        totals = {}
        for at, level in enumerate(self.levels, start=self.first_level):
            totals[level] = sums[at][old] + (mine[at][new] + rest[0][at])
        for gap in self.open:
            ends = {}
            for at, end in enumerate(self.ends, start=self._best(gap)):
                now = sums[at][old] + mine[at][new]
                ends[end] = (now + rest[0][at], now + rest[1][at])
            self._add_shares(totals, self.judges[gap], ends)
        keeps = np.ones(len(old), bool)
        for level, total in totals.items():
            keeps &= (total <= self.limits.levels[level]).astype(bool)
        for at, priced in enumerate(self.limits.priced, start=self.first_priced):
            if weighed := [(w, totals[level]) for level, w in priced.weights.items() if level in totals]:
                cost = sums[at][old] + (mine[at][new] + rest[0][at]) + sum(w * total for w, total in weighed)
                keeps &= (cost <= priced.most).astype(bool)
        return old[keeps], new[keeps]

    def _add_shares(
        self, totals: Mapping[str, Wholes], judge: Judge, ends: Mapping[int, tuple[Wholes, Wholes]]
    ) -> None:
        """Add to each level what a gap comes to at least, given the least and the most of its clearance's ends."""
        least, most = ends[1]
        found = dict[str, npt.NDArray[Any]]()
        if "outside" in totals or "miss" in totals:
            found["miss"] = _outside(least, most, judge.min, judge.max)
            found["outside"] = found["miss"] > 0
        if "target" in totals:
            found["target"] = _outside(least, most, judge.target, judge.target)
        if 0 in ends:
            found["doubt"] = _outside(ends[2][0], ends[0][1], judge.min, judge.max)
            found["unproven"] = found["doubt"] > 0
        for level in found.keys() & totals.keys():
            totals[level][:] += found[level]


def _outside(least: Wholes, most: Wholes, low: int | None, high: int | None) -> Wholes:
    """By how much what lies from least to most is surely below a lower limit, and above an upper one."""
    below = np.zeros_like(least) if low is None else np.maximum(low - most, 0)
    if high is not None:
        below += np.maximum(least - high, 0)
    return below


def _first(low: Wholes, high: Wholes, holds: Callable[[Wholes], Any]) -> Wholes:
    """By row, the first number from `low` on, and before `high`, from which on something holds; else `high`."""
    while (low < high).any():
        middle = (low + high) // 2
        found = np.asarray(holds(middle), bool)
        low, high = np.where(found | (low >= high), low, middle + 1), np.where(found & (low < high), middle, high)
    return low
