"""The whole-number model of an order.

A gap's card must work at every reading of its range. The model looks at some stretches of readings only, those that
matter; the search adds more until the cards hold everywhere. At each stretch exactly one kit of scarce pieces is
chosen, or none where the stretch is given up. A gap sets aside the pieces of all kits that its card chooses: as many of
each part as the largest kit needs. Drawer and packs must hold what all gaps set aside.

    columns   a kit at a stretch of a gap
    helpers   "gap sets aside at least k pieces of a line", packs, suppliers used, top-ups, arrival steps, gaps open
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from shimopt.arithmetic.clearance import Stack
from shimopt.choose.model import Helper, Row
from shimopt.ordering.coverage import Coverage, Segment
from shimopt.ordering.market import Market, arrival_steps, days_of
from shimopt.ordering.purchase import LEVELS

__all__ = ["TIES", "Kit", "Program", "Stretch", "add_holding", "add_packs", "add_terms", "build_program", "rows_of"]

# what settles the rest, so that the same job gets the same order: the first packs in natural order, then for these
# packs the fewest pieces set aside
TIES = ("packs", "aside")

Kit = Stack | None  # scarce pieces, or None where the readings are given up


class Stretch(NamedTuple):
    """Readings of a gap that the model looks at, and the kits that may serve them."""

    gap: int
    segment: Segment
    kits: Sequence[Kit]


@dataclass(slots=True)
class Program:
    """Columns, helpers, rows and the terms of every level, in whole ticks, coins, days and pieces.

    `needs` counts each column's pieces by line; `groups` are the columns of each stretch; `aside` are the helpers that
    count what each (gap, line) sets aside, first piece first; `packs` are those of the market's
    offers, `used` those of its suppliers. `holding` numbers the row in which drawer and packs hold a line, `firsts`
    that in which a gap's first piece of a line that is not there asks for a pack. `whole_columns`: kits must be asked
    to be whole, they do not follow from helpers.
    """

    stretches: Sequence[Stretch]
    columns: list[Kit] = field(default_factory=list)
    needs: list[Counter[int]] = field(default_factory=list)
    groups: list[list[int]] = field(default_factory=list)
    helpers: list[Helper] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    levels: dict[str, dict[int, int]] = field(default_factory=lambda: {level: {} for level in (*LEVELS, *TIES)})
    aside: dict[tuple[int, int], list[int]] = field(default_factory=dict)
    packs: list[int] = field(default_factory=list)
    used: dict[int, int] = field(default_factory=dict)
    holding: dict[int, int] = field(default_factory=dict)
    firsts: dict[tuple[int, int], int] = field(default_factory=dict)
    whole_columns: bool = False

    def helper(self, low: int, high: int, *, whole: bool = True) -> int:
        """A new helper's number; all columns must be there."""
        self.helpers.append(Helper(low, high, whole))
        return len(self.columns) + len(self.helpers) - 1

    def most_of(self, helper: int) -> int:
        """The most that a helper can be."""
        return self.helpers[helper - len(self.columns)].high


def build_program(
    coverages: Sequence[Coverage], stretches: Sequence[Stretch], stock: Sequence[int], market: Market
) -> Program:
    """The model that looks at these stretches; `stock` counts the pieces of each line that are there."""
    program = Program(stretches)
    for stretch in stretches:
        start = len(program.columns)
        program.columns += stretch.kits
        program.groups.append(list(range(start, len(program.columns))))
    program.needs = [Counter(kit or ()) for kit in program.columns]
    _add_holes(program, coverages)
    _add_set_aside(program)
    _add_purchase(program, stock, market)
    add_terms(program, market)
    return program


def rows_of(program: Program, held: Mapping[str, int]) -> list[Row]:
    """The model's rows and what is held of the levels above."""
    return [*program.rows, *(Row(program.levels[name], value) for name, value in held.items() if program.levels[name])]


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


def _add_set_aside(program: Program) -> None:
    """A kit that needs k pieces of a line makes its gap set k of them aside."""
    for stretch, group in zip(program.stretches, program.groups, strict=True):
        takers: dict[tuple[int, int], dict[int, int]] = defaultdict(dict)
        for column in group:
            for line, count in program.needs[column].items():
                for k in range(count):
                    takers[line, k][column] = 1
        for (line, k), columns in sorted(takers.items()):
            pieces = program.aside.setdefault((stretch.gap, line), [])
            if k == len(pieces):
                pieces.append(program.helper(0, 1))
                program.levels["aside"][pieces[k]] = 1
                if k:
                    program.rows.append(Row({pieces[k]: 1, pieces[k - 1]: -1}, 0))
            program.rows.append(Row({**columns, pieces[k]: -1}, 0))


