"""What a smallest order leaves over is filled with sizes that may serve, so that nothing is paid for nothing.

A supplier sends no goods that stay below its smallest order. Which packs are best had for what is missing is a small
knapsack, solved exactly supplier after supplier, by what pieces more are worth (`pieces_more.py`). Where some of it
buys nothing, a little more may: it is spent where it is no more than what is lost without it. The drawer's later jobs
are not looked at.
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
# no supplier is offered to be sent more packs than this
_MOST_MORE = 20


@dataclass(frozen=True, slots=True)
class Fill:
    """Packs of one of the market's buys (by number) beside the order, and by gap the stack that serves most with them.

    Such a stack needs more of the part than the gap can have without them, `useful` pieces for all gaps: the others are
    spares. `cost` is what they add to the goods [coins]: with them all packs of an offer may come at a lower price.
    """

    buy: int
    packs: int
    cost: int
    serves: Mapping[int, Candidate]
    useful: int = 0


@dataclass(frozen=True, slots=True)
class _Choice:
    """So many packs of each buy of one size, with what they cost [steps], and what each adds to the goods [coins]."""

    packs: Mapping[int, int]
    pieces: int
    cost: int
    worth: Worth
    added: Mapping[int, int]


def topped_up(
    market: Market,
    purchase: Purchase,
    gaps: Sequence[Gap],
    there: Mapping[int, int],
    scale: Scale,
    spare: int | None = None,
) -> tuple[Fill, ...]:
    """What fills the smallest orders of a purchase, in the market's order; nothing that comes later than the order.

    Parameters: there, how many pieces of each stock line all gaps together can have; spare, how much more than the
    smallest orders may be spent [coins].
    """
    short = {supplier: left for supplier, (_, left, _) in bills_of(market, purchase.packs).items() if left}
    if not short:
        return ()
    found, more, pieces_more = list[Fill](), Counter[int](), PiecesMore(gaps, there, scale)
    for supplier, left in short.items():
        buys = _offered(market, purchase.packs, supplier)
        worths = {line: pieces_more.worths(line, more[line]) for line in sorted({market.buys[n].line for n in buys})}
        best = _best(market, buys, left, worths, purchase.packs, left if spare is None else min(left, spare))
        spare = None if spare is None else spare - max(0, _cost(best) - left)
        for n, (count, cost) in sorted(best.items()):
            line, pieces = market.buys[n].line, count * market.buys[n].offer.pack
            more[line] += pieces
            useful = min(pieces, pieces_more.most_useful(line))
            found.append(Fill(n, count, cost, pieces_more.serves(line, pieces), useful))
    return tuple(found)


def reaching(market: Market, packs: Sequence[int], supplier: int) -> tuple[int, int, int] | None:
    """What of the parts bought from a supplier brings its goods up to its smallest order at the least cost.

    Which of the market's buys, how many packs more, and what the goods are then [coins]; None where that is many packs.
    """
    least, found = market.coins(market.suppliers[supplier].smallest_order), list[tuple[int, int, int]]()
    lines = {buy.line for buy, count in zip(market.buys, packs, strict=True) if count and buy.supplier == supplier}
    for n in _offered(market, packs, supplier):
        first = market.buys[n].first
        had = sum(packs[m] for m, buy in enumerate(market.buys) if buy.first == first)
        for more in range(1, _MOST_MORE + 1) if market.buys[n].line in lines else ():
            if not market.buys[n].takes(had + more):
                continue
            then = [0 if buy.first == first else count for buy, count in zip(market.buys, packs, strict=True)]
            then[n] = had + more
            goods = bills_of(market, then)[supplier][0]
            if goods >= least:
                found.append((goods, more, n))
                break
    goods, more, n = min(found, default=(0, 0, 0))
    return (n, more, goods) if found else None


def _offered(market: Market, bought: Sequence[int], supplier: int) -> list[int]:
    """The buys that may be added: nothing comes later."""
    last = max((days_of(market, n) for n, packs in enumerate(bought) if packs), default=0)
    return [
        n
        for n, buy in enumerate(market.buys)
        if buy.supplier == supplier and buy.offer.price and days_of(market, n) <= last
    ]


def _best(
    market: Market,
    buys: Sequence[int],
    left: int,
    worths: Mapping[int, Sequence[Worth]],
    bought: Sequence[int],
    dearer: int,
) -> dict[int, tuple[int, int]]:
    """The packs worth most of all that the money left buys, and what they add to the goods [coins]; of equal ones those
    of the fewest pieces.

    Where they leave some of it, the packs that for up to `dearer` leave none, if that is no more than what they left.
    """
    prices = [_coins(market, n) for n in buys]
    step = max(gcd(left, *prices), -(-left // _MOST_STEPS))
    budget = (left + dearer) // step
    # both worths and the pieces, by what may be spent
    values, taken = np.zeros((3, budget + 1), dtype=np.int64), []
    for line, worth in worths.items():
        of_line = [n for n in buys if market.buys[n].line == line]
        choices = _undercut([one for one in _choices(market, of_line, worth, step, bought) if one.cost <= budget])
        best, which = values.copy(), np.zeros(budget + 1, dtype=np.int64)
        for number, choice in enumerate(choices, start=1):
            more = values[:, : budget + 1 - choice.cost] + np.array([[*choice.worth, -choice.pieces]]).T
            at = best[:, choice.cost :]
            better = _is_better(more - at)
            at[:, better] = more[:, better]
            which[choice.cost :][better] = number
        values = best
        taken.append((choices, which))
    within = _taken_for(left // step, taken)
    lost = left - _cost(within)
    for n in range(left // step + 1, (left + min(lost, dearer)) // step + 1):
        if (values[:, n] != values[:, n - 1]).any() and _cost(beyond := _taken_for(n, taken)) >= left:
            return beyond
    return within


def _taken_for(budget: int, taken: Sequence[tuple[Sequence[_Choice], NDArray[np.int64]]]) -> dict[int, tuple[int, int]]:
    """The packs that a budget [steps] is best spent on, by what was chosen of each size for every budget."""
    packs: dict[int, tuple[int, int]] = {}
    for choices, which in reversed(taken):
        if which[budget]:
            choice = choices[which[budget] - 1]
            packs |= {n: (count, choice.added[n]) for n, count in choice.packs.items()}
            budget -= choice.cost
    return packs


def _cost(packs: Mapping[int, tuple[int, int]]) -> int:
    return sum(cost for _, cost in packs.values())


def _is_better(gained: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Where the first row that is not nought is above it."""
    better, alike = np.zeros(gained.shape[1], dtype=bool), np.ones(gained.shape[1], dtype=bool)
    for row in gained:
        better |= alike & (row > 0)
        alike &= row == 0
    return better


