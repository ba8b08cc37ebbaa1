"""Demands, coverages, the cheapest purchase, cards, holes, worth, check: an order, in the order of this line."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from functools import partial
from time import monotonic

from shimopt.fit import Screening, screen
from shimopt.job import Job, Supplier
from shimopt.ordering.audit import audit_order
from shimopt.ordering.cards import Card, card_of
from shimopt.ordering.coverage import Coverage
from shimopt.ordering.demand import Demand, Unanswered, demands_of, scale_of
from shimopt.ordering.holes import Hole, holes_of
from shimopt.ordering.market import Market, market_of
from shimopt.ordering.merge import merged
from shimopt.ordering.purchase import Books, Purchase
from shimopt.ordering.search import Search, Step
from shimopt.ordering.worth import Option, chance_of_enough, with_neighbours
from shimopt.parts import Offer, StockLine
from shimopt.stacks import Scale, TooManyError

__all__ = ["Bill", "Left", "LevelProof", "Line", "Order", "make_order"]

# beyond so many stacks of one gap they are tried with fewer pieces, and the order says that it is not proven
_MOST_STACKS = 60_000


@dataclass(frozen=True, slots=True)
class Line:
    """So many packs of a part from a supplier; `cost` None where it has no price."""

    supplier: str
    part: int
    offer: Offer
    packs: int
    pieces: int
    cost: Fraction | None


@dataclass(frozen=True, slots=True)
class Bill:
    """What a supplier asks: goods, what is missing to the smallest order, postage."""

    supplier: Supplier
    goods: Fraction
    top_up: Fraction

    @property
    def total(self) -> Fraction:
        """All of it."""
        return self.goods + self.top_up + Fraction(self.supplier.postage)


@dataclass(frozen=True, slots=True)
class LevelProof:
    """A level's value and bound: gaps, nm, pieces, money or days; bound None where nothing better is known."""

    name: str
    value: Fraction
    bound: Fraction | None
    proven: bool
    seconds: float


@dataclass(frozen=True, slots=True)
class Left:
    """How many of a part are in the drawer after the build: at least, at most, by what the final readings ask for."""

    part: int
    least: int
    most: int


@dataclass(frozen=True)
class Order:
    """What to buy, the cards that go with it, and how far it is sure and proven."""

    jobs: tuple[Job, ...]
    screenings: tuple[Screening, ...]
    demands: tuple[Demand, ...]
    market: Market
    within_days: int | None
    spend: Decimal | None
    lines: tuple[Line, ...]
    bills: tuple[Bill, ...]
    cards: tuple[Card, ...]
    holes: tuple[Hole, ...]
    options: tuple[Option, ...]
    left: tuple[Left, ...]
    levels: tuple[LevelProof, ...]
    seconds: float
    unanswered: tuple[Unanswered, ...] = ()

    @property
    def stock(self) -> tuple[StockLine, ...]:
        """The drawer and catalogues that all jobs share."""
        return self.jobs[0].stock

    @property
    def whole(self) -> bool:
        """Whether every gap has a card, and the cards leave no reading open."""
        return not self.holes and not self.unanswered

    @property
    def sure(self) -> bool:
        """Whether no reading is left open and every bracket is a worst case."""
        return self.whole and all(demand.gap.reading.basis == "worst case" for demand in self.demands)

    @property
    def proven(self) -> bool:
        """Whether every level is proven best."""
        return all(level.proven for level in self.levels)

    @property
    def cost(self) -> Fraction | None:
        """Goods, top-ups and postage; None where a part bought has no price."""
        if any(line.cost is None for line in self.lines):
            return None
        return sum((bill.total for bill in self.bills), Fraction(0))

    @property
    def arrives_in_days(self) -> int | None:
        """When the last parcel is there; None where nobody says."""
        return _arrival([line.offer for line in self.lines])


def _arrival(offers: Sequence[Offer]) -> int | None:
    days = [offer.lead_days for offer in offers]
    return None if None in days else max((day for day in days if day is not None), default=0)


