"""The whole-number model of an order: what each gap chooses, and what it sets aside for its card.

A gap's card must work at every reading of its range. There are two models of that:

- over single stretches of readings (`over_stretches`): small, always possible, weak. Only stretches that matter are
  looked at; the search adds more until the cards hold everywhere. At each stretch exactly one kit of scarce pieces is
  chosen, or none where the stretch is given up; a gap sets aside as many of each part as the largest kit needs, and
  where readings are given up what is in, which then stays in.
- over whole covers (`over_covers`), sets of pieces that serve a gap's whole range, of which each gap chooses one: far
  tighter, but there can be too many to list.

Drawer and packs must hold what all gaps set aside: these rows are the same in both (`packs_model`).

    columns   a kit at a stretch of a gap
    helpers   "gap sets aside at least k pieces of a line", packs, suppliers used, top-ups, arrival steps, gaps open
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

import numpy as np

from shimopt.arithmetic.clearance import Stack
from shimopt.choose.whole_model import Helper
from shimopt.ordering.coverage import Coverage, Segment
from shimopt.ordering.market import Market
from shimopt.ordering.packs_model import Buying, Wanted, buying
from shimopt.ordering.purchase import LEVELS
from shimopt.proof.exact_bounds import Sums, Wholes
from shimopt.proof.rows import Row

# what settles the rest, so that the same job gets the same order: the first packs in natural order, then for these
# packs the fewest pieces set aside
TIES = ("packs", "aside")

Kit = Stack | None  # scarce pieces, or None where the readings are given up


class Stretch(NamedTuple):
    """Readings of a gap that the model looks at, and the kits that may serve them."""

    gap: int
    segment: Segment
    kits: Sequence[Kit]


@dataclass
class Program:
    """Columns in a group per stretch, helpers after them, rows and the terms of every level [ticks, coins, days].

    `aside` are the helpers that count what each (gap, line) sets aside, first piece first, and `choices` whether
    columns must be asked to be whole, as they don't follow from helpers.
    """

    stretches: Sequence[Stretch]
    choices: bool
    helpers: list[Helper] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    levels: dict[str, dict[int, int]] = field(default_factory=lambda: {level: {} for level in (*LEVELS, *TIES)})
    aside: dict[tuple[int, int], list[int]] = field(default_factory=dict)
    buying: Buying = field(default_factory=Buying)

    @cached_property
    def columns(self) -> list[Kit]:
        """A kit at a stretch, stretch after stretch."""
        return [kit for stretch in self.stretches for kit in stretch.kits]

    @cached_property
    def groups(self) -> list[range]:
        """The columns of each stretch."""
        found, start = [], 0
        for stretch in self.stretches:
            found.append(range(start, start + len(stretch.kits)))
            start += len(stretch.kits)
        return found

    @cached_property
    def sums(self) -> Sums:
        """All of it as arrays; asked for when all rows are there."""
        return Sums(self.groups, len(self.columns) + len(self.helpers), self.rows)

    @cached_property
    def order(self) -> Wholes:
        """What is branched on first: packs and what follows from them decide every level from the cost on."""
        aside = {at for pieces in self.aside.values() for at in pieces}
        first = len(self.columns)
        helpers = [
            0 if not helper.whole else 2 if at in aside else 1 for at, helper in enumerate(self.helpers, start=first)
        ]
        return np.array([2 * self.choices] * first + helpers, np.int64)

    def helper(self, low: int, high: int, *, whole: bool = True) -> int:
        """A new helper's number."""
        self.helpers.append(Helper(low, high, whole))
        return len(self.columns) + len(self.helpers) - 1

    def holding(self, held: Mapping[str, int]) -> Sums:
        """The rows with what is held of the levels above."""
        return self.sums.and_held([Row(self.levels[name], value) for name, value in held.items() if self.levels[name]])


def over_stretches(
    coverages: Sequence[Coverage], stretches: Sequence[Stretch], stock: Sequence[int], market: Market
) -> Program:
    """The model that looks at these stretches; `stock` counts the pieces of each line that are there."""
    program = Program(stretches, choices=False)
    _add_holes(program, coverages)
    _add_set_aside(program, coverages, stock)
    wanted: dict[int, Wanted] = defaultdict(Wanted)
    for (gap, line), pieces in sorted(program.aside.items()):
        wanted[line].ask(gap, pieces)
    program.buying = buying(program, wanted, stock, market)
    return program


