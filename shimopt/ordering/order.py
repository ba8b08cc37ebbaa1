"""Demands, coverages, the cheapest purchase, cards, holes, worth, check: an order, in the order of this line."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from functools import partial
from time import monotonic

from shimopt.arithmetic.clearance import stands_out
from shimopt.candidates import Scale
from shimopt.job import Job
from shimopt.ordering.cards import Card, card_of
from shimopt.ordering.demand import Demand, Unanswered, demands_of, scale_of
from shimopt.ordering.holes import holes_of
from shimopt.ordering.hunt import Hunt, Step
from shimopt.ordering.market import Market, bills_of, market_of
from shimopt.ordering.merge import merged
from shimopt.ordering.mid_window import further_from_limits
from shimopt.ordering.preference import Preference
from shimopt.ordering.purchase import Books, Purchase
from shimopt.ordering.recheck import recheck
from shimopt.ordering.result import Bill, Left, LevelProof, Line, Order, Planned
from shimopt.ordering.shares import rather, shared_out
from shimopt.ordering.supply import Supply, pieces_there
from shimopt.ordering.worth import Option, chance_served, option_of, with_neighbours
from shimopt.parts import StockLine
from shimopt.planner import Chosen, chosen_stacks
from shimopt.seats import Screening, screen
from shimopt.watch import Watch

__all__ = ["OrderSoFar", "make_order"]


def make_order(
    jobs: Sequence[Job],
    *,
    within_days: int | None = None,
    spend: Decimal | None = None,
    watch: Watch | None = None,
) -> Order:
    """The cheapest purchase with which all cards work at once.

    Parameters: jobs, which share drawer and postage; within_days, only what arrives in so many days; spend, the most
    that it may cost, in the currency of the prices; watch, when to stop with what there is: it is told an `OrderSoFar`
    as soon as there is a first order, and after every level. Raises InputError where terms or currencies are missing
    or do not agree, FaultError where the result fails its own check.
    """
    watch, start = watch or Watch(), monotonic()
    case = _case_of(jobs, within_days, spend)
    hunt = Hunt(case.books, case.coins, watch)
    for steps in hunt.levels():
        watch.told(OrderSoFar(case, hunt.best, steps, start))
    if asked := case.left_open(hunt.best):
        # between two blades nothing can be read: where not every reading can be served, only what pairs show has to be
        case = case.by_blades(asked)
        hunt = Hunt(case.books, case.coins, watch)
        for steps in hunt.levels():
            watch.told(OrderSoFar(case, hunt.best, steps, start))
    watch.begins("what it is worth")
    found = OrderSoFar(case, hunt.best, steps, start).settled(watch)
    points = [c.at(case.scale.ticks(c.demand.gap.reading.bracket.best)) for c in case.books.coverages]
    exact = Hunt(Books(points, case.books.stock, case.market), case.coins, watch)
    *_, _ = exact.levels()
    return found.order(exact)


@dataclass(frozen=True)
class _Case:
    """What is asked: jobs with a common stock, their demands and what could serve them, and what it may cost."""

    jobs: tuple[Job, ...]
    screenings: tuple[Screening, ...]
    unanswered: tuple[Unanswered, ...]
    books: Books
    supply: Supply
    complete: bool
    within_days: int | None
    spend: Decimal | None

    @property
    def market(self) -> Market:
        """What can be bought."""
        return self.books.market

    @property
    def scale(self) -> Scale:
        """Ticks of all lengths."""
        return self.supply.scale

    @property
    def stock(self) -> Sequence[StockLine]:
        """The drawer and catalogues that all jobs share."""
        return self.supply.stock

    @property
    def demands(self) -> tuple[Demand, ...]:
        """What each gap may ask for."""
        return tuple(coverage.demand for coverage in self.books.coverages)

    @property
    def coins(self) -> int | None:
        """The most that it may cost [coins]."""
        return None if self.spend is None else int(self.spend * self.market.price_unit)

    def left_open(self, purchase: Purchase) -> set[int]:
        """The gaps read by blades that are asked for every reading, and keep some open."""
        return {
            gap
            for gap, demand in enumerate(self.demands)
            if demand.pairs and not demand.by_blades and self.books.left_open(gap, purchase)
        }

    def by_blades(self, gaps: Collection[int]) -> _Case:
        """The same, with these gaps served at what pairs of blades can show and no more."""
        asked = [replace(d, by_blades=d.by_blades or gap in gaps) for gap, d in enumerate(self.demands)]
        coverages, complete = self.supply.coverages(asked)
        return replace(self, books=Books(coverages, self.books.stock, self.market), complete=complete)

    def today(self, purchase: Purchase, watch: Watch) -> list[Chosen]:
        """What the plan of today's readings chooses for every job once the parcels are there, in the time left."""
        there = {i: line.on_hand for i, line in enumerate(self.stock)}
        for buy, packs in zip(self.market.buys, purchase.packs, strict=True):
            there[buy.line] += packs * buy.offer.pack
        stock = tuple(replace(line, on_hand=there[i]) for i, line in enumerate(self.stock))
        return [chosen_stacks(replace(job, stock=stock), watch=Watch(watch.left())) for job in self.jobs]

    def preferences(self, today: Sequence[Chosen]) -> list[Preference]:
        """By demand, which stack its rows rather fit; without a plan of today's readings no balance is looked at."""
        found = []
        for demand in self.demands:
            cautions = self.screenings[demand.job].cautions[demand.place.name]
            outcome = today[demand.job].outcome if today else None
            found.append(Preference(self.jobs[demand.job], demand, cautions, outcome))
        return found

    def cards(self, books: Books, purchase: Purchase, preferences: Sequence[Preference]) -> tuple[Card, ...]:
        """The cards that a purchase makes for these coverages."""
        return tuple(
            card_of(coverage, coverage.makeable(purchase.pieces_for(gap)), self.scale, preferences[gap])
            for gap, coverage in enumerate(books.coverages)
        )

    def option(self, name: str, packs: tuple[int, ...], pieces: Sequence[Mapping[int, int]]) -> Option:
        """A way to order, with the pieces that it gives each gap."""
        demands = self.demands

        def chance(gap: int, own: Mapping[int, int]) -> Fraction | float:
            return chance_served(demands[gap], own, self.stock, self.scale)

        return option_of(name, packs, pieces, self.market, chance)


