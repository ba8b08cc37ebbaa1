"""All sentences that users read about an order: short, active, every number with its unit."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from shimopt.errors import shown
from shimopt.ordering.demand import Demand
from shimopt.ordering.order_result import Bill, LevelProof, Order
from shimopt.ordering.unevenness import unevenness
from shimopt.words.bill_words import days_text
from shimopt.words.card_first_words import OverRows, over_rows
from shimopt.words.card_words import gap_text, named
from shimopt.words.first_words import hidden_words
from shimopt.words.money_words import money
from shimopt.words.order_answer_words import answer_words, awaited_words, served_as_is
from shimopt.words.order_limits_words import (
    read_as_nothing,
    unanswered_open,
)
from shimopt.words.order_part_words import order_part
from shimopt.words.speaker import Speaker, listed, plural
from shimopt.words.table_words import with_rows
from shimopt.words.trial_words import doubt_words

# more than so many things to settle are told at the cards alone
_MOST_SAID = 3

LEVEL_NAMES = {
    "open": "gaps not covered",
    "missing": "readings not covered",
    "unpriced": "pieces without a price",
    "cost": "cost",
    "arrival": "latest arrival",
    "bought": "pieces bought",
}


def order_headline(order: Order, over: OverRows | None = None, *, alone: bool = False) -> str:
    """The answer in one sentence; and whether a better order is not ruled out.

    Parameters: over, what stands over the rows of its cards, where that is known already; alone, whether it stands
    before a card at the bench, whose small print nobody reads: then it says what is to be settled, and no money.
    """
    over = over or over_rows(order, Speaker(order.jobs[0].unit, order.stock))
    doubted = {gap_text(order, n): finding.fact for n, demand in enumerate(order.demands) for finding in demand.doubts}
    doubt = doubt_words(doubted)
    tight = [named(order, left.job, left.gap.name) for left in order.unanswered if left.why == "tight"]
    tight += unanswered_open(order)
    settle = _settle(over, tight, "And" if doubt else "But", alone=alone)
    but = f"But {doubt}" if doubt else ""
    late = awaited_words(order)
    # where nothing more is ordered the answer says so
    counts = (
        f"It counts on what is on order already, and not here yet: {late}." if late and not served_as_is(order) else ""
    )
    # what is settled first may change what is bought
    answer, wait = answer_words(order, settled=not over.first, at_bench=alone), ""
    if order.lines and over.first:
        wait, settle = f"Buy nothing yet: {settle.removeprefix('And ').removeprefix('But ')}", ""
    said = (
        wait,
        answer,
        counts,
        but,
        settle,
        *_blind(order),
        _uneven(order, "see the foot of this card" if alone else "see Balance"),
        "" if alone else _not_ruled_out(order),
    )
    return " ".join(filter(None, said))


def _blind(order: Order) -> list[str]:
    """As far as what the answer holds, where a reading begins at nothing."""
    told = []
    for opens in (False, True):
        if names := read_as_nothing(order, opens=opens):
            told.append(f"But this holds only if {hidden_words(names, cover=opens)}.")
    return told


def _uneven(order: Order, where: str) -> str:
    """That a balance can come out more uneven than the job asks, whatever else the cards serve; and where it stands."""
    more = {shown(one.balance.name): bool(one.met) for one in unevenness(order) if one.can_be_more}
    broken, kept = ([name for name, met in more.items() if met is kept] for kept in (False, True))
    said = [f"But {listed(broken)} can come out more uneven than is asked: {where}."] if broken else []
    if kept:
        stay = "stays" if len(kept) == 1 else "stay"
        said.append(f"By best estimate {listed(kept)} {stay} as even as is asked, but not at worst: {where}.")
    return " ".join(said)


def _settle(over: OverRows, tight: Sequence[str], but: str, *, alone: bool) -> str:
    """That something is settled first: what, where so few things are that they can be said here, else at which gaps."""
    names, told = [*over.first, *tight], [words for first in over.first.values() for words in first]
    if alone and told and not tight and len(told) <= _MOST_SAID:
        return " ".join(f"First: {words.removesuffix('.')}." for words in dict.fromkeys(told))
    where = "see below" if tight else "see over the rows of the card"
    return f"{but} first something has to be settled at {listed(names)}: {where}." if names else ""


def _not_ruled_out(order: Order) -> str:
    """By how much a better order could be better at the first level that is not proven; empty where all are."""
    first = next((level for level in order.levels if not level.proven), None)
    if first is None or not order.answered:
        return ""
    said = "Best found; a better order is not ruled out"
    if first.bound is None or first.bound >= first.value:
        return f"{said}."
    by = first.value - first.bound
    by = by if first.name in ("missing", "cost") else Fraction(int(by))  # a count is whole
    better = {
        "open": f"{plural(by, 'gap')} more covered",
        "missing": f"{Speaker(order.jobs[0].unit)(by)} more of the readings covered",
        "unpriced": f"{plural(by, 'piece')} fewer without a price",
        "cost": f"{money(order, by)} cheaper",
        "arrival": f"{plural(by, 'day')} earlier",
        "bought": f"{plural(by, 'piece')} fewer",
    }
    return f"{said}: at most {better[first.name]}."


def order_reasons(order: Order) -> list[tuple[str, str, str]]:
    """What is to be told beside the numbers: about which gap, a code, and the words."""
    found = []
    open_ = {hole.gap for hole in order.holes}
    bought = {line.part for line in order.asked}
    for number, (demand, card) in enumerate(zip(order.demands, order.cards, strict=True)):
        name, used = gap_text(order, number), set(card.most_of)
        if number not in open_ and all(stack == demand.place.installed for stack in card.stacks):
            with_ = "what is in it" if used else "nothing fitted"
            found.append((name, "nothing_needed", f"{name}: inside at every reading with {with_}."))
        elif number not in open_ and not used & bought:
            parts = listed([order_part(order, i) for i in sorted(used)])
            serves = "what stays in serves it" if used <= {*demand.place.installed} else "the drawer serves it"
            serves += " with what is on order" if used & order.awaited.keys() else ""
            words = f"{serves} ({parts})" if used else "inside at every reading with nothing in it"
            found.append((name, "drawer_serves", f"{name}: {words}."))
        elif number not in open_:
            come, had = (
                listed([order_part(order, i) for i in sorted(some)]) for some in (used & bought, used - bought)
            )
            beside = f", and {had} from the drawer" if had else ""
            either = " or from the drawer" if any(_shared_with_drawer(order, i) for i in used & bought) else ""
            found.append((name, "order_serves", f"{name}: its rows take {come} of this order{either}{beside}."))
        if demand.gap.reading.basis != "worst case":
            words = (
                f"{name}: its bracket holds with 95 %, so what is called inside is as sure as that. The chances of one "
                "order say how likely a row serves what is read, and leave that out."
            )
            found.append((name, "likely_basis", words))
    return [*found, *_money_reasons(order)]


def _shared_with_drawer(order: Order, line: int) -> bool:
    """Whether fewer pieces of it are bought than all cards need: some of them take theirs from the drawer."""
    bought = sum(one.pieces for one in order.asked if one.part == line)
    return order.stock[line].on_hand > 0 and sum(card.most_of[line] for card in order.cards) > bought


def _money_reasons(order: Order) -> list[tuple[str, str, str]]:
    found = []
    if any(line.cost is None for line in order.lines):
        names = listed([order_part(order, line.part) for line in order.lines if line.cost is None])
        found.append(("", "no_price", f"The cost is not known: {names} has no price, and nothing with a price serves."))
    if order.lines and order.arrives_in_days is None:
        names = listed([order_part(order, x.part) for x in order.lines if x.offer.lead_days is None])
        found.append(("", "no_lead_days", f"When it arrives is not known: nobody says for {names}."))
    if order.market.late:
        found.append(
            (
                "",
                "too_late",
                f"{plural(order.market.late, 'offer')} left out: later than asked for, or nobody says when.",
            )
        )
    for bill in order.bills:
        if bill.top_up:
            found.append(("", "top_up", _top_up_words(order, bill)))
    if order.spend is not None:
        words = f"At most {money(order, Fraction(order.spend))} is spent; what has no price is left out."
        found.append(("", "spend", words))
    if not order.market.buys and order.holes:
        none = "No catalogue of the job offers anything to buy: see `catalogues`."
        left_out = "Nothing that is on offer keeps to the limits of this order."
        found.append(("", "nothing_on_offer", left_out if order.market.late else none))
    return found


def _top_up_words(order: Order, bill: Bill) -> str:
    """What is missing to a smallest order, what it is filled with, what is left of it, what the letter asks."""
    least = money(order, Fraction(bill.supplier.smallest_order))
    said = f"{shown(bill.supplier.name)}: {money(order, bill.top_up)} more to reach the smallest order of {least}"
    said += ", filled with what may serve too" if bill.filled else ""
    if bill.beyond:
        said += f", for {money(order, bill.beyond)} more, so that nothing of it is lost"
    if not bill.lost or bill.goods is None:
        return f"{said}."
    said += f"; {money(order, bill.lost)} of it is left" if bill.filled else ""
    asked = f"The letter asks whether {money(order, bill.goods + bill.filled)} is accepted"
    if bill.reach is None or bill.reach.cost is None:
        return f"{said}. {asked}; the cost counts the smallest order."
    dearer = money(order, bill.reach.cost - bill.lost)
    added = f"{bill.reach.packs} x {order_part(order, bill.reach.part)}"
    counts = "the cost, which counts the smallest order"
    return f"{said}. {asked}, and has {added} added where it is not: {dearer} more than {counts}."


def level_text(order: Order, level: LevelProof, say: Speaker) -> str:
    """A level's name with value, and its bound where it is not proven."""

    def value(number: Fraction) -> str:
        if level.name == "missing":
            return say(number)
        if level.name == "cost":
            return money(order, number)
        if level.name == "arrival":
            return days_text(order.arrives_in_days if number == level.value else int(number))
        return f"{float(number):g}"

    if level.name == "cost" and order.cost is None:
        return "cost not known"
    text = f"{LEVEL_NAMES[level.name]} {value(level.value)}"
    if level.name == "cost" and (beyond := sum(bill.beyond for bill in order.bills)):
        text += f" without {money(order, Fraction(beyond))} that fill a smallest order beyond it"
    if not level.proven:
        text += " (not proven" + (f", at least {value(level.bound)}" if level.bound is not None else "") + ")"
    return text


