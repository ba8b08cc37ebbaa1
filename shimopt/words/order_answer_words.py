"""The answer of an order in one sentence: what to buy, for how much, and which gaps that is enough for."""

from __future__ import annotations

from collections import Counter

from shimopt.ordering.order_result import Order
from shimopt.reasons.about_trial import about_record
from shimopt.words.bill_words import days_text
from shimopt.words.card_words import gap_text, named
from shimopt.words.hole_words import looks_wrong
from shimopt.words.money_words import money
from shimopt.words.order_limits_words import fights_words, read_again_first
from shimopt.words.order_part_words import order_part, plan_again
from shimopt.words.speaker import begun, chance_text, listed, plural


def unserved(order: Order) -> list[str]:
    """The gaps that have rows on a card, and are not served at every final reading."""
    alone = [gap_text(order, gap) for gap in sorted({hole.gap for hole in order.holes})]
    return alone + [named(order, t.job, demand.gap.name) for t in order.tables if t.open for demand in t.demands]


def _still_open(order: Order) -> str:
    """`left is served at no reading, and right is still not served at every reading`."""
    never = [gap_text(order, gap) for gap in sorted({h.gap for h in order.holes}) if not order.cards[gap].bands]
    partly = [name for name in unserved(order) if name not in never]
    told = [f"{listed(never)} {'is' if len(never) == 1 else 'are'} served at no reading"] if never else []
    if partly:
        told.append(f"{listed(partly)} {'is' if len(partly) == 1 else 'are'} still not served at every reading")
    return ", and ".join(told)


def awaited_words(order: Order) -> str:
    """`2 x S-10`: what the cards may need, and is on order already; empty where nothing is."""
    return listed([f"{count} x {order_part(order, i)}" for i, count in order.awaited.items()])


def served_as_is(order: Order) -> bool:
    """Whether every card is served without buying anything."""
    return order.answered != () and not order.lines and not unserved(order)


