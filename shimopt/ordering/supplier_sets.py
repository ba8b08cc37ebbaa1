"""Sets of suppliers: at most so many of them, and others from whom an order is as good.

Where only so many may send, every choice of them is a market of its own, and the best order of all is taken. Purchases
from other suppliers that are as good at every level are ties that no exchange of single packs reaches: where each asks
for postage, one pack from another costs it once more, so that such a purchase is only found whole. As many suppliers as
the best purchase has are tried, no more.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import combinations
from math import comb

from shimopt.errors import InputError
from shimopt.ordering.cheapest_order import Hunt, Step
from shimopt.ordering.large_market_search import Found
from shimopt.ordering.market import Market, least_charge
from shimopt.ordering.order_request import Case
from shimopt.ordering.purchase import LEVELS, Books, Purchase
from shimopt.watch import Watch

_MOST_CHOICES = 60
# beyond so many sets of suppliers, or gaps, it takes longer than a tie is worth
_MOST_SETS, _MOST_GAPS = 15, 12


def sender_sets(market: Market, most: int) -> Sequence[frozenset[int]]:
    """Every choice of so many of the suppliers that offer anything; all where they are no more. Raises InputError."""
    senders = sorted({buy.supplier for buy in market.buys})
    count = min(most, len(senders))
    if comb(len(senders), count) > _MOST_CHOICES:
        raise InputError.at(
            "",
            f"{comb(len(senders), count)} choices of suppliers are too many to compare",
            f"name fewer, or one more or less of the {len(senders)} who offer something",
            where="--suppliers",
            value=str(most),
        )
    return [frozenset(some) for some in combinations(senders, count)]


def best_of(found: Iterable[Found]) -> Found:
    """The order that is best level by level; its levels are proven as far as those of all choices are."""
    every = list(found)
    if len(every) == 1:
        return every[0]
    case, hunt, steps = min(every, key=_values)
    known = [all(step.proven for step in levels) for levels in zip(*(steps for _, _, steps in every), strict=True)]
    told: list[Step] = []
    for number, step in enumerate(steps):
        proven = all(known[: number + 1])
        told.append(step if proven else step._replace(bound=None, proven=False))
    return case, hunt, told


def _values(found: Found) -> tuple[Fraction, ...]:
    """The levels' values, money in the same unit for all."""
    case, _, steps = found
    unit = case.market.price_unit
    return tuple(Fraction(step.value, unit if step.level == "cost" else 1) for step in steps)


def as_good_elsewhere(case: Case, best: Purchase, watch: Watch) -> list[Purchase]:
    """The best purchases from other sets of suppliers that are as good as this one."""
    books, market = case.books, case.market
    used = {market.buys[n].supplier for n, packs in enumerate(best.packs) if packs}
    values = [books.value_of(level, best) for level in LEVELS]
    every = combinations(sorted({buy.supplier for buy in market.buys}), len(used))
    sets = [some for some in every if {*some} != used and least_charge(market, some) <= values[LEVELS.index("cost")]]
    if not used or len(sets) > _MOST_SETS or len(books.coverages) > _MOST_GAPS or case.narrowed is not None:
        return []
    found = []
    for some in sets:
        if watch.over():
            break
        numbers = [n for n, buy in enumerate(market.buys) if buy.supplier in some]
        hunt = Hunt(Books(books.coverages, books.stock, market.of(some)), case.coins, watch)
        *_, _ = hunt.levels()
        packs = dict(zip(numbers, hunt.best.packs, strict=True))
        other = Purchase(tuple(packs.get(n, 0) for n in range(len(market.buys))), hunt.best.aside)
        if [books.value_of(level, other) for level in LEVELS] == values:
            found.append(other)
    return found
