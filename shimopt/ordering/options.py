"""The three ways to order that a buyer weighs: the exact sizes only, the sure order, and that with neighbours."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from shimopt.candidates import Scale
from shimopt.ordering.cards import Card, card_of
from shimopt.ordering.coverage import Coverage
from shimopt.ordering.demand import Demand
from shimopt.ordering.market import Market, bills_of
from shimopt.ordering.purchase import Purchase
from shimopt.ordering.result import arrival_of
from shimopt.ordering.search import Search
from shimopt.ordering.worth import Option, chance_of_enough, with_neighbours
from shimopt.parts import StockLine

__all__ = ["options_of"]


def options_of(
    purchase: Purchase,
    market: Market,
    there: Sequence[int],
    spend: int | None,
    demands: Sequence[Demand],
    cards: Sequence[Card],
    coverages: Sequence[Coverage],
    stock: Sequence[StockLine],
    scale: Scale,
    nodes: int | None,
) -> tuple[Option, ...]:
    """The exact sizes only; the order; the order with one neighbour each side, where there is one.

    Parameters: purchase, the order; there, the pieces of each stock line before it; spend, the most that may be spent
    [coins]; nodes, the most search nodes per step.
    """

    def option(name: str, packs: tuple[int, ...], pieces: Sequence[Mapping[int, int]]) -> Option:
        bought = [buy.offer for buy, n in zip(market.buys, packs, strict=True) if n]
        cost = None
        if all(offer.price is not None for offer in bought):
            coins = sum(total for _, _, total in bills_of(market, packs).values())
            cost = Fraction(coins, market.price_unit)
        chance = chance_of_enough(demands, pieces, stock, scale)
        return Option(name, packs, cost, arrival_of(bought), chance)

    found = []
    points = [
        coverage.at(scale.ticks(demand.gap.reading.bracket.best))
        for demand, coverage in zip(demands, coverages, strict=True)
    ]
    exact = Search(points, there, market, spend, nodes)
    chosen, _ = exact.run()
    exact_cards = [card_of(c, c.makeable(chosen.pieces_for(g)), scale) for g, c in enumerate(points)]
    found.append(option("exact", chosen.packs, [card.most_of for card in exact_cards]))
    found.append(option("sure", purchase.packs, [card.most_of for card in cards]))
    more = with_neighbours(purchase, market, demands, cards, stock)
    if more is not None:
        found.append(option("neighbours", *more))
    return tuple(found)