def make_order(
    jobs: Sequence[Job],
    *,
    within_days: int | None = None,
    spend: Decimal | None = None,
    nodes: int | None = None,
    progress: Callable[[str], None] | None = None,
) -> Order:
    """The cheapest purchase with which all cards work at once.

    Parameters: jobs, which share drawer and postage; within_days, only what arrives in so many days; spend, the most
    that it may cost, in the currency of the prices; nodes, the most search nodes per step. Raises InputError where
    terms or currencies are missing or do not agree, FaultError where the result fails its own check.
    """
    start = monotonic()
    together = merged(jobs)
    jobs, suppliers = together.jobs, together.suppliers
    stock = jobs[0].stock
    screenings = tuple(screen(job) for job in jobs)
    demands, unanswered = [], []
    for number, (job, found) in enumerate(zip(jobs, screenings, strict=True)):
        served, left = demands_of(number, job, found, together.own[number])
        demands += served
        unanswered += left
    files = ", ".join(job.inputs[0] if job.inputs else job.title for job in jobs)
    # what has no price cannot be kept within a budget
    market = market_of(stock, suppliers, files, within_days).without(unpriced=spend is None)
    scale = scale_of(demands, stock)
    there = _there(demands, stock)
    coverages, complete = _coverages(demands, stock, there, market, scale)
    coins = None if spend is None else int(spend * market.price_unit)
    search = Search(coverages, there, market, coins, nodes, progress)
    purchase, steps = search.run()
    books = search.books
    cards = tuple(card_of(c, books.card_stacks(g, purchase), scale) for g, c in enumerate(coverages))
    holes = tuple(
        hole
        for g, c in enumerate(coverages)
        for hole in holes_of(g, c, books.left_open(g, purchase), stock, scale,
                             partial(_known_exactly, c.demand, stock, there, market, scale))
    )  # fmt: skip
    if progress:
        progress("what it is worth")
    bought = _bought(market, purchase.packs)
    after = Counter({line: count + bought[line] for line, count in enumerate(there)})
    audit_order(demands, cards, holes, after, stock)
    levels = tuple(_proof(step, scale, market, complete) for step in steps)
    bills = _bills(books, purchase)
    options = _options(search, purchase, demands, cards, coverages, stock, scale, nodes)
    return Order(jobs, screenings, tuple(demands), market, within_days, spend, _lines(market, purchase), bills, cards,
                 holes, options, _left(after, cards), levels, monotonic() - start, tuple(unanswered))  # fmt: skip


def _there(demands: Sequence[Demand], stock: Sequence[StockLine]) -> list[int]:
    """How many pieces there are of each stock line: on hand, and in the places that have a card."""
    within = Counter(line for demand in demands for line in demand.place.installed)
    return [line.on_hand + within[i] for i, line in enumerate(stock)]


def _supply(demand: Demand, there: Sequence[int], market: Market) -> list[int]:
    """How many pieces of each stock line one gap could have."""
    sold = {buy.line for buy in market.buys}
    return [count + (demand.place.most_pieces if i in sold else 0) for i, count in enumerate(there)]


def _known_exactly(
    demand: Demand, stock: Sequence[StockLine], there: Sequence[int], market: Market, scale: Scale
) -> Coverage | None:
    """What would serve if the final reading were exact, some way beyond the range too; None where that is too much."""
    low, high = demand.low - demand.below, demand.high + demand.above
    exact = replace(demand, low=low, high=high, below=Fraction(0), above=Fraction(0))
    most = demand.place.most_pieces
    try:
        return Coverage.of(exact, stock, _supply(demand, there, market), (), scale, most, _MOST_STACKS)
    except TooManyError:
        return None


