"""What an order is worth: how much surer each step makes it that one order is enough, and the cheapest ways."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from itertools import groupby, pairwise

from shimopt.ordering.cheapest_ways import Way
from shimopt.ordering.order_result import Line, Order, line_of
from shimopt.ordering.worth import Option
from shimopt.words.bill_words import packs_text
from shimopt.words.card_words import gap_text, named
from shimopt.words.money_words import money
from shimopt.words.speaker import begun, chance_text, listed

OPTION_NAMES = {
    "exact": "for today's best estimates only",
    "sure": "the order above",
    "neighbours": "that and a size either way",
}
_STEPS = {"sure": "the order above", "neighbours": "with a size either way it"}
# so many are named of what a way buys: whoever likes it orders it
_MOST_SIZES = 30
_NO_NEIGHBOURS = "No size next to what is bought is on offer with a price, or all are bought already."


def worth_notes(order: Order) -> list[str]:
    """The cheapest ways to a chance, and what all chances leave out."""
    # for what acts together no size either way is looked for
    looked_for = not order.tables and not any(option.name == "neighbours" for option in order.options)
    alone = [_NO_NEIGHBOURS] if looked_for else []
    beyond = sum(bill.beyond for bill in order.bills)
    filled = (
        [f"All without the {money(order, Fraction(beyond))} that fill a smallest order beyond it."] if beyond else []
    )
    return [*_steps(order), *_ways(order), *_without(order), *alone, *filled]


def _steps(order: Order) -> list[str]:
    """What each step of the table costs more, and how much surer one order is enough then."""
    texts = []
    for before, option in pairwise(order.options):
        if before.cost is None or option.cost is None:
            continue
        more, cost = option.chance - before.chance, option.cost - before.cost
        costs = f"{money(order, cost)} more" if cost > 0 else "no more"
        if not more and not cost:
            # a row like the one above it
            continue
        enough = f"enough with {at_least(option)} instead of {at_least(before)}"
        less = f"is less sure to be enough: {at_least(option)} instead of {at_least(before)}"
        surer = f"it is {enough}" if more > 0 else less if more < 0 else "is no surer to be enough"
        if more > 0 and at_least(option) == at_least(before):
            surer = "is hardly surer to be enough"
        texts.append(f"{_STEPS[option.name]} costs {costs}, and {surer}")
    return [f"{begun('; '.join(texts))}."] if texts else []


def at_least(option: Option) -> str:
    """How likely it is that an order is enough; what lies between is known from below only."""
    chance = chance_text(option.chance)
    between = option.chance not in (0, 1) and not chance.startswith((">", "<"))
    return f"at least {chance}" if between else chance


def _percent(chance: Fraction | float) -> str:
    return f"{float(100 * chance):.1f}".removesuffix(".0") + " %"


def _ways(order: Order) -> list[str]:
    sure = Counter({(line.part, line.supplier, line.offer): line.packs for line in order.lines})
    texts = []
    for (packs, proven), group in groupby(order.ways, key=lambda way: (way.packs, way.proven)):
        ways = list(group)
        steps, less = f"For {listed([_percent(way.at_least) for way in ways])}: ", ""
        if packs is None:
            nothing = "nothing within the limits of this order" if order.limited else "nothing on offer"
            unknown = "no order within these limits" if order.limited else "no order"
            texts.append(steps + (f"{nothing} reaches that." if proven else f"{unknown} was found that reaches that."))
            continue
        if not proven and ways[0].bound is not None:
            less = "; a cheaper one is not ruled out"
            less += f", at most {money(order, ways[0].cost - ways[0].bound)} cheaper" if ways[0].bound else ""
        bought = Counter({(line.part, line.supplier, line.offer): line.packs for line in way_lines(order, ways[0])})
        if bought == sure:
            texts.append(f"{steps}the order above{less}.")
            continue
        lines = listed([packs_text(order, line) for line in way_lines(order, ways[0])], _MOST_SIZES) or "nothing bought"
        texts.append(
            f"{steps}{money(order, ways[0].cost)} is enough, {lines} (at least {chance_text(ways[0].chance)}){less}."
        )
    if order.surer is not None and order.surer.at_least < min(way.at_least for way in order.ways):
        lines = listed([packs_text(order, line) for line in way_lines(order, order.surer)], _MOST_SIZES)
        texts.append(f"Surer: {money(order, order.surer.cost)}, {lines} (at least {chance_text(order.surer.chance)}).")
    return [*texts, *_looked_at(order)]


def _looked_at(order: Order) -> list[str]:
    """What was looked at for the cheapest ways."""
    served = [way for way in order.ways if way.packs is not None]
    if not all(way.proven for way in served) or not served:
        # in a large market a smaller order of other packs is not looked for
        parts = any(way.bound is None for way in served)
        return ["Only this order and parts of it were tried, no other packs."] if parts else []
    offered = "All that is on offer"
    if order.most_suppliers is not None:
        offered = "All that these suppliers offer"
    elif order.limited:
        offered = "All within the limits of this order"
    several = len({way.packs for way in served}) > 1
    return [f"{offered} was looked at: {'none of these costs' if several else 'it is not to be had for'} less."]


def way_lines(order: Order, way: Way) -> list[Line]:
    """What a cheaper way buys."""
    return [line_of(order.market, number, packs) for number, packs in enumerate(way.packs or ()) if packs]


def _without(order: Order) -> list[str]:
    without = [gap_text(order, gap) for gap in (order.options[0].without if order.options else ())]
    without += [named(order, left.job, left.gap.name) for left in order.unanswered]
    return (
        [f"Without {listed(without, 6)}: no order answers {'it' if len(without) == 1 else 'them'}."] if without else []
    )
