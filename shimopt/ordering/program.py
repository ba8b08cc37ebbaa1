"""The whole-number model of an order.

A gap's card must work at every reading of its range. The model looks at some stretches of readings only (`looked_at`),
those that matter; the search adds more until the cards hold everywhere. At each stretch exactly one kit
of scarce pieces is chosen, or none where the stretch is given up. A gap sets aside the pieces of all kits that its card
chooses: as many of each part as the largest kit needs. Drawer and packs must hold what all gaps set aside.

    columns   a kit at a stretch of a gap
    helpers   "gap sets aside at least k pieces of a line", packs, suppliers used, top-ups, arrival steps, gaps open
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from shimopt.check.arithmetic import Stack
from shimopt.choose.model import Helper, Row
from shimopt.ordering.coverage import Coverage, Segment
from shimopt.ordering.market import Market

__all__ = ["LEVELS", "TIES", "Kit", "Program", "Stretch", "arrival_steps", "build_program", "days_of"]

# what an order is judged by, each level proven best before the next is looked at; lower is better
LEVELS = ("open", "missing", "unpriced", "cost", "arrival", "bought")
# what settles the rest, so that the same job gets the same order: the first packs in natural order, fewest set aside
TIES = ("packs", "aside")

Kit = Stack | None  # scarce pieces, or None where the readings are given up


class Stretch(NamedTuple):
    """Readings that the model looks at, and the kits that may serve them."""

    segment: Segment
    kits: list[Kit]


@dataclass(slots=True)
class Program:
    """Columns, helpers, rows and the terms of every level, in whole ticks, coins, days and pieces."""

    columns: list[Kit] = field(default_factory=list)
    gap_of: list[int] = field(default_factory=list)
    groups: list[list[int]] = field(default_factory=list)
    helpers: list[Helper] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    levels: dict[str, dict[int, int]] = field(default_factory=dict)
    packs: list[int] = field(default_factory=list)
    # the helpers decide; a column follows from them
    whole_columns: bool = False

    def helper(self, low: int, high: int, *, whole: bool = True) -> int:
        """A new helper's number; all columns must be there."""
        self.helpers.append(Helper(low, high, whole))
        return len(self.columns) + len(self.helpers) - 1


def build_program(
    coverages: Sequence[Coverage],
    looked_at: Sequence[Sequence[Stretch]],
    stock: Sequence[int],
    market: Market,
    senders: frozenset[int] | None,
) -> Program:
    """The model that looks at these stretches.

    Parameters: stock, how many pieces of each line are on hand; senders, the suppliers that are used, all of them and
    no others, or None where that is free.
    """
    program = Program()
    for gap, stretches in enumerate(looked_at):
        for stretch in stretches:
            start = len(program.columns)
            program.columns += stretch.kits
            program.groups.append(list(range(start, len(program.columns))))
            program.gap_of.append(gap)
    program.levels = {level: {} for level in (*LEVELS, *TIES)}
    _add_holes(program, coverages, [stretch.segment for stretches in looked_at for stretch in stretches])
    aside = _add_set_aside(program)
    _add_purchase(program, aside, stock, market, senders)
    return program


def _add_holes(program: Program, coverages: Sequence[Coverage], segments: Sequence[Segment]) -> None:
    is_open: dict[int, int] = {}
    for gap, group, segment in zip(program.gap_of, program.groups, segments, strict=True):
        for hole in (column for column in group if program.columns[column] is None):
            if segment.length:
                program.levels["missing"][hole] = segment.length
            # a gap that nothing could serve everywhere counts as open anyway
            if coverages[gap].whole:
                if gap not in is_open:
                    is_open[gap] = program.helper(0, 1)
                    program.levels["open"][is_open[gap]] = 1
                program.rows.append(Row({hole: 1, is_open[gap]: -1}, 0))


def _add_set_aside(program: Program) -> dict[int, dict[tuple[int, int], int]]:
    """By stock line: the helper of every (gap, k) that says that the gap sets aside at least k pieces of it."""
    aside: dict[int, dict[tuple[int, int], int]] = defaultdict(dict)
    every = program.levels["aside"]
    for group, gap in zip(program.groups, program.gap_of, strict=True):
        takers: dict[tuple[int, int], list[int]] = defaultdict(list)
        for column in group:
            for line, count in Counter(program.columns[column] or ()).items():
                for k in range(1, count + 1):
                    takers[line, k].append(column)
        for (line, k), columns in sorted(takers.items()):
            at = aside[line].get((gap, k))
            if at is None:
                at = aside[line][gap, k] = program.helper(0, 1)
                every[at] = 1
                if k > 1:
                    program.rows.append(Row({at: 1, aside[line][gap, k - 1]: -1}, 0))
            program.rows.append(Row({**dict.fromkeys(columns, 1), at: -1}, 0))
    return aside


