"""The gaps of an order whose places act together: what they need beside all cards, and what is bought for them.

Where their stacks can be listed, they are searched as gaps of the order (`cells_together.py`): what is bought is proven
cheapest where a plan serves every reading with it, and else bounded. Where it is not, they come after the gaps that
stand alone: from what the drawer and the parcel leave over, and what is bought beside: by the fewest pieces and by what
is cheap, from all suppliers, from each alone and from two of them, whichever costs least in all. A piece more is bought
where that adds least to the cost of what is bought already.

What is fitted at a reading is what a plan of it gives, with drawer and parcel, less what others set aside.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from itertools import combinations
from typing import NamedTuple

from shimopt.job import Job
from shimopt.job.levels import Level
from shimopt.ordering.cells_together import Cells, coverage_together
from shimopt.ordering.cheapest_order import Hunt, Step
from shimopt.ordering.coverage import Coverage
from shimopt.ordering.demand import TOGETHER, demand_of
from shimopt.ordering.market import as_charged, bills_of, least_charge
from shimopt.ordering.order_request import Case
from shimopt.ordering.purchase import Books, Purchase
from shimopt.ordering.readings_together import Table, Together, cell_by_cell, open_cells, table_of
from shimopt.ordering.unserved_together import gaps_left_open
from shimopt.parts import Offer, StockLine
from shimopt.proof.exact_bounds import NO_END
from shimopt.watch import Watch

# what makes a gap inside comes first as ever, then what is cheap
_COST_FIRST = (Level.OUTSIDE, Level.MISS, Level.UNPROVEN, Level.DOUBT, Level.EXCESS, Level.COST)

# how many readings of a gap are looked at where no blades read it, until what is bought serves those between them
_POINTS = (3, 5, 9)

Answered = tuple[Case, Purchase, Sequence[Step]]


def with_tables(case: Case, purchase: Purchase, steps: Sequence[Step], watch: Watch) -> Answered:
    """The case, its purchase and its levels with what acts together answered, as far as that was found."""
    start, now, tables, left, least = case, purchase, list[Table](), list[Together](), 0
    for points in _POINTS:
        found = _of_listed(start, purchase, steps, points, watch)
        if points == _POINTS[0] or len(found.left) < len(left):
            case, now, tables, steps, left, _ = found
        least = max(least, found.least)
        # blades show no more than their pairs; what cannot be listed at few readings cannot at more
        if not any(not demand.pairs for one in left for demand in one.demands) or watch.over():
            break
    for one in left:
        answer = min(_ways(case, now, one, watch), key=lambda way: _judged(case, *way), default=None)
        if answer is not None:
            now = _with_aside(case, Purchase(answer[1], now.aside), [*tables, answer[0]])
            table = _as_planned(case, now, one, len(tables), watch)
            same = table is not None and open_cells(table) <= open_cells(answer[0])
            tables.append(table if table is not None and same else answer[0])
            now = _with_aside(case, now, tables)
            case = replace(case, searched_together=False, cells=())
    senders = sorted({buy.supplier for buy in start.market.buys}) if tables and left else []
    for supplier in senders if len(senders) > 1 else []:
        alone = None if watch.over() else _of_supplier(start, purchase, steps, supplier, watch)
        if alone is not None and _left_and_cost(start, *alone) < _left_and_cost(start, now, tables):
            # fewer offers are looked at more closely
            (now, tables), case = alone, replace(start, searched_together=False, cells=())
    if left and not any(table.open for table in tables):
        # what serves every reading serves those that were looked at
        steps = [s._replace(bound=max(s.bound or 0, least)) if s.level == "cost" else s for s in steps]
    return _answered(case, purchase, now, tables, steps) if tables else (case, purchase, steps)


def _left_and_cost(case: Case, purchase: Purchase, tables: Sequence[Table]) -> tuple[int, ...]:
    """What cards leave open, what tables do, less the gaps that have one; then pieces without a price, and the cost."""
    served = sum(len(table.demands) for table in tables)
    of_cards = (case.books.value_of(level, purchase) for level in ("open", "missing"))
    of_money = (case.books.value_of(level, purchase) for level in ("unpriced", "cost"))
    return *of_cards, sum(len(open_cells(table)) for table in tables) - served, *of_money


def _of_supplier(
    case: Case, purchase: Purchase, steps: Sequence[Step], supplier: int, watch: Watch
) -> tuple[Purchase, list[Table]] | None:
    """What a supplier alone sends for all gaps, where listed stacks answer them; packs as the market numbers them."""
    books = Books(case.books.coverages, case.books.stock, case.market.of([supplier]))
    found = _of_listed(replace(case, books=books), purchase, steps, _POINTS[-1], watch)
    if found.left:
        return None
    packs = iter(found.purchase.packs)
    whole = tuple(next(packs) if buy.supplier == supplier else 0 for buy in case.market.buys)
    return replace(found.purchase, packs=whole), found.tables


class _Listed(NamedTuple):
    """The case with what was found of listed stacks: the purchase, tables and levels, and what is left without."""

    case: Case
    purchase: Purchase
    tables: list[Table]
    steps: Sequence[Step]
    left: list[Together]
    # what no order that serves the readings looked at costs less than [coins]
    least: int = 0


def _of_listed(case: Case, purchase: Purchase, steps: Sequence[Step], points: int, watch: Watch) -> _Listed:
    """What acts together searched as gaps of the order, with so many readings of what no blades read."""
    listed, left = list[tuple[Together, Coverage]](), list[Together]()
    for one in _asked(case):
        coverage = _coverage(case, one, points)
        if coverage is None:
            left.append(one)
        else:
            listed.append((one, coverage))
    least = 0
    while listed:
        known, best = _searched(case, [coverage for _, coverage in listed], steps, watch)
        planned = None if best is None else _planned(case, best, listed, watch)
        if not any(coverage.hopeless for _, coverage in listed):
            least = max(least, next(step.bound or 0 for step in known if step.level == "cost"))
        if best is None or planned is None:
            left += [one for one, _ in listed]
            break
        if all(planned):
            blades = all(demand.pairs for one, _ in listed for demand in one.demands)
            cells = tuple(Cells(one.demands, coverage) for one, coverage in listed if blades)
            case = replace(case, searched_together=True, cells=cells)
            return _Listed(case, best, [table for table in planned if table], known, left)
        # what no plan serves keeps nothing from the others
        left += [one for (one, _), table in zip(listed, planned, strict=True) if table is None]
        listed = [pair for pair, table in zip(listed, planned, strict=True) if table is not None]
    return _Listed(case, purchase, [], steps, left, least)


def _answered(case: Case, first: Purchase, now: Purchase, tables: Sequence[Table], steps: Sequence[Step]) -> Answered:
    """All of it with these tables."""
    answered = {(table.job, demand.gap.name) for table in tables for demand in table.demands}
    left = tuple(one for one in case.unanswered if (one.job, one.gap.name) not in answered)
    more = tuple(after - before for after, before in zip(now.packs, first.packs, strict=True))
    return replace(case, tables=tuple(tables), for_tables=more, unanswered=left), _with_aside(case, now, tables), steps


def steps_of_all(case: Case, purchase: Purchase, steps: Sequence[Step]) -> list[Step]:
    """The levels of the whole purchase; what is bought for places that act together may be proven enough alone."""
    left_open, surely = gaps_left_open(case.jobs, case.tables)
    if case.searched_together:
        # of all stacks on offer none serves what their tables leave open
        surely = left_open
    found = [
        step._replace(
            value=step.value + left_open,
            bound=None if step.bound is None else step.bound + surely,
            proven=step.proven and left_open == surely,
        )
        if step.level == "open"
        else step
        for step in steps
    ]
    if not any(case.for_tables) or case.searched_together:
        return found
    steps, found = found, []
    for step in steps:
        value = case.books.value_of(step.level, purchase)
        alike = step.level in ("open", "missing")
        bound = step.bound if step.level == "cost" else None
        # none at all cannot be fewer
        none = step.level == "unpriced" and not value and all(above.proven for above in found)
        found.append(step if alike else step._replace(value=value, bound=0 if none else bound, proven=none))
    return found


def _with_aside(case: Case, purchase: Purchase, tables: Sequence[Table]) -> Purchase:
    """The same with what these tables take: each goes by its number after those of the gaps with a card."""
    first = len(case.demands)
    aside = {key: n for key, n in purchase.aside.items() if not first <= key[0] < first + len(tables)}
    taken = {(first + k, line): n for k, table in enumerate(tables) for line, n in table.takes.items() if n}
    return replace(purchase, aside=aside | taken)


def _asked(case: Case) -> Iterator[Together]:
    """The clusters that no card of a gap can serve."""
    for number, job in enumerate(case.jobs):
        names = {one.gap.name for one in case.unanswered if one.job == number and one.why in TOGETHER}
        for cluster in job.clusters:
            if not cluster.alone and cluster.gaps and names.issuperset(cluster.gaps):
                demands = [demand_of(number, job, job.gap[name]) for name in cluster.gaps]
                yield Together.of(job, cluster, demands, job.stock)


def _coverage(case: Case, asked: Together, points: int) -> Coverage | None:
    """What acts together as a gap of the order; None where not all stacks can be listed."""
    if case.narrowed is not None:
        return None
    sold = {buy.line for buy in case.market.buys}
    most_of = {line: NO_END if line in sold else count for line, count in enumerate(case.books.stock)}
    suits, own = case.screenings[asked.number].suits, case.own[asked.number]
    usable = {place.name: [line for line in suits[place.name] if line in own] for place in asked.job.places}
    return coverage_together(asked, usable, most_of, points, balanced=case.keeps_balances)


def _searched(
    case: Case, coverages: Sequence[Coverage], steps: Sequence[Step], watch: Watch
) -> tuple[Sequence[Step], Purchase | None]:
    """The levels of the cheapest order for all gaps at once, and this order; none where it costs too much."""
    hunt = Hunt(Books([*case.books.coverages, *coverages], case.books.stock, case.market), None, watch)
    *_, levels = hunt.levels()
    hunt.settle_ties()
    cost = hunt.books.value_of("cost", hunt.best)
    # what is left open is counted by the tables
    known = [step if step.level in ("open", "missing") else other for step, other in zip(steps, levels, strict=True)]
    return known, None if case.coins is not None and cost > case.coins else hunt.best


def _planned(
    case: Case, purchase: Purchase, listed: Sequence[tuple[Together, Coverage]], watch: Watch
) -> list[Table | None] | None:
    """What plans fit with this purchase, where there are any; None where one leaves open what could be served."""
    tables, found = list[Table](), list[Table | None]()
    for one, coverage in listed:
        table = _as_planned(case, _with_aside(case, purchase, tables), one, len(found), watch)
        if table is not None and len(open_cells(table)) > sum(segment.length for segment in coverage.hopeless):
            return None
        found.append(table)
        tables += [table] if table is not None else []
    return found


def _as_planned(case: Case, purchase: Purchase, asked: Together, number: int, watch: Watch) -> Table | None:
    """What plans of the readings fit with drawer and parcel, less what all others set aside."""
    others = {key: count for key, count in purchase.aside.items() if key[0] != len(case.demands) + number}
    stock = _what_is_left(case, replace(purchase, aside=others), asked.job, asked.number, ())
    here = replace(asked, job=replace(asked.job, stock=tuple(stock)))
    return cell_by_cell(here, watch) or table_of(here, watch)


def _ways(case: Case, purchase: Purchase, asked: Together, watch: Watch) -> Iterator[tuple[Table, tuple[int, ...]]]:
    """What to fit, and all packs that are bought then: by the fewest pieces, and by the cost, from whoever it may be.

    A second supplier's postage may cost more than dearer pieces do, so that each alone and two of them are tried.
    """
    every = frozenset(buy.supplier for buy in case.market.buys)
    by_cost = replace(asked, job=replace(asked.job, priority=_COST_FIRST))
    few = [frozenset(some) for n in (1, 2) for some in combinations(sorted(every), n) if n < len(every)]
    used, cheapest = bills_of(case.market, purchase.packs).keys(), NO_END
    for one, senders in ((asked, every), *((by_cost, some) for some in (every, *few))):
        if len(senders) > 1 and senders != every and least_charge(case.market, senders | used) >= cheapest:
            continue
        stock = _what_is_left(case, purchase, asked.job, asked.number, senders)
        table = table_of(replace(one, job=replace(one.job, stock=tuple(stock))), watch)
        more = None if table is None else _bought(case, purchase, table, stock, senders)
        if table is not None and more is not None:
            if not table.open:
                cheapest = min(cheapest, case.books.value_of("cost", Purchase(more, {})))
            yield table, more
        if watch.over():
            return


def _judged(case: Case, table: Table, packs: Sequence[int]) -> tuple[int, ...]:
    """Readings that nothing serves, then what the packs are worth, level by level."""
    bought = Purchase(tuple(packs), {})
    levels = ("unpriced", "cost", "arrival", "bought")
    return len(open_cells(table)), *(case.books.value_of(level, bought) for level in levels)


def refitted(case: Case, parcel: Purchase, watch: Watch) -> tuple[Case, Purchase]:
    """The same with what plans fit where all of a parcel is there, and what is set aside of it then."""
    tables, bare = list(case.tables), replace(case, tables=())
    for n, table in enumerate(case.tables):
        job = case.jobs[table.job]
        names = {demand.gap.name for demand in table.demands}
        cluster = next(cluster for cluster in job.clusters if names == {*cluster.gaps})
        asked = Together.of(job, cluster, table.demands, job.stock)
        found = _as_planned(bare, _with_aside(case, parcel, tables), asked, n, watch)
        if found is not None and open_cells(found) <= open_cells(table):
            tables[n] = found
    return replace(case, tables=tuple(tables)), _with_aside(case, parcel, tables)


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
