"""The gaps of an order whose places act together: what they need beside all cards, and what is bought for them.

They come after the gaps that stand alone: from what the drawer and the parcel leave over, and what is bought beside: by
the fewest pieces and by what is cheap, from all suppliers and from each alone, whichever costs least in all. A piece
more is bought where that adds least to the cost of what is bought already. That nothing is cheaper is not proven, and
the order's levels say so.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace

from shimopt.job import Job
from shimopt.job.levels import Level
from shimopt.ordering.demand import demand_of
from shimopt.ordering.market import as_charged
from shimopt.ordering.order_request import Case
from shimopt.ordering.purchase import Purchase
from shimopt.ordering.readings_together import Table, Together, open_cells, table_of
from shimopt.parts import Offer, StockLine
from shimopt.watch import Watch

# what makes a gap inside comes first as ever, then what is cheap
_COST_FIRST = (Level.OUTSIDE, Level.MISS, Level.UNPROVEN, Level.DOUBT, Level.EXCESS, Level.COST)


def with_tables(case: Case, purchase: Purchase, watch: Watch) -> tuple[Case, Purchase]:
    """The case and its purchase with what acts together answered, as far as that was found."""
    tables, first = list[Table](), purchase
    for number, job in enumerate(case.jobs):
        asked = [one for one in case.unanswered if one.job == number]
        names = {one.gap.name for one in asked if one.why in ("several gaps", "several places", "equal")}
        for cluster in job.clusters:
            if cluster.alone or not cluster.gaps or not names.issuperset(cluster.gaps):
                continue
            demands = [demand_of(number, job, job.gap[name]) for name in cluster.gaps]
            ways = _ways(case, purchase, Together.of(job, cluster, demands, job.stock), watch)
            table, more = min(ways, key=lambda way: _judged(case, *way), default=(None, ()))
            if table is None:
                continue
            held = {(len(case.demands) + len(tables), line): count for line, count in table.takes.items() if count}
            purchase = Purchase(more, {**purchase.aside, **held})
            tables.append(table)
    answered = {(table.job, demand.gap.name) for table in tables for demand in table.demands}
    left = tuple(one for one in case.unanswered if (one.job, one.gap.name) not in answered)
    more = tuple(now - before for now, before in zip(purchase.packs, first.packs, strict=True))
    return replace(case, tables=tuple(tables), for_tables=more, unanswered=left), purchase


def _ways(case: Case, purchase: Purchase, asked: Together, watch: Watch) -> Iterator[tuple[Table, tuple[int, ...]]]:
    """What to fit, and all packs that are bought then: by the fewest pieces, and by the cost, from whoever it may be.

    A second supplier's postage may cost more than dearer pieces do, so that each alone is tried as well.
    """
    suppliers = sorted({buy.supplier for buy in case.market.buys})
    by_cost = replace(asked, job=replace(asked.job, priority=_COST_FIRST))
    alone = [frozenset([one]) for one in suppliers] if len(suppliers) > 1 else []
    for one, senders in ((asked, frozenset(suppliers)), *((by_cost, some) for some in (frozenset(suppliers), *alone))):
        stock = _what_is_left(case, purchase, asked.job, asked.number, senders)
        table = table_of(replace(one, job=replace(one.job, stock=tuple(stock))), watch)
        more = None if table is None else _bought(case, purchase, table, stock, senders)
        if table is not None and more is not None:
            yield table, more
        if watch.over():
            return


def _judged(case: Case, table: Table, packs: Sequence[int]) -> tuple[int, ...]:
    """Readings that nothing serves, then what the packs are worth, level by level."""
    bought = Purchase(tuple(packs), {})
    levels = ("unpriced", "cost", "arrival", "bought")
    return len(open_cells(table)), *(case.books.value_of(level, bought) for level in levels)


def _what_is_left(case: Case, purchase: Purchase, job: Job, number: int, senders: Collection[int]) -> list[StockLine]:
    """The stock less what is set aside for others, with these suppliers' offers; what only other jobs name is out."""
    there = case.there(purchase)
    there.subtract(purchase.set_aside)
    offered: dict[int, list[Offer]] = {}
    for buy in (buy for buy in case.market.buys if buy.supplier in senders):
        offered.setdefault(buy.line, []).append(buy.offer)
    return [
        replace(line, on_hand=max(0, there[i]), offers=tuple(offered.get(i, ())))
        if i in case.own[number]
        else replace(line, on_hand=0, offers=())
        for i, line in enumerate(job.stock)
    ]


def _bought(
    case: Case, purchase: Purchase, table: Table, stock: Sequence[StockLine], senders: Collection[int]
) -> tuple[int, ...] | None:
    """The packs with what a table lacks, where that adds least to the cost; None where it cannot be afforded."""
    packs = list(purchase.packs)
    short = Counter({line: count - stock[line].on_hand for line, count in table.takes.items()})
    for line, count in sorted((+short).items()):
        offers = [n for n, buy in enumerate(case.market.buys) if buy.line == line and buy.supplier in senders]
        if not offers:
            return None
        ways = []
        for n in offers:
            more = list(packs)
            more[n] += -(-count // case.market.buys[n].offer.pack)
            bought = Purchase(as_charged(case.market, more), {})
            value = [case.books.value_of(level, bought) for level in ("unpriced", "cost", "arrival", "bought")]
            ways.append((value, n, list(bought.packs)))
        packs = min(ways)[2]
    cost = case.books.value_of("cost", Purchase(tuple(packs), {}))
    return None if case.coins is not None and cost > case.coins else tuple(packs)
