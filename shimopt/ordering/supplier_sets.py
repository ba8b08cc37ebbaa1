"""Sets of suppliers: at most so many of them, and others from whom an order is as good.

Where only so many may send, every choice of them is a market of its own, and the best order of all is taken. Purchases
from other suppliers that are as good at every level are ties that no exchange of single packs reaches: where each asks
for postage, one pack from another costs it once more, so that such a purchase is only found whole. As many suppliers as
the best purchase has are tried, no more.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import combinations
from math import comb

from shimopt.errors import InputError
from shimopt.ordering.cheapest_order import Hunt, Step
from shimopt.ordering.gaps_together import Answered, steps_of_all
from shimopt.ordering.market import Market, bills_of, least_charge
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


def best_of(found: Iterable[Answered]) -> Answered:
    """The order that is best level by level; its levels are proven as far as those of all choices are."""
    every = list(found)
    if len(every) == 1:
        return every[0]
    case, purchase, steps = min(every, key=_judged)
    known = [all(step.proven for step in levels) for levels in zip(*(steps for _, _, steps in every), strict=True)]
    told: list[Step] = []
    for number, step in enumerate(steps):
        proven = all(known[: number + 1])
        told.append(step if proven else step._replace(bound=None, proven=False))
    return case, purchase, told


def _judged(found: Answered) -> tuple[Fraction, ...]:
    """Gaps not answered, then the levels' values, money in the same unit for all."""
    case, purchase, steps = found
    unit = case.market.price_unit
    values = [Fraction(step.value, unit if step.level == "cost" else 1) for step in steps_of_all(case, purchase, steps)]
    return Fraction(len(case.unanswered)), *values


def no_dearer_than_one(found: Answered, hunt: Hunt, answered: Callable[[frozenset[int]], Answered]) -> Answered:
    """The same, or the order of one supplier alone where that is better.

    Only where the cost is not proven and several send. Parameters: hunt, which knows of whom alone nothing cheaper can
    come; answered, finds the best order from some suppliers.
    """
    case, purchase, steps = found
    known = next(step for step in steps if step.level == "cost")
    if known.proven or len(bills_of(case.market, purchase.packs)) < 2 or case.narrowed is not None:
        return found
    every = {buy.supplier for buy in case.market.buys}
    if hunt.branches and hunt.branches[0].senders is not None and not case.tables:
        every = {one for branch in hunt.branches for one in branch.senders or () if len(branch.senders or ()) == 1}
    for supplier in sorted(every):
        of_one = answered(frozenset([supplier]))
        if _judged(of_one) < _judged(found):
            found = _in_whole_market(found, of_one, supplier)
    return found


def _in_whole_market(found: Answered, of_one: Answered, supplier: int) -> Answered:
    """An order of one supplier's goods with all that the other order could choose from, and with its bounds."""
    case, _, steps = found
    small, purchase, own = of_one
    market = case.market

    def whole(packs: Sequence[int]) -> tuple[int, ...]:
        its = iter(packs)
        return tuple(next(its, 0) if buy.supplier == supplier else 0 for buy in market.buys)

    case = replace(
        case,
        tables=small.tables,
        for_tables=whole(small.for_tables) if small.for_tables else (),
        unanswered=small.unanswered,
        searched_together=small.searched_together,
        cells=small.cells,
    )
    told = []
    # of one supplier's prices coins may be larger ones
    larger = market.price_unit // small.market.price_unit
    for step, its in zip(steps, own, strict=True):
        its = its._replace(value=its.value * larger) if its.level == "cost" else its
        proven = step.proven and step.value == its.value
        told.append(its._replace(bound=step.bound if proven or step.level == "cost" else None, proven=proven))
    return case, replace(purchase, packs=whole(purchase.packs)), told


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