def answer_words(order: Order, *, settled: bool, at_bench: bool = False) -> str:
    """What to order and what that serves.

    Parameters: settled, whether nothing has to be settled first; at_bench, whether it stands on the card, where the
    order is made.
    """
    if not order.answered:
        left_open = [left for left in order.unanswered if left.why != "as set"]
        if not left_open:
            return "Nothing to order: what is in stays in, and turns as is stated."
        if all(left.why == "by torque" for left in left_open):
            return "Nothing to order by a card: what the plan lists goes in, then it is turned."
        if all(left.why == "tight" for left in left_open):
            return "No order can be made: what reads as nothing may be tight already."
        left_out = {(left.job, left.gap.name) for left in order.unanswered}
        otherwise = [
            named(order, number, one.place)
            for number, job in enumerate(order.jobs)
            for one in about_record(job)
            if (number, one.place) in left_out
        ]
        if otherwise:
            reads = "reads" if len(otherwise) == 1 else "read"
            return (
                f"No order can be made before it is found out why {listed(otherwise, 3)} {reads} otherwise than "
                "predicted: see shimopt plan JOB."
            )
        if any(left.why == "with play" for left in order.unanswered):
            again, first = read_again_first(order)
            return (
                f"No order can be made before {first} is set: set it, read {again} again, record both, then plan again."
            )
        if fights := fights_words(order):
            alone = len(fights) == 1 and fights[0].startswith("the window of")
            which = "its window and reading" if alone else "their windows and readings"
            return (
                f"No order can be made: {' and '.join(fights)}, by today's readings, and nothing that is bought helps. "
                f"Look at {which} first."
            )
        if len(left_open) == 1:
            name = named(order, left_open[0].job, left_open[0].gap.name)
            return f"No order can be made for {name}: see below. Read it, then plan again: {plan_again(order)}."
        return f"No order can be made: these gaps share shims. Read them all, then plan again: {plan_again(order)}."
    without = f" {_without_card(order)}" if any(left.why != "as set" for left in order.unanswered) else ""
    open_ = {hole.gap for hole in order.holes}
    names = unserved(order)
    unsure, be = listed(names), "is" if len(names) == 1 else "are"
    if not order.lines:
        if not names:
            each = "every gap that has a card" if order.unanswered else "every gap"
            late = awaited_words(order)
            start = f"Nothing more to order: with what is on order, {late}," if late else "Nothing to order:"
            read = "whatever the final reading shows within today's, shift included"
            return f"{start} {_without_buying(order)} {each}, {read}{as_exact(order)}.{without}"
        metal = {hole.gap for hole in order.holes if hole.cause == "metal"}
        if metal and metal == open_ and len(names) == len(open_):
            if any(order.demands[gap].gap.reading.no_preload_assumed for gap in open_):
                return f"Nothing to order that would help: look at reading and seating of {unsure} first." + without
            if not any(order.demands[gap].place.takes_shims for gap in open_):
                takes = "takes" if len(open_) == 1 else "take"
                return f"Nothing to order that would help: {unsure} {takes} no shims." + without
            if any(looks_wrong(order, gap) for gap in open_):
                return f"Nothing to order that would help: read {unsure} again before anything is done." + without
            words = f"Nothing to order: no shim helps at {unsure}. Look at reading and seating first; where they are"
            return f"{words} right, metal has to come off." + without
        if not order.market.buys:
            none_goes = [gap_text(order, gap) for gap in sorted(open_) if not order.demands[gap].place.takes_shims]
            served = [name for name in names if name not in none_goes]
            said = [f"the drawer alone does not serve {listed(served)} at every reading"] if served else []
            said += [f"{listed(none_goes)} {'takes' if len(none_goes) == 1 else 'take'} no shims"] if none_goes else []
            return f"{begun('; '.join(said))}." + without
        limited = order.spend is not None or order.within_days is not None
        which = "no purchase within what is allowed" if limited else "no purchase"
        words = f"Nothing to order: {which} makes more of it sure, and {unsure} {be} not served at every reading."
        if any(hole.cause in ("sizes", "gauge") for hole in order.holes):
            words += " What may bring it inside by its best estimate: shimopt plan JOB --buy."
        return words + without
    pieces = plural(sum(line.pieces for line in order.lines), "piece")
    suppliers = len({line.supplier for line in order.lines})
    start = f"Order {pieces} from {plural(suppliers, 'supplier')}"
    cost = order.cost_filled
    start += f" for {money(order, cost)}" if cost is not None else "; the cost is not known"
    if more := sum(one.line.pieces for one in order.top_up):
        filled = len({one.line.supplier for one in order.top_up})
        its = "its smallest order" if suppliers == 1 else "a smallest order" if filled == 1 else "smallest orders"
        start += f", and {more} that {'fill' if more > 1 else 'fills'} {its}"
    start += f", here in {days_text(order.arrives_in_days)}" if order.arrives_in_days is not None else ""
    if at_bench:
        # who holds the parcel asks what it serves, not what it cost
        came = plural(sum(line.pieces for line in order.asked), "piece")
        start = f"With the {came} of this order"
    if names:
        return f"{start}; {_still_open(order)}.{'' if at_bench else _surer(order)}" + without
    certain = all(demand.gap.reading.basis == "worst case" for demand in order.answered)
    known = "" if certain else ", as surely as the readings are known"
    which = plural(len(order.answered), "gap")
    if not order.unanswered and len(order.answered) > 1:
        which = f"all {which}"
    surely = "surely " if certain and settled else ""
    one = "" if at_bench else "one order is "
    return (
        f"{start}: {one}{surely}enough for {which}{known}{as_exact(order)}.{'' if at_bench else _surer(order)}"
        + without
    )


def _surer(order: Order) -> str:
    """What is surer within the same limit of money, or as sure for less where an order is not proven the cheapest."""
    if not order.options or order.cost is None:
        return ""
    way, surely = order.surer, next(option.chance for option in order.options if option.name == "sure")
    if way is not None:
        worth = f"surer to be enough, at least {chance_text(way.chance)} in place of {chance_text(surely)}"
        return f" For {money(order, way.cost)} one order is {worth}: see What is it worth?"
    less = [one for one in order.ways if one.packs is not None and one.chance >= surely and one.cost < order.cost]
    return f" For {money(order, less[0].cost)} one order is as sure: see What is it worth?" if less else ""


def as_exact(order: Order) -> str:
    """Which of the pieces that its rows fit are taken as exactly what is marked or was measured: no error is stated."""
    exact = [i for i in sorted(order.set_aside) if order.stock[i].part.thickness.exact]
    told = []
    for measured, known in ((False, "as marked"), (True, "as measured (no error stated)")):
        some = list(dict.fromkeys(order_part(order, i) for i in exact if order.stock[i].part.measured == measured))
        if some:
            told.append(f"{listed(some, 3)} {'is' if len(some) == 1 else 'are'} {known}")
    return f", as far as {' and '.join(told)}" if told else ""


def _without_buying(order: Order) -> str:
    """What serves without an order: the drawer, or what is in."""
    both = zip(order.cards, order.demands, strict=True)
    taken = any(card.most_of - Counter(demand.place.installed) for card, demand in both) or order.tables
    return "the drawer serves" if taken or not any(card.most_of for card in order.cards) else "what is in serves"


def _without_card(order: Order) -> str:
    count = sum(left.why != "as set" for left in order.unanswered)
    return f"{plural(count, 'gap')} {'is' if count == 1 else 'are'} not answered: see below."