def next_words(order: Order, over: OverRows) -> list[str]:
    """What to do next; `over` is what stands over the rows of the cards."""
    steps = []
    if order.lines:
        steps.append(
            "When the parcel is there, count it and measure every piece with caliper and micrometer; whether it is "
            "right and enough: shimopt order JOB --came FILE"
        )
    if order.lines and order.market.buys and any(hole.cause in ("sizes", "gauge") for hole in order.holes):
        steps.append("Where no order is sure, shimopt plan JOB --buy may bring it inside by its best estimate.")
    if order.holes and not _card_moves_anything(order):
        steps.append("No row of a card fits anything: see above what would close what is not covered.")
    elif order.answered:
        if order.awaited:
            named_ = " ".join(f"{shown(order.stock[i].part.name)}=COUNT" for i in order.awaited)
            steps.append(
                f"When what is on order is here, book it in, before the card counts: shimopt stock arrived {named_}"
            )
        settle = "settle what stands over its rows, " if over.first else ""
        if with_rows(order):
            fit = "read the final gap, fit what its row says"
        else:
            moves = any(demand.gap.reading.shift for demand in order.demands)
            known = f"these readings{' and shift = 0' if moves else ''}"
            fit = f"read all the gaps, then shimopt plan JOB with {known} says what to fit"
        steps.append(f"Take the card to the bench: {settle}{fit}. The machine maker's data come first.")
    if with_rows(order) and any(demand.gap.reading.shift for demand in _demands(order)):
        # a plan of the final reading that still allows for it would ask for more than the card
        steps.append("To plan from final readings, type them in with shift = 0: it has happened then.")
    return steps


def again_at_computer(order: Order) -> str:
    """What `plan again` of a card is: the one thing that no row of it answers."""
    moves = ", shift = 0" if any(demand.gap.reading.shift for demand in _demands(order)) else ""
    return f" To plan again: shimopt plan JOB, with the readings{moves}." if order.answered else ""


def _demands(order: Order) -> list[Demand]:
    return [*order.demands, *(demand for table in order.tables for demand in table.demands)]


def _card_moves_anything(order: Order) -> bool:
    """Whether any row of any card fits something, or takes something out."""
    return any(
        stack != demand.place.installed
        for demand, card in zip(order.demands, order.cards, strict=True)
        for stack in card.stacks
    )