def over_covers(
    covers: Sequence[Collection[Stack]],
    ranges: Sequence[Segment],
    most: Mapping[int, int],
    stock: Sequence[int],
    market: Market,
) -> Program:
    """The model of these covers, by gap; `most` is what all gaps together could ask for of each line that can be had.

    It counts covers that are not in the model too: a bound that is to hold for them must leave room for their packs.
    """
    stretches = [Stretch(gap, ranges[gap], sorted(known)) for gap, known in enumerate(covers)]
    program = Program(stretches, choices=True)
    wanted = {line: Wanted(count) for line, count in sorted(most.items())}
    for stretch, group in zip(stretches, program.groups, strict=True):
        for column in group:
            counts = Counter(program.columns[column])
            terms = [_aside(stretch.gap, line, len(covers), stock) for line in counts.elements()]
            program.levels["aside"][column] = sum(terms)
            for line, count in counts.items():
                wanted[line].pieces[column] = count
                wanted[line].firsts.setdefault(stretch.gap, {})[column] = 1
    program.buying = buying(program, wanted, stock, market)
    return program


def _aside(gap: int, line: int, gaps: int, stock: Sequence[int]) -> int:
    """What settles who gets which piece: the fewest pieces set aside, then a set order of gaps and parts.

    Numbers stay small, for the solver's sake: beyond them it settles what is left, the same every time.
    """
    return 1000 * (gaps + 1) + min(99, 2 * gap * line + (0 if stock[line] else gap))


def _add_holes(program: Program, coverages: Sequence[Coverage]) -> None:
    is_open: dict[int, int] = {}
    for stretch, group in zip(program.stretches, program.groups, strict=True):
        for hole in (column for column in group if program.columns[column] is None):
            if stretch.segment.length:
                program.levels["missing"][hole] = stretch.segment.length
            # a gap that nothing could serve everywhere counts as open anyway
            if coverages[stretch.gap].whole:
                if stretch.gap not in is_open:
                    is_open[stretch.gap] = program.helper(0, 1)
                    program.levels["open"][is_open[stretch.gap]] = 1
                program.rows.append(Row({hole: 1, is_open[stretch.gap]: -1}, 0))


def _add_set_aside(program: Program, coverages: Sequence[Coverage], stock: Sequence[int]) -> None:
    """A kit that needs k pieces of a line makes its gap set k of them aside."""
    for stretch, group in zip(program.stretches, program.groups, strict=True):
        takers: dict[tuple[int, int], dict[int, int]] = defaultdict(dict)
        for column in group:
            for line, count in Counter(set_aside_for(program.columns[column], coverages[stretch.gap])).items():
                for k in range(count):
                    takers[line, k][column] = 1
        for (line, k), columns in sorted(takers.items()):
            at = _piece(program, stretch.gap, line, k, _aside(stretch.gap, line, len(coverages), stock))
            program.rows.append(Row({**columns, at: -1}, 0))
    for gap, coverage in enumerate(coverages):
        for line, count in Counter(coverage.kept).items():
            for k in range(count):
                at = _piece(program, gap, line, k, _aside(gap, line, len(coverages), stock))
                program.rows.append(Row({at: -1}, -1))


def set_aside_for(kit: Kit, coverage: Coverage) -> Stack:
    """The scarce pieces that a choice keeps from other gaps: the kit, or what stays in where readings are given up."""
    return coverage.stays if kit is None else kit


def _piece(program: Program, gap: int, line: int, k: int, rank: int) -> int:
    """The helper that says whether a gap sets aside its k-th piece of a line, counted from 0; those before it exist."""
    pieces = program.aside.setdefault((gap, line), [])
    if k == len(pieces):
        pieces.append(program.helper(0, 1))
        program.levels["aside"][pieces[k]] = rank
        if k:
            program.rows.append(Row({pieces[k]: 1, pieces[k - 1]: -1}, 0))
    return pieces[k]
