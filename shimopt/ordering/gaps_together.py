"""The gaps of an order whose places act together: what they need beside all cards, and what is bought for them.

Where their stacks can be listed, they are searched as gaps of the order (`cells_together.py`): what is bought is proven
cheapest, and within a limit serves as much as was found. Where they cannot, they come after the gaps that stand alone:
from what the drawer and the parcel leave over, and what is bought beside: by the fewest pieces and by what is cheap,
from all suppliers, from each alone and from two of them, whichever costs least in all. A piece more is bought where
that adds least to the cost of what is bought already; then goes what plans can do without (`planned_together.py`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import combinations
from math import ceil
from typing import NamedTuple

from shimopt.job.levels import Level
from shimopt.ordering.cells_together import choices_together
from shimopt.ordering.cheapest_order import Hunt, Step
from shimopt.ordering.choices_together import Choices, Ends, Reading
from shimopt.ordering.coverage import Coverage
from shimopt.ordering.demand import TOGETHER, demand_of
from shimopt.ordering.market import as_charged, bills_of, least_charge
from shimopt.ordering.order_request import Case
from shimopt.ordering.planned_together import (
    pieces_left,
    planned_table,
    planned_tables,
    what_is_left,
    with_aside,
    without_needless,
)
from shimopt.ordering.purchase import Books, Purchase
from shimopt.ordering.readings_together import Table, Together, share_open, table_of
from shimopt.ordering.unserved_together import gaps_left_open, missing_together
from shimopt.parts import StockLine
from shimopt.proof.exact_bounds import NO_END
from shimopt.watch import Watch

# what makes a gap inside comes first as ever, then what is cheap
_COST_FIRST = (Level.OUTSIDE, Level.MISS, Level.UNPROVEN, Level.DOUBT, Level.EXCESS, Level.COST)

# so often readings that a purchase overlooks are looked at as well, so many at once; and how many runs of readings that
# pieces serve a search may hold
_MOST_ROUNDS, _MOST_MORE, _MOST_RUNS = 25, 8, 60_000
# so often parts of readings are cut anew, into no more than these
_MOST_CUTS, _MOST_PARTS = 4, 300

Answered = tuple[Case, Purchase, Sequence[Step]]


def with_tables(case: Case, purchase: Purchase, steps: Sequence[Step], watch: Watch) -> Answered:
    """The case, its purchase and its levels with what acts together answered, as far as that was found."""
    found = _of_listed(case, purchase, steps, watch)
    start, (case, now, tables, steps, left, least) = case, found
    for one, choices in left:
        answer = min(_ways(case, now, one, watch), key=lambda way: _judged(case, *way), default=None)
        if answer is not None:
            now = with_aside(case, Purchase(answer[1], now.aside), [*tables, answer[0]])
            table = planned_table(case, now, one, choices, len(tables), watch)
            tables.append(answer[0] if table is None or share_open(table) > share_open(answer[0]) else table)
            now = with_aside(case, now, tables)
            case = replace(case, searched_together=False, cells=())
    if left and tables:
        now, tables = without_needless(case, purchase, now, tables, watch)
    if left and not any(table.open for table in tables):
        # what serves every reading serves those that were looked at
        steps = [s._replace(bound=max(s.bound or 0, least)) if s.level == "cost" else s for s in steps]
    return _answered(case, purchase, now, tables, steps) if tables else (start, purchase, steps)


_Asked = tuple[Together, Choices | None]


class _Listed(NamedTuple):
    """The case with what was found of listed stacks: the purchase, tables and levels, and what is left without."""

    case: Case
    purchase: Purchase
    tables: list[Table]
    steps: Sequence[Step]
    left: list[_Asked]
    # what no order that serves the readings looked at costs less than [coins]
    least: int = 0


def _of_listed(case: Case, purchase: Purchase, steps: Sequence[Step], watch: Watch) -> _Listed:
    """What acts together searched as gaps of the order, as far as all choices of its stacks are listed."""
    every = [(one, _choices(case, one)) for one in _asked(case)]
    listed = [(one, choices) for one, choices in every if choices is not None]
    left: list[_Asked] = [(one, None) for one, choices in every if choices is None]
    least = 0
    while listed:
        found, best, least = _serving_all(case, listed, steps, least, watch)
        if best is not None and case.coins is not None and case.books.value_of("cost", best) > case.coins:
            # what cannot be afforded whole is served as far as the money goes
            found, best = _serving_most(case, listed, watch)
        planned = [None] if best is None else planned_tables(case, best, listed, watch)
        if best is not None and all(planned):
            tables = [table for table in planned if table]
            cells = tuple(choices for _, choices in listed)
            return _Listed(replace(case, searched_together=True, cells=cells), best, tables, found, left, least)
        if best is None or not any(planned):
            return _Listed(case, purchase, [], steps, [*listed, *left], least)
        # what no plan serves keeps nothing from the others
        left += [pair for pair, table in zip(listed, planned, strict=True) if table is None]
        listed = [pair for pair, table in zip(listed, planned, strict=True) if table is not None]
    return _Listed(case, purchase, [], steps, left, least)


def _serving_all(
    case: Case, listed: Sequence[tuple[Together, Choices]], steps: Sequence[Step], least: int, watch: Watch
) -> tuple[Sequence[Step], Purchase | None, int]:
    """The cheapest order that serves every reading that can be served, its levels, and what no order costs less than.

    Of the readings of gauges without blades some are looked at, then one more in whatever a purchase leaves open of
    them. None where that came to no end.
    """
    looked = [{*choices.first_readings()} for _, choices in listed]
    for _ in range(_MOST_ROUNDS):
        coverages = [
            choices.coverage(dict.fromkeys(some, max(1, _wide(case, choices) // len(some))))
            for (_, choices), some in zip(listed, looked, strict=True)
        ]
        if watch.over() or sum(len(coverage.candidates) for coverage in coverages) > _MOST_RUNS:
            break
        known, best = _searched(case, coverages, steps, watch)
        least = max(least, next(step.bound or 0 for step in known if step.level == "cost"))
        more = False
        for number, ((one, choices), some) in enumerate(zip(listed, looked, strict=True)):
            there = pieces_left(case, best, one, number)
            open_ = choices.left_open(there)
            if open_ is None:
                return known, None, least
            new = {reading for ends in open_ if (reading := choices.served_in(ends)) is not None} - some
            some |= {*sorted(new)[:_MOST_MORE]}
            more = more or bool(new)
        if not more:
            return known, best, least
    return steps, None, least


def _serving_most(
    case: Case, listed: Sequence[tuple[Together, Choices]], watch: Watch
) -> tuple[Sequence[Step], Purchase]:
    """The order that serves most of the readings for what may be spent: the best found, which is not proven.

    Of lengths equal parts are looked at, each in its middle, then cut where what is bought leaves off to serve them.
    """
    parts, ways = [choices.equal_parts() for _, choices in listed], []
    for number in range(_MOST_CUTS):
        lengths = [_lengths(case, choices, some) for (_, choices), some in zip(listed, parts, strict=True)]
        coverages = [choices.coverage(some) for (_, choices), some in zip(listed, lengths, strict=True)]
        levels, best = _hunted(case, coverages, case.coins, watch)
        open_ = [choices.left_open(pieces_left(case, best, one, n)) or [] for n, (one, choices) in enumerate(listed)]
        share = sum(choices.share(some) for (_, choices), some in zip(listed, open_, strict=True))
        values = [case.books.value_of(level, best) for level in ("open", "missing", "cost")]
        ways.append(((values[0] + sum(map(bool, open_)), values[1], share, values[2], number), levels, best))
        finer = [choices.cut(some, left) for (_, choices), some, left in zip(listed, parts, open_, strict=True)]
        if finer == parts or max(map(len, finer)) > _MOST_PARTS or watch.over():
            break
        parts = finer
    _, levels, best = min(ways, key=lambda way: way[0])
    return [s._replace(value=case.books.value_of(s.level, best), bound=None, proven=False) for s in levels], best


def _lengths(case: Case, choices: Choices, parts: Collection[Ends]) -> dict[Reading, int]:
    """The middles of some parts of all readings, each as long as its share of what all gaps may read together."""
    wide = _wide(case, choices)
    return {tuple((low + high) // 2 for low, high in part): max(1, int(choices.share([part]) * wide)) for part in parts}


def _wide(case: Case, choices: Choices) -> int:
    """How long the readings of all gaps are together [ticks]."""
    return int(sum(demand.width for demand in choices.demands) / case.scale.tick)


def _answered(case: Case, first: Purchase, now: Purchase, tables: Sequence[Table], steps: Sequence[Step]) -> Answered:
    """All of it with these tables."""
    answered = {(table.job, demand.gap.name) for table in tables for demand in table.demands}
    left = tuple(one for one in case.unanswered if (one.job, one.gap.name) not in answered)
    more = tuple(after - before for after, before in zip(now.packs, first.packs, strict=True))
    return replace(case, tables=tuple(tables), for_tables=more, unanswered=left), with_aside(case, now, tables), steps


def steps_of_all(case: Case, purchase: Purchase, steps: Sequence[Step]) -> list[Step]:
    """The levels of the whole purchase; what is bought for places that act together may be proven enough alone."""
    left_open, surely = gaps_left_open(case.jobs, case.tables)
    missing = ceil(missing_together(case.tables) / case.scale.tick)
    # of all stacks on offer none serves what the tables of a search leave open
    certain = {"open": left_open if case.searched_together else surely, "missing": missing * case.searched_together}
    found = []
    for step in steps:
        more, sure = {"open": left_open, "missing": missing}.get(step.level, 0), certain.get(step.level, 0)
        bound = None if step.bound is None else step.bound + sure
        found.append(step._replace(value=step.value + more, bound=bound, proven=step.proven and more == sure))
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


def _asked(case: Case) -> Iterator[Together]:
    """The clusters that no card of a gap can serve."""
    for number, job in enumerate(case.jobs):
        names = {one.gap.name for one in case.unanswered if one.job == number and one.why in TOGETHER}
        for cluster in job.clusters:
            if not cluster.alone and cluster.gaps and names.issuperset(cluster.gaps):
                demands = [demand_of(number, job, job.gap[name]) for name in cluster.gaps]
                yield Together.of(job, cluster, demands, job.stock)


def _choices(case: Case, asked: Together) -> Choices | None:
    """All choices of stacks for what acts together; None where not all can be listed."""
    if case.narrowed is not None:
        return None
    sold = {buy.line for buy in case.market.buys}
    most_of = {line: NO_END if line in sold else count for line, count in enumerate(case.books.stock)}
    suits, own = case.screenings[asked.number].suits, case.own[asked.number]
    usable = {place.name: [line for line in suits[place.name] if line in own] for place in asked.job.places}
    return choices_together(asked, usable, most_of, balanced=case.keeps_balances)


def _searched(
    case: Case, coverages: Sequence[Coverage], steps: Sequence[Step], watch: Watch
) -> tuple[Sequence[Step], Purchase]:
    """The levels of the cheapest order for all gaps at once, and this order, whatever it costs."""
    levels, best = _hunted(case, coverages, None, watch)
    # what is left open is counted by the tables
    known = [step if step.level in ("open", "missing") else other for step, other in zip(steps, levels, strict=True)]
    return known, best


def _hunted(
    case: Case, coverages: Sequence[Coverage], spend: int | None, watch: Watch
) -> tuple[Sequence[Step], Purchase]:
    """The levels of the best order for the gaps with a card and these, and this order; `spend` at most [coins]."""
    hunt = Hunt(Books([*case.books.coverages, *coverages], case.books.stock, case.market), spend, watch)
    *_, levels = hunt.levels()
    hunt.settle_ties()
    return levels, hunt.best


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
        stock = what_is_left(case, purchase, asked, senders)
        table = table_of(replace(one, job=replace(one.job, stock=tuple(stock))), watch)
        more = None if table is None else _bought(case, purchase, table, stock, senders)
        if table is not None and more is not None:
            if not table.open:
                cheapest = min(cheapest, case.books.value_of("cost", Purchase(more, {})))
            yield table, more
        if watch.over():
            return


def _judged(case: Case, table: Table, packs: Sequence[int]) -> tuple[Fraction | int, ...]:
    """Readings that nothing serves, then what the packs are worth, level by level."""
    bought = Purchase(tuple(packs), {})
    levels = ("unpriced", "cost", "arrival", "bought")
    return share_open(table), *(case.books.value_of(level, bought) for level in levels)


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
