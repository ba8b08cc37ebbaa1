"""What an order is worth: what each step of it buys in probability, and the cheapest ways to a chance."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from itertools import groupby, pairwise

from shimopt.ordering.cheapest_ways import Way
from shimopt.ordering.order_result import Line, Order, line_of
from shimopt.words.bill_words import packs_text
from shimopt.words.card_words import gap_text, named
from shimopt.words.money_words import money
from shimopt.words.speaker import begun, chance_text, listed

OPTION_NAMES = {
    "exact": "for today's best estimates only",
    "sure": "the order above",
    "neighbours": "that and a neighbour each side",
}
_STEPS = {"sure": "The order above", "neighbours": "a neighbour each side"}
_NO_NEIGHBOURS = "No neighbour of what is bought is on offer with a price, or all are bought already."


def worth_notes(order: Order) -> list[str]:
    """The cheapest ways to a chance, and what all chances leave out."""
    alone = [] if any(option.name == "neighbours" for option in order.options) else [_NO_NEIGHBOURS]
    return [*_steps(order), *_ways(order), *_without(order), *alone]


def _steps(order: Order) -> list[str]:
    """What each step of the table buys in probability, for how much more."""
    texts = []
    for before, option in pairwise(order.options):
        if before.cost is None or option.cost is None:
            continue
        more, cost = option.chance - before.chance, option.cost - before.cost
        for_ = f"for {money(order, cost)} more" if cost > 0 else "at no more cost"
        if not more and not cost:
            # a row like the one above it
            continue
        buys = f"{_percent(more)} of probability" if more > 0 else "no more probability"
        texts.append(f"{_STEPS[option.name]} buys {buys} {for_}")
    return [f"{begun('; '.join(texts))}."] if texts else []


def _percent(chance: Fraction | float) -> str:
    return f"{float(100 * chance):.1f}".removesuffix(".0") + " %"


def _ways(order: Order) -> list[str]:
    sure = Counter({(line.part, line.supplier, line.offer): line.packs for line in order.lines})
    texts = []
    for packs, group in groupby(order.ways, key=lambda way: way.packs):
        ways = list(group)
        steps = f"For {listed([_percent(way.at_least) for way in ways])}: "
        if packs is None:
            texts.append(f"{steps}nothing on offer reaches that.")
            continue
        bought = Counter({(line.part, line.supplier, line.offer): line.packs for line in way_lines(order, ways[0])})
        if bought == sure:
            texts.append(f"{steps}the order above.")
            continue
        lines = listed([packs_text(order, line) for line in way_lines(order, ways[0])]) or "nothing bought"
        texts.append(
            f"{steps}{money(order, ways[0].cost)} is enough, {lines} (at least {chance_text(ways[0].chance)})."
        )
    return texts


def way_lines(order: Order, way: Way) -> list[Line]:
    """What a cheaper way buys."""
    return [line_of(order.market, number, packs) for number, packs in enumerate(way.packs or ()) if packs]


def _without(order: Order) -> list[str]:
    without = [gap_text(order, gap) for gap in (order.options[0].without if order.options else ())]
    without += [named(order, left.job, left.gap.name) for left in order.unanswered]
    return (
        [f"Without {listed(without, 6)}: no order answers {'it' if len(without) == 1 else 'them'}."] if without else []
    )
