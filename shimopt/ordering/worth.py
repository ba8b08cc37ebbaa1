"""What an order is worth: how likely it is that one order is enough, and what more or less of it would cost."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations
from math import prod

from shimopt.candidates import Scale
from shimopt.ordering.cards import Card
from shimopt.ordering.coverage import Sizes
from shimopt.ordering.demand import Demand
from shimopt.ordering.market import Market, arrival_of, bills_of
from shimopt.ordering.purchase import Purchase
from shimopt.ordering.unserved_readings import chance_between
from shimopt.parts import StockLine

_FAR = 10**12


@dataclass(frozen=True, slots=True)
class Option:
    """One way to order: `name` is "exact", "sure" or "neighbours"; cost None where a price is missing.

    `chance` is the chance that it is enough, at least: each gap is served from the pieces meant for it. Gaps that
    nothing on offer serves are left out of it (`without`, by number).
    """

    name: str
    packs: tuple[int, ...]
    cost: Fraction | None
    arrives_in_days: int | None
    chance: Fraction | float
    without: tuple[int, ...] = ()


def option_of(
    name: str,
    packs: tuple[int, ...],
    pieces: Sequence[Mapping[int, int]],
    market: Market,
    chance: Callable[[int, Mapping[int, int]], Fraction | float],
    without: Collection[int],
) -> Option:
    """What one way to order costs, and how likely it is enough; readings are taken as independent.

    Parameters: packs, of each of the market's offers; pieces, by gap and stock line; chance, that of one gap to be
    served by such pieces; without, the gaps that nothing serves.
    """
    bought = [buy.offer for buy, n in zip(market.buys, packs, strict=True) if n]
    cost = None
    if all(offer.price is not None for offer in bought):
        cost = Fraction(sum(total for _, _, total in bills_of(market, packs).values()), market.price_unit)
    enough = prod((chance(gap, own) for gap, own in enumerate(pieces) if gap not in without), start=Fraction(1))
    return Option(name, packs, cost, arrival_of(bought), enough, tuple(sorted(without)))


def chance_served(
    demand: Demand, pieces: Mapping[int, int], stock: Sequence[StockLine], scale: Scale
) -> Fraction | float:
    """The chance that a gap is served by a stack of these pieces, or by what is in, or by nothing."""
    sizes = Sizes(demand, stock, scale)
    flat = [line for line, count in sorted(pieces.items()) for _ in range(min(count, demand.place.most_pieces))]
    flat = [line for line in flat if line in demand.usable]
    place = demand.place
    sizes_of = range(max(1, place.fewest_pieces), min(len(flat), place.most_pieces) + 1)
    stacks = {stack for n in sizes_of for stack in combinations(flat, n)} | {place.installed}
    if not place.fewest_pieces:
        stacks.add(())
    return chance_within(demand, [sizes.served_by(stack) for stack in stacks], scale)


def chance_within(demand: Demand, stretches: Sequence[tuple[int, int]], scale: Scale) -> Fraction | float:
    """The chance that a gap's final reading lies in one of these stretches [ticks]."""
    chance: Fraction | float = Fraction(0)
    found = sorted(_served(demand, stretch, scale) for stretch in stretches)
    together: list[tuple[Fraction, Fraction]] = []
    for start, end in found:
        if start <= end and together and start <= together[-1][1]:
            together[-1] = together[-1][0], max(together[-1][1], end)
        elif start <= end:
            together.append((start, end))
    for start, end in together:
        chance = chance + chance_between(demand, start, end)
    return min(chance, Fraction(1))


def _served(demand: Demand, ticks: tuple[int, int], scale: Scale) -> tuple[Fraction, Fraction]:
    """The readings that a stack serves [nm], by pairs of blades where they alone count; from above to for none."""
    start, end = (_clamped(end, scale) for end in ticks)
    return (demand.told(start, end) or (end, start - 1)) if demand.by_blades else (start, end)


def _clamped(ticks: int, scale: Scale) -> Fraction:
    return min(max(scale.length(ticks), Fraction(-_FAR)), Fraction(_FAR))


def with_neighbours(
    purchase: Purchase, market: Market, demands: Sequence[Demand], cards: Sequence[Card], stock: Sequence[StockLine]
) -> tuple[tuple[int, ...], list[Counter[int]]] | None:
    """The packs with one pack more of the next thinner and the next thicker size of every size bought.

    With the pieces that each gap then has, its own and its share of the neighbours; None where there is no neighbour.
    """
    packs = list(purchase.packs)
    bought = {buy.line for buy, n in zip(market.buys, purchase.packs, strict=True) if n}
    used = {buy.supplier for buy, n in zip(market.buys, purchase.packs, strict=True) if n}
    own = [Counter(card.most_of) for card in cards]
    added: Counter[int] = Counter()
    for line in sorted(bought):
        takers = [g for g, card in enumerate(cards) if card.most_of[line]]
        for neighbour in _neighbours(line, takers, market, demands, stock):
            if neighbour not in bought and neighbour not in added:
                offers = [
                    (b.supplier not in used, b.offer.price, n)
                    for n, b in enumerate(market.buys)
                    if b.line == neighbour and b.offer.price is not None and b.least == 1
                ]
                number = min(offers)[2]
                packs[number] += 1
                added[neighbour] += market.buys[number].offer.pack
            for gap in takers:
                if added[neighbour] > 0 and neighbour in demands[gap].usable:
                    own[gap][neighbour] += 1
                    added[neighbour] -= 1
    return (tuple(packs), own) if added or tuple(packs) != purchase.packs else None


def _neighbours(
    line: int, takers: Sequence[int], market: Market, demands: Sequence[Demand], stock: Sequence[StockLine]
) -> list[int]:
    size = stock[line].part.thickness.best
    suiting = {i for gap in takers for i in demands[gap].usable}
    sold = {b.line for b in market.buys if b.offer.price is not None and b.line in suiting}
    thinner = [i for i in sold if stock[i].part.thickness.best < size]
    thicker = [i for i in sold if stock[i].part.thickness.best > size]
    nearest = []
    if thinner:
        nearest.append(max(thinner, key=lambda i: (stock[i].part.thickness.best, -i)))
    if thicker:
        nearest.append(min(thicker, key=lambda i: (stock[i].part.thickness.best, i)))
    return nearest