def _undercut(choices: Sequence[_Choice]) -> list[_Choice]:
    """The choices without those that cost more than another of as many pieces or more."""
    return [one for one in choices if not any(o.pieces >= one.pieces and o.cost < one.cost for o in choices)]


def _choices(
    market: Market, buys: Sequence[int], worth: Sequence[Worth], step: int, bought: Sequence[int]
) -> Iterator[_Choice]:
    """So many packs of one size from each of its offers, as far as their pieces are worth anything.

    With what is bought already a lower price may be reached: so many packs are a choice too.
    """
    useful = len(worth) - 1
    by_first: dict[int, list[int]] = {}
    for n in buys:
        by_first.setdefault(market.buys[n].first, []).append(n)
    had = {first: sum(bought[n] for n, buy in enumerate(market.buys) if buy.first == first) for first in by_first}
    counts = [_counts(market, same, had[first], useful) for first, same in by_first.items()]
    for some in product(*counts):
        packs, added = dict[int, int](), dict[int, int]()
        for (first, same), count in zip(by_first.items(), some, strict=True):
            at = next((n for n in same if market.buys[n].takes(had[first] + count)), None)
            if count and at is not None:
                packs[at] = count
                # what is bought already comes at the price for all of them
                before = sum(bought[n] * _coins(market, n) for n in same)
                added[at] = (had[first] + count) * _coins(market, at) - before
        if packs and sum(packs.values()) == sum(some) and all(coins >= 0 for coins in added.values()):
            pieces = sum(count * market.buys[n].offer.pack for n, count in packs.items())
            yield _Choice(packs, pieces, -(-sum(added.values()) // step), worth[min(pieces, useful)], added)


def _counts(market: Market, same: Sequence[int], had: int, useful: int) -> list[int]:
    """How many packs of an offer may be added: as many as are worth anything, or as reach one of its lower prices."""
    pack = market.buys[same[0]].offer.pack
    lower = {market.buys[n].least - had for n in same}
    return sorted({*range(-(-useful // pack) + 1)} | {count for count in lower if useful and count > 0})


def _coins(market: Market, number: int) -> int:
    return market.coins(market.buys[number].offer.price or Decimal(0))