def _case_of(jobs: Sequence[Job], within_days: int | None, spend: Decimal | None) -> _Case:
    together = merged(jobs)
    stock = together.jobs[0].stock
    screenings = tuple(screen(job) for job in together.jobs)
    demands, unanswered = [], []
    for number, (job, found) in enumerate(zip(together.jobs, screenings, strict=True)):
        served, left = demands_of(number, job, found, together.own[number])
        demands += served
        unanswered += left
    files = ", ".join(job.inputs[0] if job.inputs else job.title for job in together.jobs)
    # what has no price cannot be kept within a budget
    market = market_of(stock, together.suppliers, files, within_days).without(unpriced=spend is None)
    there = pieces_there(demands, stock)
    supply = Supply(stock, there, market, scale_of(demands, stock))
    coverages, complete = supply.coverages(demands)
    books = Books(coverages, there, market)
    return _Case(together.jobs, screenings, tuple(unanswered), books, supply, complete, within_days, spend)


@dataclass(frozen=True, slots=True)
class OrderSoFar:
    """The best purchase found so far and its levels: enough to make an order of it at any moment.

    `today` is what the plan of today's readings chooses with it, by job; none while the search goes on, for it takes
    long.
    """

    case: _Case
    purchase: Purchase
    steps: Sequence[Step]
    start: float
    today: Sequence[Chosen] = ()

    def settled(self, watch: Watch) -> OrderSoFar:
        """The purchase that leaves more room to the limits, where others are equal at every level."""
        case, today = self.case, self.case.today(self.purchase, watch)
        preferences = case.preferences(today)
        further = further_from_limits(case.books, self.purchase, preferences, case.stock, case.scale, watch)
        today = today if further is self.purchase else case.today(further, watch)
        return replace(self, purchase=further, today=today)

    def order(self, exact: Hunt | None = None) -> Order:
        """The order, checked by plain arithmetic; the ways to order are compared where the `exact` sizes are known."""
        case, books = self.case, self.case.books
        today = self.today
        preferences = case.preferences(today)
        stacks = [today[d.job].stacks.get(d.place.name, ()) for d in case.demands] if today else []
        purchase = shared_out(books, self.purchase, stacks, preferences, case.scale)
        cards = case.cards(books, purchase, preferences)
        holes = tuple(
            hole
            for g, c in enumerate(books.coverages)
            for hole in holes_of(
                g,
                c,
                books.left_open(g, purchase),
                case.stock,
                case.scale,
                partial(case.supply.known_exactly, c.demand),
            )
        )
        after = Counter(dict(enumerate(books.stock)))
        for buy, n in zip(case.market.buys, purchase.packs, strict=True):
            after[buy.line] += n * buy.offer.pack
        stopped = {hole.gap for hole in holes}
        kept = [Counter(d.place.installed if g in stopped else ()) for g, d in enumerate(case.demands)]
        alone = [rather(c, after, case.scale, preferences[g]) for g, c in enumerate(books.coverages)]
        recheck(case.demands, cards, holes, after, case.stock)
        options = []
        if exact is not None:
            exact_cards = case.cards(exact.books, exact.best, preferences)
            options = [
                case.option("exact", exact.best.packs, [card.most_of for card in exact_cards]),
                case.option("sure", purchase.packs, [card.most_of for card in cards]),
            ]
            more = with_neighbours(purchase, case.market, case.demands, cards, case.stock)
            if more is not None:
                options.append(case.option("neighbours", *more))
        return Order(
            jobs=case.jobs,
            screenings=case.screenings,
            demands=case.demands,
            market=case.market,
            within_days=case.within_days,
            spend=case.spend,
            lines=_lines(case.market, purchase),
            bills=_bills(case.market, purchase),
            cards=cards,
            holes=holes,
            options=tuple(options),
            left=_left(after, cards, kept),
            levels=tuple(_proof(step, case) for step in self.steps),
            seconds=monotonic() - self.start,
            unanswered=case.unanswered,
            contested=_contested(alone, kept, after),
            planned=_planned_otherwise(case.demands, cards, today),
        )


