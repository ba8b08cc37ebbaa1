"""What a model says of buying: packs enough for what is wanted, and what they add to every level."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from shimopt.choose.whole_model import Helper
from shimopt.ordering.market import Market, arrival_steps, days_of
from shimopt.proof.rows import Row


@dataclass
class Wanted:
    """Of one line: the most that all gaps could ask for, the terms of what they do, and of each gap's first piece."""

    most: int = 0
    pieces: dict[int, int] = field(default_factory=dict)
    firsts: dict[int, dict[int, int]] = field(default_factory=dict)

    def ask(self, gap: int, pieces: Sequence[int]) -> None:
        """A gap may ask for these pieces too."""
        self.most += len(pieces)
        self.pieces |= dict.fromkeys(pieces, 1)
        self.firsts[gap] = {pieces[0]: 1}


@dataclass
class Buying:
    """Where to find it: `packs` are the helpers of the market's offers, `used` those of its suppliers.

    `taken` says of packs with bundle prices whether any are bought at this price, by their helper.
    `holding` numbers the row in which drawer and packs hold a line, `firsts` those in which the first piece of a line
    that is not there asks for a pack and for a supplier, by gap and line.
    """

    packs: list[int] = field(default_factory=list)
    used: dict[int, int] = field(default_factory=dict)
    taken: dict[int, int] = field(default_factory=dict)
    holding: dict[int, int] = field(default_factory=dict)
    firsts: dict[tuple[int, int], tuple[int, int]] = field(default_factory=dict)


class Growing(Protocol):
    """A model that takes helpers and rows."""

    rows: list[Row]
    levels: dict[str, dict[int, int]]
    helpers: list[Helper]

    def helper(self, low: int, high: int, *, whole: bool = True) -> int:
        """A new helper's number."""


def buying(program: Growing, wanted: Mapping[int, Wanted], stock: Sequence[int], market: Market) -> Buying:
    """Add packs, their rows and their terms to a model; `wanted` is by line, `stock` counts what is there."""
    most = []
    for buy in market.buys:
        short = max(0, wanted[buy.line].most - stock[buy.line]) if buy.line in wanted else 0
        # more than anybody asks for may be cheaper at the price of a bundle
        wished = max(-(-short // buy.offer.pack), buy.least) if short else 0
        most.append(wished if buy.most is None else min(wished, buy.most))
    packs = [program.helper(0, count) for count in most]
    used = {supplier: program.helper(0, 1) for supplier in sorted({buy.supplier for buy in market.buys})}
    found = Buying(packs, used)
    _add_bundles(program, found, most, market)
    for line, wants in sorted(wanted.items()):
        if wants.most > stock[line]:
            _add_holding(program, found, line, wants, stock[line], market)
    for supplier in found.used:
        _add_money(program, found, most, supplier, market)
    _add_arrival(program, found, most, market)
    for number, buy in enumerate(market.buys):
        program.levels["bought"][found.packs[number]] = buy.offer.pack
        program.levels["packs"][found.packs[number]] = number + 1
    return found


def _add_holding(program: Growing, found: Buying, line: int, wants: Wanted, there: int, market: Market) -> None:
    """A line's pieces wanted are there or bought."""
    bought = {at: buy for at, buy in zip(found.packs, market.buys, strict=True) if buy.line == line}
    found.holding[line] = len(program.rows)
    program.rows.append(Row({**wants.pieces, **{at: -buy.offer.pack for at, buy in bought.items()}}, there))
    if there or not bought:
        return
    # true of whole packs anyway, and far tighter for the linear relaxation
    sent = sorted({found.used[buy.supplier] for buy in bought.values()})
    for gap, terms in wants.firsts.items():
        found.firsts[gap, line] = (len(program.rows), len(program.rows) + 1)
        # where a price falls with the number, not a part of many packs but the price for so many is taken
        program.rows.append(Row({**terms, **{found.taken.get(at, at): -1 for at in bought}}, 0))
        program.rows.append(Row({**terms, **dict.fromkeys(sent, -1)}, 0))


def _add_bundles(program: Growing, found: Buying, most: Sequence[int], market: Market) -> None:
    """Of an offer with bundle prices packs are bought at one of them: so many at least, or none."""
    taken: dict[int, dict[int, int]] = {}
    for number, buy in enumerate(market.buys):
        if buy.offer.price_from and most[number]:
            is_taken, many = program.helper(0, 1), found.packs[number]
            taken.setdefault(buy.first, {})[is_taken] = 1
            found.taken[many] = is_taken
            program.rows.append(Row({many: 1, is_taken: -most[number]}, 0))
            program.rows.append(Row({is_taken: buy.least, many: -1}, 0))
    program.rows.extend(Row(one_of, 1) for one_of in taken.values())


def _add_money(program: Growing, found: Buying, most: Sequence[int], supplier: int, market: Market) -> None:
    """What a supplier's packs, postage and top-up cost."""
    cost, is_used, terms = program.levels["cost"], found.used[supplier], market.suppliers[supplier]
    goods = {}
    for number, buy in enumerate(market.buys):
        packs = found.packs[number]
        if buy.supplier != supplier or not most[number]:
            continue
        program.rows.append(Row({packs: 1, is_used: -most[number]}, 0))
        if buy.offer.price is None:
            program.levels["unpriced"][packs] = buy.offer.pack
        elif buy.offer.price:
            goods[packs] = market.coins(buy.offer.price)
    cost |= goods
    if terms.postage:
        cost[is_used] = market.coins(terms.postage)
    smallest = market.coins(terms.smallest_order)
    if smallest:
        top_up = program.helper(0, smallest, whole=False)
        cost[top_up] = 1
        program.rows.append(Row({is_used: smallest, top_up: -1, **{at: -price for at, price in goods.items()}}, 0))


def _add_arrival(program: Growing, found: Buying, most: Sequence[int], market: Market) -> None:
    before = 0
    for step in arrival_steps(market):
        at = program.helper(0, 1)
        program.levels["arrival"][at] = step - before
        before = step
        for number, packs in enumerate(found.packs):
            if most[number] and days_of(market, number) >= step:
                program.rows.append(Row({packs: 1, at: -most[number]}, 0))