def _add_purchase(
    program: Program,
    aside: Mapping[int, Mapping[tuple[int, int], int]],
    stock: Sequence[int],
    market: Market,
    senders: frozenset[int] | None,
) -> None:
    """Drawer and packs hold what is set aside; what the packs, their postage and their top-ups cost; when they come."""
    by_line: dict[int, list[int]] = defaultdict(list)
    for number, buy in enumerate(market.buys):
        by_line[buy.line].append(number)
    packs = {}
    for number, buy in enumerate(market.buys):
        short = max(0, len(aside.get(buy.line, ())) - stock[buy.line])
        if senders is not None and buy.supplier not in senders:
            short = 0
        packs[number] = program.helper(0, -(-short // buy.offer.pack))
    program.packs = [packs[number] for number in range(len(market.buys))]
    used = {
        supplier: program.helper(0 if senders is None else int(supplier in senders),
                                 1 if senders is None else int(supplier in senders))
        for supplier in sorted({buy.supplier for buy in market.buys})
    }  # fmt: skip
    for line, helpers in sorted(aside.items()):
        offers = by_line.get(line, [])
        if len(helpers) <= stock[line]:
            continue
        bought = {packs[n]: -market.buys[n].offer.pack for n in offers}
        program.rows.append(Row({**dict.fromkeys(helpers.values(), 1), **bought}, stock[line]))
        if stock[line] == 0 and offers:
            # true of whole packs anyway, and far tighter for the linear relaxation
            from_ = {used[market.buys[n].supplier] for n in offers}
            for at in (at for (_, k), at in helpers.items() if k == 1):
                program.rows.append(Row({at: 1, **{packs[n]: -1 for n in offers}}, 0))
                if senders is None:
                    program.rows.append(Row({at: 1, **dict.fromkeys(sorted(from_), -1)}, 0))
    _add_money(program, market, packs, used)
    _add_arrival(program, market, packs)
    for number, buy in enumerate(market.buys):
        if program.helpers[packs[number] - len(program.columns)].high:
            program.levels["bought"][packs[number]] = buy.offer.pack
            program.levels["packs"][packs[number]] = number + 1


def _add_money(program: Program, market: Market, packs: Mapping[int, int], used: Mapping[int, int]) -> None:
    cost, unpriced = program.levels["cost"], program.levels["unpriced"]
    for supplier, is_used in used.items():
        goods = {}
        for number, buy in enumerate(market.buys):
            most = program.helpers[packs[number] - len(program.columns)].high
            if buy.supplier != supplier or not most:
                continue
            program.rows.append(Row({packs[number]: 1, is_used: -most}, 0))
            if buy.offer.price is None:
                unpriced[packs[number]] = buy.offer.pack
            else:
                goods[packs[number]] = market.coins(buy.offer.price)
        terms = market.suppliers[supplier]
        postage, smallest = market.coins(terms.postage), market.coins(terms.smallest_order)
        cost |= {at: price for at, price in goods.items() if price}
        if postage:
            cost[is_used] = postage
        if smallest:
            top_up = program.helper(0, smallest, whole=False)
            cost[top_up] = 1
            program.rows.append(Row({is_used: smallest, top_up: -1, **{at: -price for at, price in goods.items()}}, 0))


def arrival_steps(market: Market) -> list[int]:
    """The days on which something could come, in order; where nobody says, a day after all the others."""
    known = sorted({buy.offer.lead_days for buy in market.buys if buy.offer.lead_days is not None} - {0})
    unsaid = any(buy.offer.lead_days is None for buy in market.buys)
    return [*known, (known[-1] if known else 0) + 1] if unsaid else known


def days_of(market: Market, number: int) -> int:
    """When a pack comes, as the level `arrival` counts it."""
    days = market.buys[number].offer.lead_days
    return arrival_steps(market)[-1] if days is None else days


def _add_arrival(program: Program, market: Market, packs: Mapping[int, int]) -> None:
    before = 0
    for step in arrival_steps(market):
        at = program.helper(0, 1)
        program.levels["arrival"][at] = step - before
        before = step
        for number in packs:
            most = program.helpers[packs[number] - len(program.columns)].high
            if most and days_of(market, number) >= step:
                program.rows.append(Row({packs[number]: 1, at: -most}, 0))
