"""Final readings that no row of a card serves: which, how likely, why, and what would close the hole."""

from __future__ import annotations

from fractions import Fraction

from shimopt.errors import shown
from shimopt.job.reading_slips import slips_of
from shimopt.lengths import Bracket
from shimopt.ordering.order_result import Order
from shimopt.ordering.unserved_readings import Hole, closed_up
from shimopt.words.card_words import gap_text, gives
from shimopt.words.order_part_words import found_by, nothing_serves, order_part, read_text
from shimopt.words.speaker import Speaker, chance_text, listed, plural, stack_wanted
from shimopt.words.ways_out_words import made_thinner_words

# nobody makes a piece to so little, and no micrometer of a shop tells it [nm] (common practice, no source)
_LEAST_ROOM = 10_000
# ... and no gauge that goes on a machine tells readings apart that lie closer [nm] (common practice, no source)
_FINEST = 2_000


def looks_wrong(order: Order, gap: int) -> bool:
    """Whether a gap's reading looks like a slip, by its number."""
    demand = order.demands[gap]
    return any(slip.gap == demand.gap.name for slip in slips_of(order.jobs[demand.job]))


def _one_more(order: Order, hole: Hole, say: Speaker) -> str:
    """Where nothing is on offer: what is there and would serve, if there were one more of it; else its size."""
    if hole.between is None:
        return "one more of a piece that is used elsewhere"
    low, high = hole.between
    usable = order.demands[hole.gap].usable
    fitting = [
        i for i in usable if low <= order.stock[i].part.thickness.low and order.stock[i].part.thickness.high <= high
    ]
    stopped = {one.gap for one in order.holes}
    for i in fitting:
        for n, other in enumerate(order.demands):
            # what its card takes out already is set aside for another
            if n != hole.gap and i in other.place.installed and not gives(order, n, i):
                how = "" if n in stopped else " (keep = false there)"
                return f"{order_part(order, i)} out of {shown(other.place.name)}, where that can do without it{how}"
    if fitting:
        part, line = order_part(order, fitting[0]), order.stock[fitting[0]]
        some = line.on_hand or any(fitting[0] in demand.place.installed for demand in order.demands)
        none = " (none is on offer)" if order.market.buys and not line.offers else ""
        return f"{'another' if some else 'a'} {part}{none}"
    return f"another stack of {say.bracket(low, high)}"


def _left_out(order: Order, line: int) -> str:
    """That a part is on offer which may serve, and by which limit of the order it is left out."""
    name, offers = order_part(order, line), order.stock[line].offers
    within = order.within_days
    in_time = [x for x in offers if within is None or (x.lead_days is not None and x.lead_days <= within)]
    if not in_time:
        days = min((one.lead_days for one in offers if one.lead_days is not None), default=None)
        when = (
            "nobody says when it comes" if days is None else f"it comes in {plural(days, 'day')}, later than asked for"
        )
        return f"{name} may serve there, but is left out: {when}."
    senders = listed(sorted({shown(one.supplier) or "(no supplier named)" for one in in_time}), 3)
    more = f"; what costs least then: --suppliers {order.most_suppliers + 1}" if order.most_suppliers else ""
    return f"{name} may serve there, but is left out: it takes one supplier more, {senders}{more}."


