"""What a smallest order leaves over is filled with sizes that may serve: it costs no more than the order alone.

A supplier whose goods stay below its smallest order charges the rest anyway. Which packs are best had for it is a small
knapsack, solved exactly supplier after supplier, by what pieces more are worth (`pieces_more.py`). The drawer's later
jobs are not looked at.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import product
from math import gcd

import numpy as np
from numpy.typing import NDArray

from shimopt.candidates import Scale
from shimopt.ordering.coverage import Candidate
from shimopt.ordering.market import Market, bills_of, days_of
from shimopt.ordering.pieces_more import Gap, PiecesMore, Worth
from shimopt.ordering.purchase import Purchase

# a budget is counted in at most so many steps: finer prices are rounded up to them
_MOST_STEPS = 50_000


@dataclass(frozen=True, slots=True)
class Fill:
    """Packs of one of the market's buys (by number) beside the order, and by gap the stack that serves most with them.

    Such a stack needs more of the part than the gap can have without them.
    """

    buy: int
    packs: int
    serves: Mapping[int, Candidate]


@dataclass(frozen=True, slots=True)
class _Choice:
    """So many packs of each buy of one size, with what they cost [steps]."""

    packs: Mapping[int, int]
    pieces: int
    cost: int
    worth: Worth


def topped_up(
    market: Market, purchase: Purchase, gaps: Sequence[Gap], there: Mapping[int, int], scale: Scale
) -> tuple[Fill, ...]:
    """What fills the smallest orders of a purchase, in the market's order; nothing that comes later than the order.

    Parameter: there, how many pieces of each stock line all gaps together can have.
    """
    short = {supplier: left for supplier, (_, left, _) in bills_of(market, purchase.packs).items() if left}
    if not short:
        return ()
    found, more, pieces_more = list[Fill](), Counter[int](), PiecesMore(gaps, there, scale)
    for supplier, left in short.items():
        buys = _offered(market, purchase, supplier)
        worths = {line: pieces_more.worths(line, more[line]) for line in sorted({market.buys[n].line for n in buys})}
        for n, count in sorted(_best(market, buys, left, worths, purchase.packs).items()):
            line, pieces = market.buys[n].line, count * market.buys[n].offer.pack
            more[line] += pieces
            found.append(Fill(n, count, pieces_more.serves(line, pieces)))
    return tuple(found)


def _offered(market: Market, purchase: Purchase, supplier: int) -> list[int]:
    """The buys that may be added: of what is bought already no other price is asked, and nothing comes later."""
    bought = {market.buys[n].first: n for n, packs in enumerate(purchase.packs) if packs}
    last = max((days_of(market, n) for n in bought.values()), default=0)
    return [
        n
        for n, buy in enumerate(market.buys)
        if buy.supplier == supplier and buy.offer.price and bought.get(buy.first, n) == n and days_of(market, n) <= last
    ]


def _best(
    market: Market, buys: Sequence[int], left: int, worths: Mapping[int, Sequence[Worth]], bought: Sequence[int]
) -> dict[int, int]:
    """The packs worth most of all that the money left buys; of equal ones those of the fewest pieces."""
    prices = [market.coins(market.buys[n].offer.price or Decimal(0)) for n in buys]
    step = max(gcd(left, *prices), -(-left // _MOST_STEPS))
    budget = left // step
    # both worths and the pieces, by what may be spent
    values, taken = np.zeros((3, budget + 1), dtype=np.int64), []
    for line, worth in worths.items():
        of_line = [n for n in buys if market.buys[n].line == line]
        choices = [one for one in _choices(market, of_line, worth, step, bought) if one.cost <= budget]
        best, which = values.copy(), np.zeros(budget + 1, dtype=np.int64)
        for number, choice in enumerate(choices, start=1):
            more = values[:, : budget + 1 - choice.cost] + np.array([[*choice.worth, -choice.pieces]]).T
            at = best[:, choice.cost :]
            better = _is_better(more - at)
            at[:, better] = more[:, better]
            which[choice.cost :][better] = number
        values = best
        taken.append((choices, which))
    packs: dict[int, int] = {}
    for choices, which in reversed(taken):
        if which[budget]:
            choice = choices[which[budget] - 1]
            packs |= choice.packs
            budget -= choice.cost
    return packs


def _is_better(gained: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Where the first row that is not nought is above it."""
    better, alike = np.zeros(gained.shape[1], dtype=bool), np.ones(gained.shape[1], dtype=bool)
    for row in gained:
        better |= alike & (row > 0)
        alike &= row == 0
    return better


def _choices(
    market: Market, buys: Sequence[int], worth: Sequence[Worth], step: int, bought: Sequence[int]
) -> Iterator[_Choice]:
    """So many packs of one size from each of its offers, as far as their pieces are worth anything."""
    useful = len(worth) - 1
    firsts = sorted({market.buys[n].first for n in buys})
    ranges = [range(-(-useful // market.buys[n].offer.pack) + 1) for n in firsts]
    for counts in product(*ranges):
        packs: dict[int, int] = {}
        for first, count in zip(firsts, counts, strict=True):
            same = [n for n in buys if market.buys[n].first == first and market.buys[n].takes(bought[n] + count)]
            packs |= dict.fromkeys(same[:1], count) if count else {}
        if packs and sum(packs.values()) == sum(counts):
            offers = [(market.buys[n].offer, count) for n, count in packs.items()]
            pieces = sum(count * offer.pack for offer, count in offers)
            coins = sum(count * market.coins(offer.price or Decimal(0)) for offer, count in offers)
            yield _Choice(packs, pieces, -(-coins // step), worth[min(pieces, useful)])
