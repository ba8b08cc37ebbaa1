"""Demands, coverages, the cheapest purchase, cards, holes, worth, check: an order, in the order of this line."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from functools import partial
from itertools import zip_longest
from time import monotonic

from shimopt.job import Job
from shimopt.ordering.cards import Band, Card
from shimopt.ordering.cheapest_order import Hunt, Step
from shimopt.ordering.cheapest_ways import Way, proven_with
from shimopt.ordering.coverage import Coverage
from shimopt.ordering.gaps_together import Answered, steps_of_all, with_tables
from shimopt.ordering.large_market_search import Found, from_one_supplier, narrowed_hunt
from shimopt.ordering.market import as_charged, bills_of
from shimopt.ordering.mid_window import further_from_limits
from shimopt.ordering.order_request import Case, case_of
from shimopt.ordering.order_result import (
    LevelProof,
    Order,
    Topped,
    asked_by,
    left_over,
    line_of,
    lines_of,
    planned_otherwise,
)
from shimopt.ordering.pieces_more import Gap, card_rows
from shimopt.ordering.planned_together import compared_with_others, refitted
from shimopt.ordering.purchase import LEVELS, Books, Purchase
from shimopt.ordering.recheck import recheck
from shimopt.ordering.row_stack import Preference
from shimopt.ordering.shared_pieces import contested, rather, shared_out
from shimopt.ordering.supplier_sets import as_good_elsewhere, best_of, no_dearer_than_one, sender_sets
from shimopt.ordering.top_up import Fill, topped_up
from shimopt.ordering.unevenness import unevenness
from shimopt.ordering.unserved_readings import holes_of
from shimopt.ordering.unserved_together import table_rows
from shimopt.ordering.worth import Option, with_neighbours
from shimopt.planner import Chosen
from shimopt.watch import Watch

_COST = LEVELS.index("cost")


# the options of the command, each by its name
def make_order(
    jobs: Sequence[Job],
    *,
    within_days: int | None = None,
    spend: Decimal | None = None,
    top_up: bool = True,
    suppliers: int | None = None,
    keep_balances: bool = False,
    watch: Watch | None = None,
) -> Order:
    """The cheapest purchase with which all cards work at once.

    Parameters: jobs, which share drawer and postage; within_days, only what arrives in so many days; spend, the most
    that it may cost, in the currency of the prices; top_up, whether what a smallest order leaves over is filled;
    suppliers, how many may send at most; keep_balances, whether balances that state `within` are kept where places act
    together, whatever that costs; watch, when to stop with what there is: it is told an `OrderSoFar` as soon as
    there is a first order, and after every level. Raises InputError where terms or currencies are missing or do not
    agree, FaultError where the result fails its own check.
    """
    watch, start = watch or Watch(), monotonic()

    def answered(found: Found) -> Answered:
        case, hunt, steps = found
        watch.begins("what it is worth")
        return with_tables(replace(case, fills=top_up, keeps_balances=keep_balances), hunt.best, steps, watch)

    def from_some(senders: frozenset[int]) -> Answered:
        return answered(_affordable(jobs, within_days, spend, senders, watch, start))

    any_of_them = _affordable(jobs, within_days, spend, None, watch, start)
    whole = any_of_them[0]
    case, purchase, steps = no_dearer_than_one(answered(any_of_them), any_of_them[1], from_some)
    if suppliers is not None and len(bills_of(case.market, purchase.packs)) > suppliers:
        alone = from_one_supplier(whole, watch) if suppliers == 1 and whole.narrowed is not None else None
        if alone is not None and (spend is None or alone[2][_COST].value <= int(spend * alone[0].market.price_unit)):
            case, purchase, steps = answered(alone)
        else:
            sets = sender_sets(case_of(jobs, within_days, spend).market, suppliers)
            case, purchase, steps = best_of(map(from_some, sets))
    others = [] if any(case.for_tables) else as_good_elsewhere(case, purchase, watch)
    case = replace(case, most_suppliers=suppliers)
    settled = OrderSoFar(case, purchase, steps, start).settled(watch, others)
    points = [c.at(case.scale.ticks(c.demand.gap.reading.bracket.best)) for c in case.books.coverages]
    points += [cells.today() for cells in case.cells]
    exact = Hunt(Books(points, case.books.stock, case.market), case.coins, watch)
    for _ in exact.levels():
        # of a large market nothing is searched below the cost
        if case.narrowed is not None and exact.held.keys() >= {"cost"}:
            break
    else:
        exact.settle_ties()
    order = replace(settled.order(exact), out_of_time=watch.left() == 0)
    without = partial(make_order, jobs, top_up=top_up, watch=Watch(watch.left(), watch.steps))
    if order.limited and not watch.over() and order.open_together:
        # why it is left open, and what it would cost otherwise
        order = replace(order, unlimited=without(keep_balances=keep_balances))
    if keep_balances or watch.over() or not any(one.rows for one in unevenness(order)):
        return order
    # the levels look at no balance: what would keep it is told with its price
    kept = without(within_days=within_days, spend=spend, suppliers=suppliers, keep_balances=True)
    return replace(order, balanced=kept)


def _affordable(
    jobs: Sequence[Job],
    within_days: int | None,
    spend: Decimal | None,
    senders: frozenset[int] | None,
    watch: Watch,
    start: float,
) -> Found:
    """The best purchase from these suppliers within what may be spent, with its case and levels."""
    if spend is not None:
        # what costs no more anyway is the best whatever may be spent; it is told only then
        left = watch.left()
        half_of_it = Watch(None if left is None else left / 2, watch.steps)
        case, hunt, steps = _found(case_of(jobs, within_days, None, senders, unpriced=False), half_of_it, start)
        if case.books.value_of("cost", hunt.best) <= int(spend * case.market.price_unit):
            case = replace(case, spend=spend)
            watch.told(OrderSoFar(case, hunt.best, steps, start))
            return case, hunt, steps
    return _found(case_of(jobs, within_days, spend, senders), watch, start)


def _found(case: Case, watch: Watch, start: float) -> Found:
    """The best purchase of a case, with what the levels say of it.

    In a large market it is looked for among few sizes first, then among all that an order as good can hold.
    """
    if case.narrowed is not None:
        found = narrowed_hunt(case, watch, lambda some, best, steps: watch.told(OrderSoFar(some, best, steps, start)))
        if found is not None:
            found[1].settle_ties()
            return found
        case = case.whole_market()
    hunt = Hunt(case.books, case.coins, watch)
    for steps in hunt.levels():
        watch.told(OrderSoFar(case, hunt.best, steps, start))
    hunt.settle_ties()
    watch.told(OrderSoFar(case, hunt.best, steps, start))
    return case, hunt, steps


@dataclass(frozen=True, slots=True)
class OrderSoFar:
    """The best purchase found so far and its levels: enough to make an order of it at any moment.

    `today` is what the plan of today's readings chooses with it, by job; none while the search goes on, for it takes
    long. `fills` is what fills its smallest orders.
    """

    case: Case
    purchase: Purchase
    steps: Sequence[Step]
    start: float
    today: Sequence[Chosen] = ()
    fills: Sequence[Fill] = ()

    def settled(self, watch: Watch, others: Sequence[Purchase] = ()) -> OrderSoFar:
        """Of purchases equal at every level, the one that leaves more room to the limits; and what fills it up."""
        case, today = self.case, self.case.today(self.purchase, watch)
        preferences = case.preferences(today)
        further = further_from_limits(case.books, [self.purchase, *others], preferences, case.stock, case.scale, watch)
        today = today if further is self.purchase else case.today(further, watch)
        found = replace(self, purchase=further, today=today)
        fills = found._filling(preferences) if case.fills and not watch.over() else ()
        if not fills and (watch.over() or not compared_with_others(case)):
            return found
        filled = found._filled(fills, watch)
        # what no row takes any more once all of it is there is bought for nothing
        useful = tuple(fill for fill in fills if fill.serves or filled._in_a_table(case.market.buys[fill.buy].line))
        filled = filled if useful == fills else found._filled(useful, watch)
        return replace(filled, today=case.today(filled._parcel, watch)) if fills else filled

    def _filled(self, fills: Sequence[Fill], watch: Watch) -> OrderSoFar:
        """The same with this beside, and what plans fit then."""
        filled = replace(self, fills=fills)
        case, parcel = refitted(self.case, filled._parcel, watch, self.today)
        return replace(filled, case=case, purchase=replace(self.purchase, aside=parcel.aside))

    def _in_a_table(self, line: int) -> bool:
        """Whether a row of a table takes pieces of a stock line."""
        return any(pieces[line] for table in self.case.tables for pieces in table.used)

    @property
    def _steps_now(self) -> list[Step]:
        """The levels, with what the purchase costs now where an exchange found a cheaper one than the search."""
        now = self.case.books.value_of("cost", self.purchase)
        return [one._replace(value=min(one.value, now)) if one.level == "cost" else one for one in self.steps]

    @property
    def _parcel(self) -> Purchase:
        """All that comes: the purchase, with what fills its smallest orders."""
        more = {fill.buy: fill.packs for fill in self.fills}
        packs = tuple(count + more.get(n, 0) for n, count in enumerate(self.purchase.packs))
        return replace(self.purchase, packs=packs)

    def _filling(self, preferences: Sequence[Preference]) -> tuple[Fill, ...]:
        """What is worth most of all that the smallest orders of the purchase pay for anyway."""
        case, books = self.case, self.case.books
        if not any(short for _, short, _ in bills_of(case.market, self.purchase.packs).values()):
            return ()
        shared = self._shared(self.purchase, preferences, case.further(self.purchase))
        there = case.there(self.purchase)
        own = [Counter(shared.pieces_for(g)) for g in range(len(books.coverages))]
        free = there - sum(own, Counter[int]())
        gaps = [
            Gap(c, card_rows(c, rather(c, there, case.scale, preferences[g])), own[g] + free)
            for g, c in enumerate(books.coverages)
        ]
        gaps += [Gap(None, table_rows(table), table.takes) for table in case.tables]
        there += sum((Counter(table.takes) for table in case.tables), Counter[int]())
        spare = None if case.coins is None else case.coins - books.value_of("cost", self.purchase)
        return topped_up(case.market, self.purchase, gaps, there, case.scale, spare)

    def _shared(self, purchase: Purchase, preferences: Sequence[Preference], further: Sequence[Coverage]) -> Purchase:
        """The same, with more set aside for the gaps that may use it; `further`, what it serves beyond their range."""
        case, today = self.case, self.today
        stacks = [today[d.job].stacks.get(d.place.name, ()) for d in case.demands] if today else []
        return shared_out(case.books, purchase, stacks, preferences, case.scale, further)

    def order(self, exact: Hunt | None = None) -> Order:
        """The order, checked by plain arithmetic; the ways to order are compared where the `exact` sizes are known."""
        case, books = self.case, self.case.books
        today = self.today
        preferences = case.preferences(today)
        further = case.further(self._parcel)
        purchase = self._shared(self._parcel, preferences, further)
        cards = case.cards(books, purchase, preferences, further)
        after, left_open = case.there(purchase), [books.left_open(g, purchase) for g in range(len(books.coverages))]
        kept = [Counter(d.place.installed if open_ else ()) for d, open_ in zip(case.demands, left_open, strict=True)]
        used = [card.most_of | stays for card, stays in zip(cards, kept, strict=True)]
        taken = sum(used, Counter[int]())
        holes = tuple(
            hole
            for g, c in enumerate(books.coverages)
            # what another gap holds closes nothing here
            for hole in holes_of(
                g,
                c,
                left_open[g],
                case.stock,
                case.scale,
                partial(case.supply.having(after - (taken - used[g])).known_exactly, c.demand),
            )
        )
        # what tables hold a card might use as well
        every = after + sum((Counter(table.takes) for table in case.tables), Counter[int]())
        alone = [rather(c, every, case.scale, preferences[g], further[g]) for g, c in enumerate(books.coverages)]
        recheck(case.demands, cards, holes, after, case.stock)
        options, (ways, surer) = ((), ((), None)) if exact is None else self._compared(exact, preferences, cards)
        return Order(
            jobs=case.jobs,
            screenings=case.screenings,
            demands=case.demands,
            market=case.market,
            within_days=case.within_days,
            spend=case.spend,
            lines=lines_of(case.market, self.purchase),
            bills=asked_by(case.market, self.purchase, self._parcel.packs, case.coins, adding=case.fills),
            cards=cards,
            holes=holes,
            options=options,
            ways=ways,
            surer=surer,
            left=left_over(after, cards, kept, case.tables),
            levels=tuple(_proof(step, case) for step in steps_of_all(case, self.purchase, self._steps_now)),
            seconds=monotonic() - self.start,
            unanswered=case.unanswered,
            tables=case.tables,
            searched_together=case.searched_together,
            most_suppliers=case.most_suppliers,
            keeps_balances=case.keeps_balances,
            contested=contested(alone, cards, kept, after),
            planned=planned_otherwise(case.demands, cards, today),
            top_up=tuple(_topped(case, fill) for fill in self.fills),
            # who has no time for these asks for the best so far
            out_of_time=exact is None,
        )

    def _compared(
        self, exact: Hunt, preferences: Sequence[Preference], cards: Sequence[Card]
    ) -> tuple[tuple[Option, ...], tuple[tuple[Way, ...], Way | None]]:
        """What less and more would do; what fills a smallest order is no part of it.

        Where places act together, only as far as it is known how likely their readings are.
        """
        case, needed = self.case, self.purchase
        if any(case.for_tables) and not case.cells:
            return (), ((), None)
        bare = cards
        if self.fills:
            bare = case.cards(case.books, self._shared(needed, preferences, case.further(needed)), preferences)
        alone = Books(exact.books.coverages[: len(cards)], exact.books.stock, case.market)
        today = [card.most_of for card in case.cards(alone, exact.best, preferences)]
        today += [Counter(exact.best.pieces_for(len(cards) + n)) for n in range(len(case.cells))]
        tables = [Counter(table.takes) for table in case.tables[: len(case.cells)]]
        own = [*(card.most_of for card in bare), *tables]
        packs = exact.best.packs if case.cells else _and(exact.best.packs, case)
        options = [case.option("exact", packs, today), case.option("sure", needed.packs, own)]
        aside = {at: count for at, count in needed.aside.items() if at[0] < len(cards)}
        aside |= {(len(cards) + n, line): count for n, table in enumerate(tables) for line, count in table.items()}
        sure, surely = replace(needed, aside=aside), options[-1].chance
        ways, surer = case.ways(sure, surely, exact.best, [today, own], exact.watch)
        known = all(step.proven for step in self.steps[: _COST + 1]) and (case.searched_together or not case.tables)
        if known and surely == 1:
            ways = proven_with(ways, needed.packs)
        more = with_neighbours(needed, case.market, case.demands, bare, case.stock)
        if more is not None:
            options.append(case.option("neighbours", more[0], [*more[1], *tables]))
        return tuple(options), (ways, surer)


def _topped(case: Case, fill: Fill) -> Topped:
    length, line = case.scale.length, line_of(case.market, fill.buy, fill.packs)
    line = replace(line, cost=Fraction(fill.cost, case.market.price_unit))
    serves = {gap: Band(length(c.start), length(c.end), c.stack) for gap, c in fill.serves.items()}
    spare_for = (n for n, table in enumerate(case.tables) if any(pieces[line.part] for pieces in table.used))
    return Topped(line, serves, tuple(spare_for), fill.useful)


def _and(packs: Sequence[int], case: Case) -> tuple[int, ...]:
    """Packs, and those that only what acts together asks for."""
    both = [one + more for one, more in zip_longest(packs, case.for_tables, fillvalue=0)]
    return as_charged(case.market, both)


def _proof(step: Step, case: Case) -> LevelProof:
    size = {"missing": case.scale.tick, "cost": Fraction(1, case.market.price_unit)}.get(step.level, Fraction(1))
    # what was left out could be better
    known = case.complete or step.value == 0
    bound = None if step.bound is None or not known else step.bound * size
    return LevelProof(step.level, step.value * size, bound, step.proven and known, step.seconds)