def _coverages(
    demands: Sequence[Demand], stock: Sequence[StockLine], there: Sequence[int], market: Market, scale: Scale
) -> tuple[list[Coverage], bool]:
    """Every demand's stacks, and whether none was left out."""
    ever: Counter[int] = Counter()
    for demand in demands:
        ever.update(dict.fromkeys({*demand.usable, *demand.place.installed}, demand.place.most_pieces))
    plentiful = frozenset(i for i, n in ever.items() if there[i] >= n)
    found, complete = [], True
    for demand in demands:
        most = demand.place.most_pieces
        supply = _supply(demand, there, market)
        while True:
            try:
                found.append(Coverage.of(demand, stock, supply, plentiful, scale, most, _MOST_STACKS))
                break
            except TooManyError:
                if most == 1:
                    raise
                most, complete = most - 1, False
    return found, complete


def _bought(market: Market, packs: Sequence[int]) -> Counter[int]:
    bought: Counter[int] = Counter()
    for buy, n in zip(market.buys, packs, strict=True):
        if n:
            bought[buy.line] += n * buy.offer.pack
    return bought


def _lines(market: Market, purchase: Purchase) -> tuple[Line, ...]:
    found = []
    for buy, packs in zip(market.buys, purchase.packs, strict=True):
        if packs:
            price = buy.offer.price
            cost = None if price is None else Fraction(price) * packs
            name = market.suppliers[buy.supplier].name
            found.append((buy.supplier, Line(name, buy.line, buy.offer, packs, packs * buy.offer.pack, cost)))
    return tuple(line for _, line in sorted(found, key=lambda pair: (pair[0], pair[1].part)))


def _bills(books: Books, purchase: Purchase) -> tuple[Bill, ...]:
    market = books.market
    unit = market.price_unit
    return tuple(
        Bill(market.suppliers[supplier], Fraction(charge.goods, unit), Fraction(charge.top_up, unit))
        for supplier, charge in books.charges(purchase.packs).items()
    )


def _proof(step: Step, scale: Scale, market: Market, complete: bool) -> LevelProof:
    size = {"missing": scale.tick, "cost": Fraction(1, market.price_unit)}.get(step.level, Fraction(1))
    proven = step.proven and (complete or step.value == 0)
    bound = None if step.bound is None or not (complete or step.value == 0) else step.bound * size
    return LevelProof(step.level, step.value * size, bound, proven, step.seconds)


def _left(there: Mapping[int, int], cards: Sequence[Card]) -> tuple[Left, ...]:
    most_used: Counter[int] = Counter()
    least_used: Counter[int] = Counter()
    for card in cards:
        most_used += card.most_of
        least_used += card.least_of
    found = []
    for line, total in sorted(there.items()):
        if total > least_used[line]:
            found.append(Left(line, total - most_used[line], total - least_used[line]))
    return tuple(found)


def _options(
    search: Search,
    purchase: Purchase,
    demands: Sequence[Demand],
    cards: Sequence[Card],
    coverages: Sequence[Coverage],
    stock: Sequence[StockLine],
    scale: Scale,
    nodes: int | None,
) -> tuple[Option, ...]:
    """The exact sizes only; the order; the order with one neighbour each side."""
    books, market = search.books, search.books.market

    def option(name: str, packs: tuple[int, ...], pieces: Sequence[Mapping[int, int]]) -> Option:
        bought = [buy.offer for buy, n in zip(market.buys, packs, strict=True) if n]
        cost = None
        if all(offer.price is not None for offer in bought):
            coins = sum(charge.total for charge in books.charges(packs).values())
            cost = Fraction(coins, market.price_unit)
        chance = chance_of_enough(demands, pieces, stock, scale)
        return Option(name, packs, cost, _arrival(bought), chance)

    found = []
    points = [coverage.at(scale.ticks(demand.gap.reading.bracket.best)) for demand, coverage in
              zip(demands, coverages, strict=True)]  # fmt: skip
    exact = Search(points, books.stock, market, search.spend, nodes)
    chosen, _ = exact.run()
    exact_cards = [card_of(c, exact.books.card_stacks(g, chosen), scale) for g, c in enumerate(points)]
    found.append(option("exact", chosen.packs, [card.most_of for card in exact_cards]))
    found.append(option("sure", purchase.packs, [card.most_of for card in cards]))
    more = with_neighbours(purchase, market, demands, cards, stock)
    if more is not None:
        found.append(option("neighbours", *more))
    return tuple(found)