def _add_purchase(program: Program, stock: Sequence[int], market: Market) -> None:
    """Drawer and packs hold what is set aside."""
    wanted: dict[int, list[int]] = defaultdict(list)
    firsts: dict[int, dict[int, dict[int, int]]] = defaultdict(dict)
    for (gap, line), pieces in sorted(program.aside.items()):
        wanted[line] += pieces
        firsts[line][gap] = {pieces[0]: 1}
    add_packs(program, {line: len(pieces) for line, pieces in wanted.items()}, stock, market)
    for line, pieces in sorted(wanted.items()):
        if len(pieces) > stock[line]:
            add_holding(program, line, dict.fromkeys(pieces, 1), firsts[line], stock, market)
            sent = sorted({program.used[buy.supplier] for buy in market.buys if buy.line == line})
            for terms in firsts[line].values() if sent and not stock[line] else ():
                program.rows.append(Row({**terms, **dict.fromkeys(sent, -1)}, 0))


def add_packs(program: Program, wanted: Mapping[int, int], stock: Sequence[int], market: Market) -> None:
    """Packs enough for what could be wanted, by line, and the suppliers that send them."""
    for buy in market.buys:
        short = max(0, wanted.get(buy.line, 0) - stock[buy.line])
        program.packs.append(program.helper(0, -(-short // buy.offer.pack)))
    program.used = {supplier: program.helper(0, 1) for supplier in sorted({buy.supplier for buy in market.buys})}


def add_holding(
    program: Program,
    line: int,
    wanted: Mapping[int, int],
    firsts: Mapping[int, Mapping[int, int]],
    stock: Sequence[int],
    market: Market,
) -> None:
    """A line's pieces wanted are there or bought; `firsts` are the terms of each gap's first piece of it."""
    bought = {at: buy for at, buy in zip(program.packs, market.buys, strict=True) if buy.line == line}
    program.holding[line] = len(program.rows)
    packs = {at: -buy.offer.pack for at, buy in bought.items()}
    program.rows.append(Row({**wanted, **packs}, stock[line]))
    if stock[line] == 0 and bought:
        # true of whole packs anyway, and far tighter for the linear relaxation
        for gap, terms in firsts.items():
            program.firsts[gap, line] = len(program.rows)
            program.rows.append(Row({**terms, **dict.fromkeys(bought, -1)}, 0))


def add_terms(program: Program, market: Market) -> None:
    """What packs add to each level."""
    _add_money(program, market)
    _add_arrival(program, market)
    for number, buy in enumerate(market.buys):
        program.levels["bought"][program.packs[number]] = buy.offer.pack
        program.levels["packs"][program.packs[number]] = number + 1


def _add_money(program: Program, market: Market) -> None:
    """What the packs, their postage and their top-ups cost."""
    cost, unpriced = program.levels["cost"], program.levels["unpriced"]
    for supplier, is_used in program.used.items():
        goods = {}
        for number, buy in enumerate(market.buys):
            packs = program.packs[number]
            if buy.supplier != supplier or not program.most_of(packs):
                continue
            program.rows.append(Row({packs: 1, is_used: -program.most_of(packs)}, 0))
            if buy.offer.price is None:
                unpriced[packs] = buy.offer.pack
            elif buy.offer.price:
                goods[packs] = market.coins(buy.offer.price)
        cost |= goods
        terms = market.suppliers[supplier]
        if terms.postage:
            cost[is_used] = market.coins(terms.postage)
        smallest = market.coins(terms.smallest_order)
        if smallest:
            top_up = program.helper(0, smallest, whole=False)
            cost[top_up] = 1
            program.rows.append(Row({is_used: smallest, top_up: -1, **{at: -price for at, price in goods.items()}}, 0))


def _add_arrival(program: Program, market: Market) -> None:
    before = 0
    for step in arrival_steps(market):
        at = program.helper(0, 1)
        program.levels["arrival"][at] = step - before
        before = step
        for number, packs in enumerate(program.packs):
            if program.most_of(packs) and days_of(market, number) >= step:
                program.rows.append(Row({packs: 1, at: -program.most_of(packs)}, 0))