def _planned_otherwise(demands: Sequence[Demand], cards: Sequence[Card], today: Sequence[Chosen]) -> dict[int, Planned]:
    """By demand, what the plan of today's readings fits where the card fits something else at today's best estimate."""
    found = {}
    for number, (demand, card) in enumerate(zip(demands, cards, strict=True) if today else ()):
        best, chosen = demand.gap.reading.bracket.best, today[demand.job]
        stack, gap = chosen.stacks.get(demand.place.name, ()), chosen.outcome.gaps[demand.gap.name]
        if gap.verdict != "outside" and all(b.stack != stack for b in card.bands if b.start <= best <= b.end):
            found[number] = Planned(stack, gap.verdict, not stands_out(gap.after, demand.gap.window))
    return found


def _contested(
    alone: Sequence[Card | None], kept: Sequence[Counter[int]], there: Mapping[int, int]
) -> dict[int, tuple[int, ...]]:
    """By demand, the parts that all would use more of than there are.

    Parameters: alone, each gap's card if it could choose; kept, the pieces that stay in where a card says stop.
    """
    wanted = [(card.most_of if card else Counter[int]()) | stays for card, stays in zip(alone, kept, strict=True)]
    total = sum(wanted, Counter[int]())
    short = {line for line, count in total.items() if count > there.get(line, 0)}
    uses = {gap: tuple(sorted(short & card.most_of.keys())) for gap, card in enumerate(alone) if card}
    return {gap: lines for gap, lines in uses.items() if lines}


def _lines(market: Market, purchase: Purchase) -> tuple[Line, ...]:
    found = []
    for buy, packs in zip(market.buys, purchase.packs, strict=True):
        if packs:
            price = buy.offer.price
            cost = None if price is None else Fraction(price) * packs
            name = market.suppliers[buy.supplier].name
            found.append((buy.supplier, Line(name, buy.line, buy.offer, packs, packs * buy.offer.pack, cost)))
    return tuple(line for _, line in sorted(found, key=lambda pair: (pair[0], pair[1].part)))


def _bills(market: Market, purchase: Purchase) -> tuple[Bill, ...]:
    unit = market.price_unit
    unknown = {b.supplier for b, n in zip(market.buys, purchase.packs, strict=True) if n and b.offer.price is None}
    return tuple(
        Bill(market.suppliers[supplier], None, Fraction(0))
        if supplier in unknown
        else Bill(market.suppliers[supplier], Fraction(goods, unit), Fraction(top_up, unit))
        for supplier, (goods, top_up, _) in bills_of(market, purchase.packs).items()
    )


def _proof(step: Step, case: _Case) -> LevelProof:
    size = {"missing": case.scale.tick, "cost": Fraction(1, case.market.price_unit)}.get(step.level, Fraction(1))
    # what was left out could be better
    known = case.complete or step.value == 0
    bound = None if step.bound is None or not known else step.bound * size
    return LevelProof(step.level, step.value * size, bound, step.proven and known, step.seconds)


def _left(there: Mapping[int, int], cards: Sequence[Card], kept: Sequence[Counter[int]]) -> tuple[Left, ...]:
    """What is in the drawer afterwards; where a card says stop, what is in the machine stays there (`kept`)."""
    most_used: Counter[int] = Counter()
    least_used: Counter[int] = Counter()
    for card, stays in zip(cards, kept, strict=True):
        most_used += card.most_of | stays
        least_used += (card.least_of & stays if card.bands else stays) if stays else card.least_of
    found = []
    for line, total in sorted(there.items()):
        if total > least_used[line]:
            found.append(Left(line, total - most_used[line], total - least_used[line]))
    return tuple(found)
