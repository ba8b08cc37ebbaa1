"""Purchases from other suppliers that are as good at every level: ties that no exchange of single packs reaches.

Where each supplier asks for postage, one pack from another costs it once more, so that such a purchase is only found
whole. As many suppliers as the best purchase has are tried, no more.
"""

from __future__ import annotations

from itertools import combinations

from shimopt.ordering.cheapest_order import Hunt
from shimopt.ordering.market import least_charge
from shimopt.ordering.order_request import Case
from shimopt.ordering.purchase import LEVELS, Books, Purchase
from shimopt.watch import Watch

# beyond so many sets of suppliers, or gaps, it takes longer than a tie is worth
_MOST_SETS, _MOST_GAPS = 15, 12


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
