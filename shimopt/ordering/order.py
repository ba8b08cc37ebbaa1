"""Demands, coverages, the cheapest purchase, cards, holes, worth, check: an order, in the order of this line."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from functools import partial
from time import monotonic

from shimopt.candidates import Scale
from shimopt.job import Job
from shimopt.ordering.audit import audit_order
from shimopt.ordering.cards import Card, card_of
from shimopt.ordering.demand import demands_of, scale_of
from shimopt.ordering.holes import holes_of
from shimopt.ordering.market import Market, bills_of, market_of
from shimopt.ordering.merge import merged
from shimopt.ordering.options import options_of
from shimopt.ordering.purchase import Purchase
from shimopt.ordering.result import Bill, Left, LevelProof, Line, Order
from shimopt.ordering.search import Search, Step
from shimopt.ordering.supply import coverages_of, known_exactly, pieces_there
from shimopt.seats import screen

__all__ = ["make_order"]


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
    there = pieces_there(demands, stock)
    coverages, complete = coverages_of(demands, stock, there, market, scale)
    coins = None if spend is None else int(spend * market.price_unit)
    purchase, steps = Search(coverages, there, market, coins, nodes, progress).run()
    makeable = [c.makeable(purchase.pieces_for(gap)) for gap, c in enumerate(coverages)]
    cards = tuple(card_of(c, stacks, scale) for c, stacks in zip(coverages, makeable, strict=True))
    holes = tuple(
        hole
        for g, c in enumerate(coverages)
        for hole in holes_of(
            g, c, c.left_open(makeable[g]), stock, scale, partial(known_exactly, c.demand, stock, there, market, scale)
        )
    )
    if progress:
        progress("what it is worth")
    bought = _bought(market, purchase.packs)
    after = Counter({line: count + bought[line] for line, count in enumerate(there)})
    audit_order(demands, cards, holes, after, stock)
    levels = tuple(_proof(step, scale, market, complete) for step in steps)
    bills = _bills(market, purchase)
    options = options_of(purchase, market, there, coins, demands, cards, coverages, stock, scale, nodes)
    return Order(
        jobs,
        screenings,
        tuple(demands),
        market,
        within_days,
        spend,
        _lines(market, purchase),
        bills,
        cards,
        holes,
        options,
        _left(after, cards),
        levels,
        monotonic() - start,
        tuple(unanswered),
    )


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


def _bills(market: Market, purchase: Purchase) -> tuple[Bill, ...]:
    unit = market.price_unit
    unknown = {b.supplier for b, n in zip(market.buys, purchase.packs, strict=True) if n and b.offer.price is None}
    return tuple(
        Bill(market.suppliers[supplier], None, Fraction(0))
        if supplier in unknown
        else Bill(market.suppliers[supplier], Fraction(goods, unit), Fraction(top_up, unit))
        for supplier, (goods, top_up, _) in bills_of(market, purchase.packs).items()
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