def hole_words(order: Order, hole: Hole, say: Speaker) -> str:
    """Which readings are not covered, how likely they are, why, and what would close the hole."""
    name, demand = gap_text(order, hole.gap), order.demands[hole.gap]
    read = read_text(order, hole.gap, hole.start, hole.end, say)
    start = f"{name}: not covered at a final reading of {read} (chance {chance_text(hole.chance)})."
    if looks_wrong(order, hole.gap):
        return f"{start} The reading looks like a slip: read it again before anything is done."
    if closed_up(demand, hole.start, hole.end):
        return f"{start} No blade goes there, and it may be tight: no stack is known to be right. Plan again from it."
    told_apart = hole.finer is not None and hole.finer >= _FINEST
    finer = [f"a final reading known to ± {say(hole.finer or 0)} or better (a finer gauge)"] if told_apart else []
    if hole.finer and not told_apart:
        start += " No gauge at the bench tells these readings apart."
    if hole.cause == "metal":
        size = "too large" if demand.effect > 0 else "too small"
        surely = "is" if hole.surely else "may be"
        words = f"There the gap {surely} {size} with no shim at all. "
        if demand.gap.reading.no_preload_assumed:
            return f"{start} {words}It reads as nothing: look at reading and seating first; no metal comes off on that."
        if not demand.place.takes_shims:
            how = "grow" if demand.effect < 0 else "shrink"
            return f"{start} {words}No shim goes in there: restore the dimension that sets it, it has to {how} by " + (
                f"{say(hole.metal)} for all of these readings."
            )
        words += "Where reading and seating are right, this gap "
        words += f"needs metal removed, {say(hole.metal)} for all of these readings"
        return f"{start} {words}{''.join(f', or {way}' for way in finer)}."
    if hole.cause == "seat":
        why = f" ({shown(demand.place.seat.why)})" if demand.place.seat and demand.place.seat.why else ""
        ways = f" What would close it: {finer[0]}." if finer else ""
        return f"{start} The seat takes no shims{why}, so nothing that is bought helps.{ways}"
    if hole.cause == "kept back":
        limits = ((order.spend is not None, "more money"), (order.within_days is not None, "more time"))
        more = [_one_more(order, hole, say)]
        limit = [words for asked, words in limits if asked] or more
        if order.most_suppliers is not None:
            limit = [*limit, "a piece of one supplier more"]
        return f"{start} What would close it: {' or '.join(limit)}, or ordering after the final reading."
    if hole.cause == "gauge":
        window = demand.gap.window
        wide = say(Fraction((window.max or 0) - (window.min or 0)))
        least = f" To ± {say(hole.finer or 0)} or better, what is on offer would do." if told_apart else ""
        return (
            f"{start} No stack can be sure: the window is {wide} wide, and the final reading leaves "
            f"{say(demand.below + demand.above)} open. It takes a finer gauge.{least}"
        )
    seat = demand.place.seat
    if hole.between is not None and seat is not None and seat.thinnest and hole.between[1] < seat.thinnest:
        takes = f"thinner than its seat takes ({say(Fraction(seat.thinnest))})"
        return (
            f"{start} It would take {say.bracket(*hole.between)}, {takes}: look at the reading and the assembly first."
        )
    ways_out = list(finer)
    if demand.moves[0] != demand.moves[1]:
        ways_out.append("trial readings further apart: how far a shim moves it is not well known")
    narrow = hole.between is not None and hole.between[1] - hole.between[0] < _LEAST_ROOM
    if narrow:
        ways_out = finer or [
            "a finer final reading (as it is read, next to no thickness is sure), and perhaps another piece beside it"
        ]
    elif hole.between is not None:
        size = say.bracket(*hole.between)
        middles = [i for i in demand.usable if hole.between[0] <= order.stock[i].part.thickness.best <= hole.between[1]]
        alone = demand.place.fewest_pieces < 2
        sold = {buy.line for buy in order.market.buys}
        left_out = [i for i in middles if order.stock[i].offers and not order.stock[i].on_hand and i not in sold]
        if alone and left_out:
            return f"{start} {_left_out(order, left_out[0])}{''.join(f' Or {way}.' for way in finer)}"
        there = [i for i in middles if (order.stock[i].on_hand or i in sold) and not order.stock[i].part.measured]
        if alone and there:
            low, high = hole.between
            shows = found_by(order, demand.job, Bracket(low, order.stock[there[0]].part.thickness.best, high))
            found = say.bracket(shows.low, shows.high)
            ways_out.append(f"{order_part(order, there[0])}, where a micrometer finds it to be {found}")
        if demand.place.installed:
            held = Speaker(order.jobs[0].unit, order.stock).stack(demand.place.installed)
            ways_out.append(f"{size} in all, in place of {held}")
        else:
            ways_out.append("a piece of " + size if alone else stack_wanted(demand.place.fewest_pieces, size))
        if hole.grind is not None:
            ways_out.append(made_thinner_words(order_part(order, hole.grind), size))
    if not narrow and (hole.between is not None or demand.moves[0] == demand.moves[1]):
        ways_out.append("ordering after the final reading, made to measure, if it falls there")
    preload = " What would preload it is not fitted: nothing states how much." if demand.gap.window.ended else ""
    return f"{start} {nothing_serves(order)}{preload} What would close it: {'; '.join(ways_out)}."
