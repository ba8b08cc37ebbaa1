"""What can be put in each place, as arrays: one table of options for all places that are of the same kind.

A place's kind is everything that its options depend on: reading, window, seat and limits. Thousands of places are of a
few hundred kinds, and all kinds on one seat share one list of stacks, of which a kind's options are a slice.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

from shimopt.arithmetic.clearance import Stack
from shimopt.arithmetic.needed import wanted
from shimopt.candidates import Judge, Scale, Usable, place_options, stacks_between
from shimopt.job import Gap, Job, Place
from shimopt.job.levels import Level
from shimopt.seats import Screening

Ints = npt.NDArray[np.int64]

# the levels to which a place's stack adds by itself, and those to which its gap does
OF_STACKS = tuple(level for level in Level if level.of == "stack")
OF_GAPS = tuple(level for level in Level if level.of == "gap")
# what a row of the tables adds to: balances too, where it holds the stacks of a whole cluster
OF_ROWS = (*OF_STACKS, "excess", "spread")
_MOST_STACKS = 400_000


@dataclass(frozen=True, slots=True)
class Tables:
    """Options of all kinds in one row after another.

    `first` holds where each kind's options begin, and the end; the first option of a kind is to leave the place as it
    is. By option: `row`, its stack's row; `best`, the estimate after [ticks]; `of_gap`, its shares of OF_GAPS. By row:
    `stacks`; `pieces`, the stock line of each piece in order, filled up with `none`; `of_stack`, its shares of
    OF_ROWS. An option may stand for a whole cluster: then its row is of all stacks together, and has no `best`.
    """

    first: Ints
    row: Ints
    best: Ints
    of_gap: Ints
    stacks: tuple[Stack, ...]
    pieces: Ints
    none: int
    of_stack: Ints

    def at_least(self, times: int) -> Ints:
        """By row, the lines that it takes so many times at least, filled up with `none`."""
        many = self.pieces.shape[1] - times + 1
        first, last = self.pieces[:, : max(0, many)], self.pieces[:, times - 1 :]
        return np.where(first == last, first, self.none)

    @property
    def outside(self) -> npt.NDArray[np.bool_]:
        """By option, whether it leaves its gap outside."""
        return self.of_gap[:, 0] > 0


@dataclass(frozen=True, slots=True)
class _Stacks:
    """All stacks of a seat, from thin to thick, after the empty one: thickness low, best and high [ticks]."""

    first_row: int
    low: Ints
    best: Ints
    high: Ints


class Rows(Protocol):
    """The combinations of a whole cluster."""

    @property
    def stacks(self) -> Sequence[Sequence[Stack]]:
        """By combination, a stack for each place."""

    @property
    def of_gaps(self) -> Ints:
        """By combination, its shares of OF_GAPS."""

    @property
    def of_rows(self) -> Ints:
        """By combination, its shares of OF_ROWS."""


def tables_of(
    job: Job, scale: Scale, screening: Screening, places: Sequence[tuple[Place, Gap] | Rows], supply: Mapping[int, int]
) -> tuple[Tables, Ints]:
    """The tables of places that each move one gap alone, or of clusters, and the kind of each. Raises TooManyError."""
    maker = _Maker(job, scale, screening, supply)
    kinds = [maker.kind(*one) if isinstance(one, tuple) else maker.listed(one) for one in places]
    return maker.tables(), np.array(kinds, dtype=np.int64)


class _Maker:
    def __init__(self, job: Job, scale: Scale, screening: Screening, supply: Mapping[int, int]) -> None:
        self.job, self.scale, self.screening = job, scale, screening
        most = max((place.most_pieces for place in job.places), default=0)
        self.kinds: dict[object, int] = {}
        self.seats: dict[object, _Stacks] = {}
        self.stacks: list[Stack] = []
        self.of_stack: list[tuple[int, ...]] = []
        self.parts: list[tuple[Ints, Ints, Ints]] = []
        self.ticks = [_ends(scale, line.part.thickness) for line in job.stock]
        # what has run out or nearly so has its options too: the supply limits them, and prices say what more is worth
        self.counts = [
            max(supply[i], most) if line.on_hand or line.row is not None or not line.offers else supply[i]
            for i, line in enumerate(job.stock)
        ]

    def kind(self, place: Place, gap: Gap) -> int:
        suits, cautions = self.screening.suits[place.name], self.screening.cautions[place.name]
        read, window = gap.reading.bracket, gap.window
        known = gap.reach(place.name)[0] == gap.reach(place.name)[1]
        plain = not place.installed and gap.least_chance is None and known
        key: tuple[Any, ...] = (
            read.low,
            read.best,
            read.high,
            window.min,
            window.max,
            window.stated_target,
            gap.effects[0][1],
            gap.reach(place.name),
            place.most_pieces,
            place.fewest_pieces,
            suits,
            cautions,
            gap.may_be_tight,
        )
        if not plain:
            key = (*key, place.installed, place.keep, place.keep_within, gap.least_chance, gap.reading.errors)
        at = self.kinds.get(key)
        if at is None:
            at = self.kinds[key] = len(self.parts)
            effect = gap.effects[0][1]
            self.parts.append(
                self._slice(place, gap, suits, cautions)
                if plain and abs(effect) == 1
                else self._listed(place, gap, suits, cautions)
            )
        return at

    def _slice(
        self, place: Place, gap: Gap, suits: tuple[int, ...], cautions: frozenset[int]
    ) -> tuple[Ints, Ints, Ints]:
        """Options of an empty place whose stack simply adds or takes its thickness: a slice of the seat's stacks."""
        seat = self._seat(place, suits, cautions)
        least, most = wanted(self.job, gap)
        low = 0 if least is None else int(np.searchsorted(seat.best, self.scale.least(least), "left"))
        high = len(seat.best) if most is None else int(np.searchsorted(seat.best, self.scale.most(most), "right"))
        # row 0 of a seat is the empty stack: always the first option, and only once
        rows = np.arange(max(1, low), max(1, high, low), dtype=np.int64)
        rows = np.concatenate([np.zeros(1, dtype=np.int64), rows])
        thin, mid, thick = seat.low[rows], seat.best[rows], seat.high[rows]
        judge = Judge(self.scale, gap)
        read_low, read_best, read_high = judge.read
        if gap.effects[0][1] < 0:
            after = (read_low - thick, read_best - mid, read_high - thin)
        else:
            after = (read_low + thin, read_best + mid, read_high + thick)
        shares = judge.shares(after)
        return rows + seat.first_row, after[1], np.stack([shares[level] for level in OF_GAPS], axis=1)

    def _seat(self, place: Place, suits: tuple[int, ...], cautions: frozenset[int]) -> _Stacks:
        key = (suits, cautions, place.most_pieces, place.fewest_pieces)
        found = self.seats.get(key)
        if found is None:
            ends = self.ticks
            kinds = stacks_between(
                [ends[i][1] for i in suits],
                [self.counts[i] for i in suits],
                place.most_pieces,
                0,
                None,
                _MOST_STACKS,
                fewest=place.fewest_pieces,
            )
            stacks = [(), *(tuple(suits[k] for k in stack) for stack in kinds)]
            pieces = _padded(stacks, len(self.job.stock))
            # what rows are filled up with is no piece
            thick = np.array([*self.ticks, (0, 0, 0)], dtype=np.int64)[pieces].sum(axis=1)
            # from thin to thick, then as their pieces are numbered, a shorter one before those that begin with it
            numbers = np.where(pieces == len(self.job.stock), -1, pieces)
            order = np.lexsort((*numbers.T[::-1], thick[:, 1]))
            order = np.concatenate([[0], order[order > 0]])
            found = self.seats[key] = _Stacks(len(self.stacks), *thick[order].T)
            self.stacks += [stacks[at] for at in order.tolist()]
            warned = np.isin(pieces[order], [*cautions]).sum(axis=1).tolist()
            self.of_stack += [(0, len(stacks[at]), many, 0, 0) for at, many in zip(order.tolist(), warned, strict=True)]
        return found

    def _listed(
        self, place: Place, gap: Gap, suits: tuple[int, ...], cautions: frozenset[int]
    ) -> tuple[Ints, Ints, Ints]:
        """Options of any other place, one by one."""
        usable = Usable(suits, self.counts, cautions, place.most_pieces, _MOST_STACKS)
        found = place_options(self.job, self.scale, place, gap, usable)
        first = len(self.stacks)
        self.stacks += [option.stack for option in found.options]
        self.of_stack += [(*(option.share[level] for level in OF_STACKS), 0, 0) for option in found.options]
        rows = np.arange(first, len(self.stacks), dtype=np.int64)
        best = np.array([option.best for option in found.options], dtype=np.int64)
        of_gap = np.array([[option.share[level] for level in OF_GAPS] for option in found.options], dtype=np.int64)
        return rows, best, of_gap

    def listed(self, of: Rows) -> int:
        """The kind of a whole cluster."""
        rows = np.arange(len(self.stacks), len(self.stacks) + len(of.stacks), dtype=np.int64)
        self.stacks += [tuple(sorted(chain.from_iterable(stacks))) for stacks in of.stacks]
        self.of_stack += map(tuple, of.of_rows.tolist())
        self.parts.append((rows, np.zeros(len(rows), dtype=np.int64), of.of_gaps))
        return len(self.parts) - 1

    def tables(self) -> Tables:
        lengths = [len(rows) for rows, _, _ in self.parts]
        rows, best, of_gap = (np.concatenate(columns) for columns in zip(*self.parts, strict=True))
        # of a seat's stacks most may suit none of its gaps
        used, row = np.unique(rows, return_inverse=True)
        stacks = [self.stacks[at] for at in used.tolist()]
        none = len(self.job.stock)
        return Tables(
            np.concatenate([[0], np.cumsum(lengths)]).astype(np.int64),
            row.ravel(),
            best,
            of_gap,
            tuple(stacks),
            np.sort(_padded(stacks, none), axis=1),
            none,
            np.array([self.of_stack[at] for at in used.tolist()], dtype=np.int64),
        )


def _padded(stacks: Sequence[Stack], none: int) -> Ints:
    """A row for each stack, of its stock lines, filled up with `none`."""
    longest = max(map(len, stacks), default=0)
    filled = [(*stack, *(none,) * (longest - len(stack))) for stack in stacks]
    return np.array(filled, dtype=np.int64).reshape(len(stacks), longest)


def _ends(scale: Scale, bracket: Any) -> tuple[int, int, int]:
    return scale.ticks(bracket.low), scale.ticks(bracket.best), scale.ticks(bracket.high)
