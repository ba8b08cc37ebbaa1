"""What plans of the readings fit where places act together, with drawer and parcel, less what others set aside."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

from shimopt.ordering.cheapest_order import Hunt
from shimopt.ordering.choices_together import Choices
from shimopt.ordering.market import as_charged
from shimopt.ordering.order_request import Case
from shimopt.ordering.purchase import Books, Purchase
from shimopt.ordering.readings_together import Table, Together, as_planned, cell_by_cell, share_open, table_of
from shimopt.parts import Offer, StockLine
from shimopt.planner import Chosen
from shimopt.watch import Watch


def planned_tables(
    case: Case, purchase: Purchase, listed: Sequence[tuple[Together, Choices]], watch: Watch
) -> list[Table | None]:
    """What plans fit with this purchase, where there are any."""
    tables, found = list[Table](), list[Table | None]()
    for one, choices in listed:
        table = planned_table(case, with_aside(case, purchase, tables), one, choices, len(found), watch)
        found.append(table)
        tables += [table] if table is not None else []
    return found


def pieces_left(case: Case, purchase: Purchase, asked: Together, number: int) -> dict[int, int]:
    """By stock line, the pieces that what acts together can have, less what all others set aside."""
    others = {key: count for key, count in purchase.aside.items() if key[0] != len(case.demands) + number}
    stock = what_is_left(case, replace(purchase, aside=others), asked, ())
    return {i: line.on_hand for i, line in enumerate(stock)}


def planned_table(
    case: Case, purchase: Purchase, asked: Together, choices: Choices | None, number: int, watch: Watch
) -> Table | None:
    """What plans of the readings fit with drawer and parcel, less what all others set aside."""
    there = pieces_left(case, purchase, asked, number)
    stock = tuple(replace(line, on_hand=there[i], offers=()) for i, line in enumerate(asked.job.stock))
    here = replace(asked, job=replace(asked.job, stock=stock))
    if (found := cell_by_cell(here, watch)) is not None:
        return found
    open_ = choices.left_open(there) if choices is not None and not choices.by_blades else []
    if open_ is None:
        return None
    table = table_of(here, watch, [] if choices is None else [*map(choices.read, open_)])
    return None if table is None else as_planned(here, table, watch)


def without_needless(
    case: Case, first: Purchase, purchase: Purchase, tables: Sequence[Table], watch: Watch
) -> tuple[Purchase, list[Table]]:
    """The same without the packs for what acts together that plans can do without, the dearest first.

    What acts together then takes what it likes of all that is there, and the gaps with cards what is left.
    """
    case, market = replace(case, tables=tuple(tables)), case.market
    for n in sorted(range(len(market.buys)), key=lambda n: -(market.buys[n].offer.price or 0)):
        while purchase.packs[n] > first.packs[n] and not watch.over():
            fewer = as_charged(market, [count - (m == n) for m, count in enumerate(purchase.packs)])
            tried, less = refitted(case, Purchase(fewer, {}), watch)
            there = tried.there(less)
            if min(there.values()) < 0:
                break
            cards = _cards_from(case, there, watch)
            if any(
                case.books.left_open(gap, cards) != case.books.left_open(gap, purchase)
                for gap in range(len(case.demands))
            ):
                break
            case, purchase = tried, with_aside(tried, replace(cards, packs=fewer), tried.tables)
    return purchase, list(case.tables)


def _cards_from(case: Case, there: Mapping[int, int], watch: Watch) -> Purchase:
    """What the gaps with cards set aside of these pieces, to serve as much as they can."""
    stock = [there[i] for i in range(len(case.stock))]
    hunt = Hunt(Books(case.books.coverages, stock, case.market.of(())), None, watch)
    for _ in hunt.levels():
        pass
    return hunt.best


def refitted(case: Case, parcel: Purchase, watch: Watch, today: Sequence[Chosen] = ()) -> tuple[Case, Purchase]:
    """The same with what plans fit where all of a parcel is there, and what is set aside of it then.

    Parameter: today, by job what a plan of today's readings chooses, where balances compare a table's gaps with others.
    """
    tables, bare = list(case.tables), replace(case, tables=())
    for n, table in enumerate(case.tables):
        job = case.jobs[table.job]
        names = {demand.gap.name for demand in table.demands}
        cluster = next(cluster for cluster in job.clusters if names == {*cluster.gaps})
        asked = Together.of(job, cluster, table.demands, job.stock)
        asked = asked.as_today(job, today[table.job]) if today else asked
        choices = case.cells[n] if case.cells else None
        found = planned_table(bare, with_aside(case, parcel, tables), asked, choices, n, watch)
        if found is not None and share_open(found) <= share_open(table):
            tables[n] = found
    return replace(case, tables=tuple(tables)), with_aside(case, parcel, tables)


def compared_with_others(case: Case) -> bool:
    """Whether a balance compares gaps of a table with others."""
    return any(
        own & {*balance.gaps} and not own.issuperset(balance.gaps)
        for table in case.tables
        for own in [{demand.gap.name for demand in table.demands}]
        for balance in case.jobs[table.job].balances
    )


def what_is_left(case: Case, purchase: Purchase, asked: Together, senders: Collection[int]) -> list[StockLine]:
    """The stock less what is set aside for others, with these suppliers' offers; what only other jobs name is out."""
    there = case.there(purchase)
    there.subtract(purchase.set_aside)
    offered: dict[int, list[Offer]] = {}
    for buy in (buy for buy in case.market.buys if buy.supplier in senders):
        offered.setdefault(buy.line, []).append(buy.offer)
    return [
        replace(line, on_hand=max(0, there[i]), offers=tuple(offered.get(i, ())))
        if i in case.own[asked.number]
        else replace(line, on_hand=0, offers=())
        for i, line in enumerate(asked.job.stock)
    ]


def with_aside(case: Case, purchase: Purchase, tables: Sequence[Table]) -> Purchase:
    """The same with what these tables take: each goes by its number after those of the gaps with a card."""
    first = len(case.demands)
    aside = {key: n for key, n in purchase.aside.items() if not first <= key[0] < first + len(tables)}
    taken = {(first + k, line): n for k, table in enumerate(tables) for line, n in table.takes.items() if n}
    return replace(purchase, aside=aside | taken)
